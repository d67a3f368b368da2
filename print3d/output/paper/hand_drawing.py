"""The drawing of hand and forearm for the measuring form, from the limb model, seen from the palm."""

from collections.abc import Mapping
from functools import cache

import numpy as np
import shapely

from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandLimb, HandPose, build_hand
from print3d.limb.hand_estimates import CREASE_ENDS, estimate_hand_and_forearm
from print3d.limb.limb import palmar_creases_of
from print3d.output.paper.drawing import SMALL, Line
from print3d.output.paper.limb_views import (
    LEADER,
    MARK,
    PALM,
    SKIN,
    LimbView,
    dimension,
    marks_in,
    numbered,
    silhouette,
)
from print3d.output.paper.paper import Paper
from print3d.output.paper.words import Words

SCALE = 0.36
"""Of the drawing of hand and forearm; own choice."""
TAPE_MM = 9.0
"""Width of a drawn tape, in mm of the hand; own choice."""
WIDEST_SHARE = 0.9
"""The drawn forearm is within 2 % of its widest from 0.75 of its length on; here its tape stands clear of the others."""
LANES_MM = (16.0, 26.0)
"""Distance of the dimension lines from the limb, on the page."""


@cache
def drawn_hand() -> HandLimb:
    """Return a mean hand with its forearm, all joints straight."""
    straight = HandPose(0.0, {name: FingerPose() for name in FINGERS})
    return build_hand(estimate_hand_and_forearm({}, None, {}), straight)


@cache
def _outlines() -> tuple[shapely.Geometry, tuple[shapely.Geometry, ...]]:
    """Silhouette of everything, and of each finger."""
    hand = drawn_hand()
    fingers = tuple(_finger(ray.hand_from_finger(), ray.limb.skin_mesh()) for ray in hand.rays.values())
    return silhouette(hand.skin_mesh(), PALM), fingers


def _finger(placement: Floats, mesh: Mesh) -> shapely.Geometry:
    return silhouette(Mesh(apply(placement, mesh.vertices), mesh.faces), PALM)


def draw_hand(paper: Paper, words: Words, numbers: Mapping[str, int]) -> None:
    """Draw tapes as bands with their numbers on the right, lengths as dimension lines on the left."""
    hand, (shape, fingers) = drawn_hand(), _outlines()
    with_forearm = any(key.startswith("forearm") for key in numbers)
    foot = shape.bounds[1] if with_forearm else -45.0
    shown = shape.intersection(shapely.box(-400.0, foot, 400.0, 400.0))
    low, high = np.array(shown.bounds[:2]), np.array(shown.bounds[2:])
    scale = SCALE if with_forearm else 0.5
    height = scale * float(high[1] - low[1])
    view = LimbView(paper.drawing(height + 6.0), np.array([paper.room / 2, 3.0 - scale * low[1]]), scale)
    view.outline(shown)
    for finger, ray in zip(fingers, hand.rays.values(), strict=True):
        web = float(ray.mcp_centre[0]) + ray.limb.landmarks["web"]
        view.outline(finger.boundary.intersection(shapely.box(-400.0, web, 400.0, 400.0)), SKIN, None)
    for line in marks_in(hand, PALM):
        view.line(line, MARK)
    _tapes(view, hand, shown, numbers)
    _lengths(view, words, hand, shown, numbers)


def _tapes(view: LimbView, hand: HandLimb, shape: shapely.Geometry, numbers: Mapping[str, int]) -> None:
    for key, station in _tape_stations(hand).items():
        if key in numbers:
            ends = _across(shape, station, hand)
            view.tape(ends, TAPE_MM)
            right = view.at(ends[1][None])[0]
            out = max(float(view.at(np.array([[shape.bounds[2], 0.0]]))[0, 0]) + 8.0, float(right[0]) + 8.0)
            view.drawing.line([(float(right[0]), float(right[1])), (out, float(right[1]))], LEADER)
            numbered(view.drawing, (out + 2.6, float(right[1])), numbers[key])


def _tape_stations(hand: HandLimb) -> dict[str, float]:
    """Where each tape lies, mm distal of the wrist crease."""
    stations = {f"forearm_girth_at_{place}_mm": -float(place) for place in (50, 100, 150, 200)}
    stations["wrist_girth_mm"] = -hand.wrist_tape_mm
    stations["hand_girth_mm"] = _heads(hand)
    stations["forearm_girth_mm"] = -WIDEST_SHARE * hand.forearm.length_mm
    return stations


def _heads(hand: HandLimb) -> float:
    return float(np.mean([ray.mcp_centre[0] for ray in hand.rays.values()]))


def _across(shape: shapely.Geometry, station: float, hand: HandLimb) -> Floats:
    """The ends (2, 2) of a line across the limb; at the knuckles across the hand alone, without the thumb."""
    cut = shape.intersection(shapely.LineString([(-300.0, station), (300.0, station)]))
    pieces = sorted(shapely.get_parts(cut), key=lambda each: each.length)
    low, _, high, _ = pieces[-1].bounds
    if station > 0.0:
        high = min(high, low + hand.hand_breadth_mm)
    return np.array([[low, station], [high, station]])


def _lengths(
    view: LimbView, words: Words, hand: HandLimb, shape: shapely.Geometry, numbers: Mapping[str, int]
) -> None:
    """Hand, palm and forearm length left of the limb, each from line to line; the breadth across the hand."""
    middle = hand.rays["middle"]
    tip, base = (float(middle.mcp_centre[0]) + middle.limb.landmarks[name] for name in ("tip", "web"))
    edge = float(view.at(np.array([[shape.bounds[0], 0.0]]))[0, 0])
    spans = {
        "hand_length_mm": (0.0, tip, LANES_MM[1]),
        "palm_length_mm": (0.0, base, LANES_MM[0]),
        "forearm_length_mm": (-hand.forearm.length_mm, -hand.wrist_tape_mm, LANES_MM[0]),
    }
    for key, (start, stop, lane) in spans.items():
        if key not in numbers:
            continue
        heights = view.at(np.array([[0.0, start], [0.0, stop]]))[:, 1]
        for height in heights:
            view.drawing.line([(edge - lane - 2.0, float(height)), (edge + 8.0, float(height))], LEADER)
        ends = np.array([[edge - lane, heights[0]], [edge - lane, heights[1]]])
        dimension(view.drawing, ends[0], ends[1], numbers[key])
    _creases(view, hand, numbers)
    wrist = _across(shape, 0.0, hand)
    view.line(np.array([[wrist[0, 0] + 6.0, 0.0], [wrist[1, 0] - 6.0, 0.0]]), Line(0.3))
    place = view.at(np.array([[0.0, 0.0]]))[0]
    label = (edge - LANES_MM[1] - 4.0, float(place[1]) - 1.0)
    view.drawing.write(label, words("measuring.crease.wrist_crease"), SMALL, "right")
    if "hand_breadth_mm" in numbers:
        ends = view.at(_across(shape, _heads(hand) - 14.0, hand))
        dimension(view.drawing, ends[0], ends[1], numbers["hand_breadth_mm"])


def _creases(view: LimbView, hand: HandLimb, numbers: Mapping[str, int]) -> None:
    """How far the distal palmar crease lies from the wrist crease at either end."""
    creases = palmar_creases_of(hand)
    for name in CREASE_ENDS:
        key = f"palmar_crease_{name}_mm"
        if key in numbers:
            radial = float(hand.rays[name].mcp_centre[1])
            start, stop = view.at(np.array([[radial, 0.0], [radial, creases[name].value]]))
            dimension(view.drawing, start, stop, numbers[key])
