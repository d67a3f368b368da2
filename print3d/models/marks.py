"""Lines carved into a skin: the course of a tendon or of the bones, with a bar at each border and a numeral in each zone."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

GROOVE_MM, GROOVE_HALF_MM = 0.7, 0.75
"""Depth and half-breadth of a teaching line: two passes of a 0.4 mm nozzle fit between its sides."""
NUMERALS = {
    "I": [((0, 0), (0, 1))],
    "II": [((-0.22, 0), (-0.22, 1)), ((0.22, 0), (0.22, 1))],
    "III": [((-0.42, 0), (-0.42, 1)), ((0, 0), (0, 1)), ((0.42, 0), (0.42, 1))],
    "IV": [((-0.5, 0), (-0.5, 1)), ((-0.05, 1), (0.25, 0)), ((0.25, 0), (0.55, 1))],
    "V": [((-0.3, 1), (0, 0)), ((0, 0), (0.3, 1))],
}
"""Strokes of the zones' Roman numerals in a box of height 1, x to the reader's right, fingertip up."""


@dataclass(frozen=True, eq=False)
class Mark:
    """Strokes in a plane of (station, around) mm, around positive radially from the dorsal line.

    strokes : (n, 2, 2) ends of each
    wraps_at : around is taken from this on, so that a line on the volar side is not cut
    """

    strokes: Floats
    half_breadth_mm: float = GROOVE_HALF_MM
    depth_mm: float = GROOVE_MM

    def depth(self, station: Floats, around: Floats) -> Floats:
        """Return how deep (n,) the skin is carved at points of the plane."""
        near = np.full(len(station), np.inf)
        for start, stop in self.strokes:
            near = np.minimum(near, _to_segment(station, around, start, stop))
        return self.depth_mm * np.clip((self.half_breadth_mm - near) / 0.35 + 0.5, 0.0, 1.0)


def _to_segment(x: Floats, y: Floats, start: Floats, stop: Floats) -> Floats:
    """Distance (n,) to a stroke."""
    way = stop - start
    share = np.clip(((x - start[0]) * way[0] + (y - start[1]) * way[1]) / max(way @ way, 1e-12), 0.0, 1.0)
    return np.hypot(x - start[0] - share * way[0], y - start[1] - share * way[1])
