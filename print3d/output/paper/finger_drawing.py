"""Drawings of one finger for the measuring form, from the limb model.

Tapes and lengths on the palm side, angles from the side.
"""

from collections.abc import Mapping
from functools import cache

import numpy as np
import shapely

from print3d.geometry.frames import apply
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.finger import FingerLimb, build_finger
from print3d.limb.joint_id import JointId, joints_of
from print3d.output.paper.drawing import SMALL, Line
from print3d.output.paper.limb_views import (
    HINT,
    LEADER,
    MARK,
    PALM,
    SKIN,
    THUMB_SIDE,
    LimbView,
    dimension,
    marks_in,
    numbered,
    silhouette,
)
from print3d.output.paper.paper import Paper
from print3d.output.paper.words import Words

TAPE_MM = 4.0
"""Width of a drawn tape; own choice."""
CREASES = ("web_crease", "pip_crease", "dip_crease")
STATION_OF = {
    "web_girth_mm": "web",
    "proximal_girth_mm": "mid_proximal",
    "pip_girth_mm": "pip",
    "middle_girth_mm": "mid_middle",
    "dip_girth_mm": "dip",
    "nail_fold_girth_mm": "nail_fold",
}
BETWEEN = {
    "web_crease_to_pip_crease_mm": ("web_crease", "pip_crease"),
    "pip_crease_to_dip_crease_mm": ("pip_crease", "dip_crease"),
    "dip_crease_to_tip_mm": ("dip_crease", "tip"),
}
DRAWN: FingerName = "middle"
MCP, PIP, DIP = joints_of(DRAWN)
SHOWN_DEG = {
    "mcp_max_flexion_deg": (MCP, 60.0),
    "pip_max_flexion_deg": (PIP, 75.0),
    "dip_max_flexion_deg": (DIP, 50.0),
    "pip_passive_extension_deficit_deg": (PIP, 30.0),
    "dip_passive_hyperextension_deg": (DIP, -18.0),
    "dip_blanch_hyperextension_deg": (DIP, -10.0),
}
"""The joint of each angle, and at which flexion it is drawn."""
ARM_MM = 26.0
"""Length of the arms of a drawn angle; own choice."""
ARC_MM = 17.0
"""Radius of its arc; own choice."""
ARM = Line(0.5)
ABOVE_MM = 1.5
"""The arms lie this far above the skin; own choice."""
MOST_BESIDE = 3
"""Small fingers beside each other on a page; own choice."""


@cache
def drawn_finger() -> FingerLimb:
    """Return the middle finger of a mean hand, straight."""
    return build_finger(DRAWN, estimate_finger(DRAWN, {}, estimate_hand({}, None)))


def draw_finger(paper: Paper, words: Words, numbers: Mapping[str, int]) -> None:
    """Draw the palm side with tapes on the right and lengths on the left."""
    finger = drawn_finger()
    shape = silhouette(finger.skin_mesh(), PALM)
    low, high = np.array(shape.bounds[:2]), np.array(shape.bounds[2:])
    height = float(high[1] - low[1])
    drawing = paper.drawing(height + 7.0)
    view = LimbView(drawing, np.array([82.0, 3.0 - low[1]]), 1.0)
    view.outline(shape)
    right = float(high[0]) + 14.0
    for key, name in STATION_OF.items():
        if key in numbers:
            station = finger.landmarks[name]
            half = float(finger.half_axes(np.array([station]))[0][0]) + 1.2
            view.tape(np.array([[-half, station], [half, station]]), TAPE_MM)
            view.line([(half, station), (right, station)], LEADER)
            at = view.at(np.array([right + 2.6, station]))
            numbered(drawing, (float(at[0]), float(at[1])), numbers[key])
    left = float(low[0]) - 12.0
    stations = {name: _crease_station(finger, name) for name in (*CREASES, "tip")}
    for name in CREASES:
        station = stations[name]
        half = 0.82 * float(finger.half_axes(np.array([station]))[0][0])
        across = np.linspace(-half, half, 15)
        view.line(np.column_stack([across, station - 0.5 + 0.8 * (across / half) ** 2]), Line(0.3))
        view.line([(-half, station), (left - 3.0, station)], LEADER)
        at = view.at(np.array([left - 5.0, station]))
        drawing.write((float(at[0]), float(at[1]) - 1.0), words(f"measuring.crease.{name}"), SMALL, "right")
    view.line([(0.0, stations["tip"]), (left - 3.0, stations["tip"])], LEADER)
    for key, (start, stop) in BETWEEN.items():
        if key in numbers:
            ends = view.at(np.array([[left, stations[start]], [left, stations[stop]]]))
            dimension(drawing, ends[0], ends[1], numbers[key])


def _crease_station(finger: FingerLimb, name: str) -> float:
    return finger.landmarks["web" if name == "web_crease" else name]


def draw_angles(paper: Paper, numbers: Mapping[str, int]) -> None:
    """Draw each angle from the thumb side, in rows of at most three.

    A goniometer lies on the back of the finger.
    """
    keys, n_rows = list(numbers), -(-len(numbers) // MOST_BESIDE)
    for row in np.array_split(keys, n_rows):
        _draw_row(paper, {str(key): numbers[str(key)] for key in row})


def _draw_row(paper: Paper, numbers: Mapping[str, int]) -> None:
    room = paper.room / MOST_BESIDE
    drawings = [_angle_shapes(*SHOWN_DEG[key]) for key in numbers]
    scale = min(0.62, *((room - 8.0) / _size(shapes)[0] for shapes in drawings))
    height = scale * max(_size(shapes)[1] for shapes in drawings)
    drawing = paper.drawing(height + 9.0)
    for number, (key, shapes) in enumerate(zip(numbers, drawings, strict=True)):
        bounds = _bounds(shapes)
        corner = np.array([number * room + 2.0, 5.0])
        view = LimbView(drawing, corner - scale * bounds[:2], scale)
        _draw_angle(view, shapes, numbers[key])


def _angle_shapes(joint: JointId, angle: float) -> dict[str, Floats | shapely.Geometry]:
    """Outline of the posed finger, and arms and arc of the goniometer, in the view from the thumb side."""
    finger = drawn_finger().posed(**{f"{joint.joint}_flexion_deg": angle})
    body = apply(finger.transform("hand"), finger.body("hand").vertices) @ THUMB_SIDE.T
    skin = silhouette(finger.skin_mesh(), THUMB_SIDE)
    before, after = joint.proximal, joint.distal
    length = {
        "hand": 40.0,
        "proximal": finger.proximal_mm,
        "middle": finger.middle_mm,
        "distal": finger.distal_mm,
    }
    frame_before, frame_after = finger.transform(before), finger.transform(after)
    station = np.array([finger.station_of(joint)])
    thick = float(finger.section_middle(station)[0] + finger.half_axes(station)[1][0]) + ABOVE_MM
    normals = (frame_before[:3, 2] + frame_after[:3, 2]) @ THUMB_SIDE.T
    hinge = frame_after[:3, 3] @ THUMB_SIDE.T + 2.0 * thick * normals / (
        normals @ normals
    )  # where the arms cross, on the back
    back, ahead = -frame_before[:3, 0] @ THUMB_SIDE.T, frame_after[:3, 0] @ THUMB_SIDE.T
    turn = np.radians(np.linspace(0.0, -angle, 25))
    straight = -back
    arc = [
        hinge + ARC_MM * np.array([straight[0] * np.cos(t) - straight[1] * np.sin(t),
                                   straight[0] * np.sin(t) + straight[1] * np.cos(t)])
        for t in turn
    ]  # fmt: skip
    arm = 0.9 * min(length[before], 34.0), 0.9 * min(length[after], 30.0)
    return {
        "hand": shapely.MultiPoint(body).convex_hull,
        "skin": skin,
        "before": np.array([hinge + arm[0] * back, hinge]),
        "after": np.array([hinge, hinge + arm[1] * ahead]),
        "straight": np.array([hinge, hinge + ARM_MM * straight]),
        "arc": np.array(arc),
        **{f"mark {k}": line for k, line in enumerate(marks_in(finger, THUMB_SIDE))},
    }


def _bounds(shapes: Mapping[str, Floats | shapely.Geometry]) -> Floats:
    boxes = np.array(
        [
            each.bounds if isinstance(each, shapely.Geometry) else [*each.min(axis=0), *each.max(axis=0)]
            for each in shapes.values()
        ]
    )
    return np.concatenate([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])


def _size(shapes: Mapping[str, Floats | shapely.Geometry]) -> Floats:
    bounds = _bounds(shapes)
    return np.asarray(bounds[2:] - bounds[:2])


def _draw_angle(view: LimbView, shapes: Mapping[str, Floats | shapely.Geometry], number: int) -> None:
    view.outline(shapes["hand"])
    view.outline(shapes["skin"], SKIN)
    for name, line in shapes.items():
        if name.startswith("mark") and not isinstance(line, shapely.Geometry):
            view.line(line, MARK)
    view.line(shapes["straight"], HINT)
    view.line(shapes["before"], ARM)
    view.line(shapes["after"], ARM)
    arc = np.asarray(shapes["arc"])
    view.line(arc, Line(0.3))
    middle = view.at(arc[len(arc) // 2][None] + 0.35 * (arc[len(arc) // 2] - np.asarray(shapes["after"])[0]))[
        0
    ]
    numbered(view.drawing, (float(middle[0]), float(middle[1])), number)
