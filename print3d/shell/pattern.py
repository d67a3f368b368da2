"""The flat pattern: closed curves in skin coordinates that say where there is material.

Pattern plane: `along` (mm, towards the fingertip) and `around` (mm, from dorsal over radial, see
`geometry/frames.py`). Every loop is a smooth closed curve given by dense samples, with the material on its left:
the outline runs counter-clockwise, vents and slots run clockwise.

    around                    A wrap-around pattern (ring, band) has a period around. Its two edges are
      ^   ______________      loops that close only after one period; the distal edge runs towards
      |  (   o   o   [] )     +around, the proximal edge towards -around, material again on the left.
      |  (     o   o [] )
      |   --------------      Marks (raised or engraved letters) lie inside the material and cut nothing away.
      +-----------------> along
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from print3d.geometry.types import Floats

LoopKind = Literal["outline", "edge", "vent", "slot", "opening", "mark"]


@dataclass(frozen=True, eq=False)
class Loop:
    """One closed curve of the pattern.

    kind : "outline" (closed outer boundary), "edge" (one of the two boundaries of a wrap-around
        pattern), "vent", "slot" (for a strap), "opening" (any other hole) or "mark" (part of a letter)
    points : (n, 2) mm (along, around); the first point is not repeated at the end
    step_mm : what is added to `around` on the way from the last point back to the first: 0, or plus
        or minus the period for an "edge"
    """

    kind: LoopKind
    points: Floats
    step_mm: float = 0.0

    @cached_property
    def _ringed(self) -> Floats:
        """The points with their neighbours across the closing, (n + 2, 2)."""
        step = np.array([0.0, self.step_mm])
        return np.vstack([self.points[-1] - step, self.points, self.points[0] + step])

    @cached_property
    def normals(self) -> Floats:
        """Unit normals (n, 2) into the material."""
        forward = np.diff(self._ringed, axis=0)
        forward /= np.linalg.norm(forward, axis=1, keepdims=True)
        tangent = forward[1:] + forward[:-1]
        tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
        return np.column_stack([-tangent[:, 1], tangent[:, 0]])

    def inset(self, distance_mm: float) -> Floats:
        """Return the points (n, 2) moved into the material by `distance_mm`."""
        return self.points + distance_mm * self.normals

    @property
    def length_mm(self) -> float:
        """Length of the curve in the pattern plane."""
        return float(np.linalg.norm(np.diff(self._ringed, axis=0)[1:], axis=1).sum())


@dataclass(frozen=True, eq=False)
class Pattern:
    """Where there is material.

    boundary : one "outline", or the two "edge" loops (proximal, distal) of a wrap-around pattern
    holes : vents, strap slots and openings
    marks : contours of letters and of the arrow; counters (the hole of an O) run clockwise
    period_mm : length around of a wrap-around pattern, or None
    """

    boundary: tuple[Loop, ...]
    holes: tuple[Loop, ...] = ()
    marks: tuple[Loop, ...] = ()
    period_mm: float | None = None

    @property
    def rimmed(self) -> tuple[Loop, ...]:
        """The loops that get a rim: boundary first, then the holes."""
        return self.boundary + self.holes

    @property
    def vents(self) -> tuple[Loop, ...]:
        """The holes that are vents."""
        return tuple(hole for hole in self.holes if hole.kind == "vent")
