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
from scipy.spatial import KDTree

from print3d.geometry.types import Floats

APART_MM = 0.1
"""Two rims stay this far apart in the pattern; between samples they come nearer than at them. Own choice."""
STEEPEST = 0.3
"""A rim grows no faster than this along its loop: a step in it would be a crease; own choice."""
SAME_MM = 1e-6
"""A loop whose sample lies on another is that loop, sampled otherwise; own choice."""
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


def room_beside(pattern: Pattern, loop: Loop, reach_mm: float) -> Floats:
    """Return how far (n,) into the material a rim may reach.

    It must not meet another, a letter or itself: half the way to the next loop, all of it to a letter, less than the radius of a bend around the material. Only loops within twice
    `reach_mm` are looked at; where there is none the room is endless.
    """
    room = bend_radii(loop)
    low, high = loop.points.min(axis=0) - 2 * reach_mm, loop.points.max(axis=0) + 2 * reach_mm
    turns = (0.0,) if pattern.period_mm is None else (-pattern.period_mm, 0.0, pattern.period_mm)
    for other in (*pattern.rimmed, *pattern.marks):
        for turn in turns:
            points = other.points + [0.0, turn]
            near = points[((points > low) & (points < high)).all(axis=1)]
            if len(near) == 0 or KDTree(points).query(loop.points[0])[0] < SAME_MM:
                continue
            share = 1.0 if other.kind == "mark" else 0.5
            room = np.minimum(room, share * KDTree(near).query(loop.points)[0])
    return room - APART_MM


def gently(loop: Loop, width_mm: Floats) -> Floats:
    """Return widths (n,) of a rim without steps along their loop."""
    steps = np.linalg.norm(np.diff(loop.points, axis=0), axis=1)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    away = np.abs(at[:, None] - at)
    away = np.minimum(away, loop.length_mm - away)
    return np.asarray((width_mm + STEEPEST * away).min(axis=1))


def bend_radii(loop: Loop) -> Floats:
    """Return the radius (n,) of a loop's bends around the material.

    Endless where it is straight or bends away.
    """
    steps = np.roll(loop.points, -1, axis=0) - loop.points
    steps[-1] += [0.0, loop.step_mm]
    turns = np.roll(loop.normals, -1, axis=0) - loop.normals
    closing = np.maximum(-np.einsum("ij,ij->i", turns, steps), 1e-12)
    radii = np.einsum("ij,ij->i", steps, steps) / closing
    return np.minimum(radii, np.roll(radii, 1))
