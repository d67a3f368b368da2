"""Strap slots: rounded rectangles sized for real straps."""

import shapely

from print3d.shell.curves import ARC_SEGMENTS, loop_of
from print3d.shell.pattern import Loop

STRAP_PLAY_MM = 1.0
"""A slot is this much longer than its strap is wide; own choice."""


def strap_slot(
    centre: tuple[float, float], strap_width_mm: float, gap_mm: float, spacing_mm: float, scale: float = 1.0
) -> Loop:
    """Return a slot along the limb for one strap.

    centre : (along, around) mm
    gap_mm : width of the slot, the strap's thickness and play
    scale : skin mm per pattern mm there, so that the slot fits its strap on the skin
    """
    gap_mm /= scale
    half = (strap_width_mm + STRAP_PLAY_MM) / scale / 2 - gap_mm / 2
    line = shapely.LineString([(centre[0] - half, centre[1]), (centre[0] + half, centre[1])])
    return loop_of(line.buffer(gap_mm / 2, quad_segs=ARC_SEGMENTS), "slot", spacing_mm)
