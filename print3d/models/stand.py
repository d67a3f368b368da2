"""The stand: a plate with the model's name on its sides, the words dorsal and volar on top, and a socket below.

Everything is in the frame of the bed: z up, x volar, y to the radial side of a right hand; the plate's top is z = 0.
"""

from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from print3d.errors import InputError
from print3d.inputs.model_case import ModelCase
from print3d.models.exact import cylinder, extruded, placed, united
from print3d.models.poses import POSES
from print3d.shell.letters import text_shape

Floats = NDArray[np.float64]

MARGIN_MM = 6.0
LEAST_MM = (46.0, 30.0)
"""Length (volar) and breadth of the smallest plate, so that a finger does not tip over; own choice."""
CORNER_MM, BEVEL_MM = 4.0, 0.8
LETTERS_MM, SUNK_MM = 0.6, 0.4
"""Letters stand out by this much and reach so deep into the plate."""
SIDE_WORD_MM = 3.5
"""Height of the words on top."""
SCREW_LEAD_MM = 1.0


class Labels(NamedTuple):
    """What is written: on the side towards -y, on the side towards +y."""

    front: str
    back: str


def labels_of(case: ModelCase) -> Labels:
    """Return the model's name and its code with side and finger."""
    head, model = case.case, case.model
    title = model.label or POSES[model.pose].title
    scale = "" if model.scale == 1.0 else f" {model.scale:g}"
    return Labels(title, f"{head.code} {head.side[0].upper()}{scale}")


def stand(case: ModelCase, low: Floats, high: Floats, foot: Floats) -> Any:
    """Return the plate with letters and socket.

    low, high : (3,) corners of what stands on it; in breadth of its foot alone
    foot : (2,) where the body meets the plate

    Raises InputError if the label has a character that cannot be written.
    """
    options, labels = case.model, labels_of(case)
    height, thick = options.letter_height_mm, options.stand_thickness_mm
    texts = [_text(case, label, height) for label in labels]
    longest = max(float(np.ptp(np.array(text.bounds)[[0, 2]])) for text in texts)
    size = np.array([high[0] - low[0] + 2 * MARGIN_MM, LEAST_MM[1]])
    size = np.maximum(size, [max(LEAST_MM[0], longest + 2 * MARGIN_MM), LEAST_MM[1]])
    middle = np.array([(low[0] + high[0]) / 2.0, foot[1]])
    size[1] = max(size[1], high[1] - low[1] + MARGIN_MM)
    plate = _plate(size, thick).translate([middle[0], middle[1], -thick])
    bodies = [plate]
    for text, side in zip(texts, (-1.0, 1.0), strict=True):
        bodies.append(_on_side(text, side, size, thick).translate([middle[0], middle[1], 0.0]))
    for word, way in (("DORSAL", -1.0), ("VOLAR", 1.0)):
        shape = _centred(text_shape(word, SIDE_WORD_MM))
        turned = shapely.affinity.rotate(shape, 90.0 * way, origin=(0.0, 0.0))
        at = middle[0] + way * (size[0] / 2.0 - MARGIN_MM / 2.0 - 1.0)
        bodies.append(
            extruded(shapely.affinity.translate(turned, at, middle[1]), LETTERS_MM + SUNK_MM).translate(
                [0.0, 0.0, -SUNK_MM]
            )
        )
    return united(bodies)


def socket(case: ModelCase, foot: Floats) -> Any | None:
    """Return what is to be cut out of the bottom for a magnet or a screw, or None."""
    options = case.model.socket
    if options.style == "none":
        return None
    play = case.printer.min_gap_mm.value / 2.0 if options.style == "magnet" else 0.0
    radius = options.diameter_mm / 2.0 + play / 2.0
    hole = cylinder(radius, options.depth_mm + 0.01)
    if options.style == "screw":
        hole += cylinder(radius + SCREW_LEAD_MM, SCREW_LEAD_MM, top_radius_mm=radius)
    return hole.translate([foot[0], foot[1], -case.model.stand_thickness_mm - 0.01])


def _text(case: ModelCase, text: str, height: float) -> shapely.Geometry:
    try:
        return _centred(text_shape(text, height))
    except Exception as error:
        raise InputError(f"{case.source}: model.label = {text!r}: {error}") from error


def _centred(shape: shapely.Geometry) -> shapely.Geometry:
    low_x, low_y, high_x, high_y = shape.bounds
    return shapely.affinity.translate(shape, -(low_x + high_x) / 2.0, -(low_y + high_y) / 2.0)


def _plate(size: Floats, thick: float) -> Any:
    """A plate with rounded corners and bevelled edges, on z = 0."""
    half = size / 2.0 - CORNER_MM
    core = shapely.box(-half[0], -half[1], half[0], half[1])
    full, small = core.buffer(CORNER_MM), core.buffer(CORNER_MM - BEVEL_MM)
    middle = extruded(full, thick - 2 * BEVEL_MM).translate([0.0, 0.0, BEVEL_MM])
    return (middle + extruded(small, thick)).hull()


def _on_side(text: shapely.Geometry, side: float, size: Floats, thick: float) -> Any:
    """Letters on the side towards -y (-1) or +y (1), to be read from there."""
    letters = extruded(text, LETTERS_MM + SUNK_MM)
    across = np.array([-side, 0.0, 0.0])
    frame = np.eye(4)
    frame[:3, :3] = np.column_stack([across, [0.0, 0.0, 1.0], [0.0, side, 0.0]])
    frame[:3, 3] = [0.0, side * (size[1] / 2.0 - SUNK_MM), -thick / 2.0]
    return placed(letters, frame)
