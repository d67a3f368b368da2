"""Clearance between skin and shell: flared ends, relief of bony points, and the face that it leads to."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from print3d.geometry.spline import SurfaceFunction
from print3d.geometry.types import Floats

Clearance = Callable[[Floats, Floats], Floats]
"""Pattern coordinates (along, around) -> mm (n,)."""
NORMAL_STEP_MM = 0.02
"""Step of the differences that give the skin's normal; own choice."""


@dataclass(frozen=True)
class BonyPoint:
    """A place that the shell keeps off.

    place : pattern coordinates (along, around)
    relief_mm, reach_mm : extra clearance, and the distance over which it fades
    """

    place: tuple[float, float]
    relief_mm: float
    reach_mm: float

    def relief(self, along: Floats, around: Floats) -> Floats:
        """Return the extra clearance (n,) at pattern places."""
        away = np.hypot(along - self.place[0], around - self.place[1]) / self.reach_mm
        return np.asarray(self.relief_mm * (1.0 - np.clip(away, 0.0, 1.0) ** 2) ** 3)


def flare_mm(to_end_mm: Floats, height_mm: float, length_mm: float) -> Floats:
    """Return how far a flared end is lifted (n,), by the distance to that end.

    A parabola that leaves the shell without a corner; beyond the end it goes on straight.
    """
    share = np.maximum(1.0 - to_end_mm / length_mm, 0.0)
    return np.asarray(height_mm * np.where(share < 1.0, share**2, 2.0 * share - 1.0))


def inner_face(skin: SurfaceFunction, clearance: Clearance) -> SurfaceFunction:
    """Return a shell's inner face: the skin, moved along its normals by the clearance."""

    def points(along: Floats, around: Floats) -> Floats:
        places = np.tile([along, around], 3)
        places[0, len(along) : 2 * len(along)] += NORMAL_STEP_MM
        places[1, 2 * len(along) :] += NORMAL_STEP_MM
        on_skin, farther, beside = np.split(skin(*places), 3)
        normal = np.cross(farther - on_skin, beside - on_skin)
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        return np.asarray(on_skin + clearance(along, around)[:, None] * normal)

    return points
