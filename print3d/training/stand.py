"""The stand: a plate with the model's name on its sides and a socket below.

The words dorsal and volar stand on top. Everything is in the frame of the bed: z up, x volar, y to the radial side of a right hand; the plate's top is z = 0.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from print3d.errors import ShapingError
from print3d.geometry.frames import rigid
from print3d.geometry.types import Floats
from print3d.inputs.model_case import ModelCase
from print3d.inputs.problems import refused
from print3d.language.message import message
from print3d.shell.letters import text_shape
from print3d.training.booleans import cylinder, extruded, placed, united
from print3d.training.poses import POSES

if TYPE_CHECKING:
    from manifold3d import Manifold

MARGIN_MM = 6.0
"""The plate reaches this far beyond the body's foot; own choice."""
LEAST_MM = (46.0, 30.0)
"""Length (volar) and breadth of the smallest plate, so that a finger does not tip over; own choice."""
CORNER_MM = 4.0
"""Rounding of the plate's corners; own choice."""
BEVEL_MM = 0.8
"""Bevel of its edges; own choice."""
LETTERS_MM = 0.6
"""Letters stand out by this much; own choice."""
SUNK_MM = 0.4
"""Letters reach this deep into the plate, so that both grow together; own choice."""
SIDE_WORD_MM = 3.5
"""Height of the words on top."""
SCREW_LEAD_MM = 1.0
"""The mouth of a screw's hole is wider by this; own choice."""
BELOW_MM = 0.01
"""A socket reaches this far below the plate, so that no two faces coincide."""
FOOT_HEIGHT_MM = 1.0
"""What lies below this over the plate is the body's foot."""


class Labels(NamedTuple):
    """What is written: on the side towards -y, on the side towards +y."""

    front: str
    back: str


def labels_of(case: ModelCase) -> Labels:
    """Return the model's name and its code with side and finger."""
    head, model = case.header, case.model
    title = model.label or POSES[model.pose].label
    scale = "" if model.scale == 1.0 else f" {model.scale:g}"
    return Labels(title, f"{case.mark} {head.side[0].upper()}{scale}")


@dataclass(frozen=True, eq=False)
class Relief:
    """Raised letters: a flat shape (x, y) in a frame (4, 4), stretched along its z."""

    shape: shapely.Geometry
    frame: Floats
    height_mm: float = LETTERS_MM + SUNK_MM


@dataclass(frozen=True, eq=False)
class StandPlan:
    """A stand as numbers, from which mesh and CAD solid are both made.

    size, middle : (2,) mm, of the plate
    hole : radius and depth of the socket and by how much its mouth is wider, or None; it lies under `foot` (2,)
    """

    size: Floats
    middle: Floats
    thick_mm: float
    reliefs: tuple[Relief, ...]
    foot: Floats
    hole: tuple[float, float, float] | None


def lettering(case: ModelCase) -> list[shapely.Geometry]:
    """Return the two labels of a stand as flat shapes (mm) about their middles.

    Raises InputError if one cannot be written.
    """
    return [_text(case, label) for label in labels_of(case)]


def plan_stand(case: ModelCase, body: Floats) -> StandPlan:
    """Return the stand for a body with points (n, 3) on the bed.

    Raises InputError if a label cannot be written.
    """
    thick = case.model.stand_thickness_mm
    near = body[body[:, 2] < FOOT_HEIGHT_MM, :2]
    foot = (near.min(axis=0) + near.max(axis=0)) / 2.0
    low, high = body[:, 0].min(), body[:, 0].max()
    texts = lettering(case)
    longest = max(float(text.bounds[2] - text.bounds[0]) for text in texts)
    size = np.array(
        [
            max(high - low + 2 * MARGIN_MM, LEAST_MM[0], longest + 2 * MARGIN_MM),
            max(LEAST_MM[1], float(np.ptp(near[:, 1])) + MARGIN_MM),
        ]
    )
    middle = np.array([(low + high) / 2.0, foot[1]])
    reliefs = [
        *(_on_side(text, side, middle, size, thick) for text, side in zip(texts, (-1.0, 1.0), strict=True)),
        *(_on_top(word, way, middle, size) for word, way in (("DORSAL", -1.0), ("VOLAR", 1.0))),
    ]
    return StandPlan(size, middle, thick, tuple(reliefs), foot, _hole(case))


def stand(plan: StandPlan) -> "Manifold":
    """Return the plate with its letters."""
    letters = [placed(extruded(each.shape, each.height_mm), each.frame) for each in plan.reliefs]
    return united([_plate(plan.size, plan.thick_mm).translate([*plan.middle, -plan.thick_mm]), *letters])


def socket(plan: StandPlan) -> "Manifold | None":
    """Return what is to be cut out of the bottom for a magnet or a screw, or None."""
    if plan.hole is None:
        return None
    radius, depth, wider = plan.hole
    hole = cylinder(radius, depth + BELOW_MM)
    if wider > 0.0:
        hole += cylinder(radius + wider, wider + BELOW_MM, top_radius_mm=radius)
    return hole.translate([*plan.foot, -plan.thick_mm - BELOW_MM])


def _hole(case: ModelCase) -> tuple[float, float, float] | None:
    options = case.model.socket
    if options.style == "none":
        return None
    if options.style == "magnet":
        return (options.diameter_mm + case.printer.min_gap_mm.value / 2.0) / 2.0, options.depth_mm, 0.0
    return options.diameter_mm / 2.0, options.depth_mm, SCREW_LEAD_MM


def _text(case: ModelCase, text: str) -> shapely.Geometry:
    try:
        return _centred(text_shape(text, case.model.letter_height_mm))
    except ShapingError as error:
        wanted = message("refusals.why", why=error.problems)
        raise refused(case.source, wanted, "model.label", text) from error


def _centred(shape: shapely.Geometry) -> shapely.Geometry:
    low_x, low_y, high_x, high_y = shape.bounds
    return shapely.affinity.translate(shape, -(low_x + high_x) / 2.0, -(low_y + high_y) / 2.0)


def _plate(size: Floats, thick: float) -> "Manifold":
    """A plate with rounded corners and bevelled edges, on z = 0."""
    half = size / 2.0 - CORNER_MM
    core = shapely.box(-half[0], -half[1], half[0], half[1])
    full, small = core.buffer(CORNER_MM), core.buffer(CORNER_MM - BEVEL_MM)
    middle = extruded(full, thick - 2 * BEVEL_MM).translate([0.0, 0.0, BEVEL_MM])
    return (middle + extruded(small, thick)).hull()


def _on_side(text: shapely.Geometry, side: float, middle: Floats, size: Floats, thick: float) -> Relief:
    """Letters on the side towards -y (-1) or +y (1), to be read from there."""
    turn = np.column_stack([[-side, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, side, 0.0]])
    at = np.array([middle[0], middle[1] + side * (size[1] / 2.0 - SUNK_MM), -thick / 2.0])
    return Relief(text, rigid(turn, at))


def _on_top(word: str, way: float, middle: Floats, size: Floats) -> Relief:
    """A word along the edge towards -x (-1) or +x (1), to be read from there."""
    turn = np.array([[0.0, -way, 0.0], [way, 0.0, 0.0], [0.0, 0.0, 1.0]])
    at = np.array([middle[0] + way * (size[0] / 2.0 - MARGIN_MM / 2.0 - 1.0), middle[1], -SUNK_MM])
    return Relief(_centred(text_shape(word, SIDE_WORD_MM)), rigid(turn, at))
