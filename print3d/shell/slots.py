"""Strap slots: rounded rectangles sized for real straps, straight on the shell.

The pattern plane is stretched and sheared, and a shell bends with the limb: a slot that is straight in the one is bent in the other.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from print3d.geometry.spline import SurfaceFunction
from print3d.geometry.types import Floats
from print3d.shell.curves import ARC_SEGMENTS, loop_of
from print3d.shell.pattern import Loop

STRAP_PLAY_MM = 1.0
"""A slot is this much longer than its strap is wide; own choice."""
LINE_POINTS = 13
"""Points of a slot's middle line, one of them in its middle, some 3 mm apart at most; own choice."""
ROUNDS = 3
"""Rounds after which a middle line lies in its plane and is as long as wanted within 0.01 mm (measured)."""
STEP_MM = 0.05
"""Step of the differences by which a line is brought into its plane; own choice."""


@dataclass(frozen=True, eq=False)
class SlotLine:
    """The middle line of a slot.

    flat : (n, 2) in the pattern
    worn : (n, 3) mm, on the shell's face
    """

    flat: Floats
    worn: Floats

    @property
    def turn_deg(self) -> float:
        """How far it turns on the shell."""
        ways = np.diff(self.worn, axis=0)
        ways /= np.linalg.norm(ways, axis=1, keepdims=True)
        return float(np.degrees(np.arccos(np.clip(ways @ ways.T, -1.0, 1.0).min())))

    def slot(self, gap_mm: float, spacing_mm: float) -> Loop:
        """Return the slot about it; `gap_mm` is its width in the pattern, the strap's thickness and play."""
        return loop_of(
            shapely.LineString(self.flat).buffer(gap_mm / 2, quad_segs=ARC_SEGMENTS), "slot", spacing_mm
        )


def straight_line(
    face: SurfaceFunction, middle: tuple[float, float], slope: float, length_mm: float
) -> SlotLine:
    """Return the line that is straight on a face.

    There the face meets the plane through its normal and the ends of the line.

    middle : (along, around) of its middle
    slope : around over along of its ends in the pattern
    length_mm : on the face
    """
    share = np.linspace(-0.5, 0.5, LINE_POINTS)
    way, centre = np.array([1.0, slope]) / np.hypot(1.0, slope), LINE_POINTS // 2
    across = np.array([-way[1], way[0]])
    reach, bow = length_mm, np.zeros(LINE_POINTS)
    for _ in range(ROUNDS):
        flat = middle + (reach * share)[:, None] * way + bow[:, None] * across
        worn, beside = np.split(face(*np.vstack([flat, flat + STEP_MM * across]).T), 2)
        beside = (beside - worn) / STEP_MM
        chord = worn[-1] - worn[0]
        in_face = beside[centre] - (beside[centre] @ chord) / (chord @ chord) * chord
        bow = bow - (worn - worn[centre]) @ in_face / (beside @ in_face)
        reach *= length_mm / float(np.linalg.norm(np.diff(worn, axis=0), axis=1).sum())
    return SlotLine(flat, worn)
