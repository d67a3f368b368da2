"""Parts beside each other on one bed, each in its best position."""

from collections.abc import Sequence

import numpy as np

from print3d.geometry.frames import rigid
from print3d.geometry.types import Floats
from print3d.printing.plan import PrintPlan

APART_MM = 6.0
"""Free room between parts; a brim of 5 mm on one of them fits; own choice."""


def places_on_bed(plans: Sequence[PrintPlan], bed_mm: Sequence[float]) -> dict[str, Floats]:
    """Return for each part's name the transform (4, 4) from its file to the bed.

    The bed's origin is its front left corner.

    bed_mm : build space (x, y, z)

    Parts stand in rows, each row from left to right as long as the bed is wide, and the whole in the middle of the bed. What is
    too many for one bed runs over its right and back edge, never below 0, and is moved in the slicer.
    """
    sizes = np.array([plan.size_mm[:2] for plan in plans])
    corners = _in_rows(sizes, float(bed_mm[0]))
    spare = np.array(bed_mm[:2]) - (corners + sizes).max(axis=0)
    middles = corners + sizes / 2.0 + np.maximum(spare, 0.0) / 2.0
    return {
        plan.part: rigid(np.eye(3), np.append(middle, 0.0)) @ plan.bed_from_limb
        for plan, middle in zip(plans, middles, strict=True)
    }


def _in_rows(sizes: Floats, width: float) -> Floats:
    """The front left corners (n, 2) of boxes (n, 2), the first at the origin."""
    corners, x, y, deep = np.zeros_like(sizes), 0.0, 0.0, 0.0
    for number, (wide, depth) in enumerate(sizes):
        if x > 0.0 and x + wide > width:
            x, y, deep = 0.0, y + deep + APART_MM, 0.0
        corners[number] = x, y
        x, deep = x + wide + APART_MM, max(deep, depth)
    return corners
