"""Supports: which faces hang over, and how much lies below them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.geometry.types import Floats, Ints

Bools = NDArray[np.bool_]
MOST_RAYS = 6000
"""Places from which supports are measured at most; own choice."""
BELOW_MM = 1e-3
"""Rays start this far below their face, so that they do not meet it."""


@dataclass(frozen=True, eq=False)
class Supports:
    """What must be held up while printing.

    overhang_mm2 : area of the faces that hang over
    volume_mm3 : of the upright columns below them, down to the body itself or to the bed
    skin_mm2 : area of the skin side that is held up, or that supports stand on
    skin_at : (3,) mm, limb frame, a place of that in its midst
    """

    overhang_mm2: float = 0.0
    volume_mm3: float = 0.0
    skin_mm2: float = 0.0
    skin_at: Floats | None = None


@dataclass(frozen=True, eq=False)
class Hanging:
    """A body whose supports are looked for in several positions.

    mesh : closed
    is_skin_side : (m,) which triangles lie towards the skin
    overhang_deg : faces that lean farther from upright than this are held up
    layer_mm : what hangs less than a layer above the bed is held by the bed
    """

    mesh: Mesh
    is_skin_side: Bools
    overhang_deg: float
    layer_mm: float

    def supports(self, up: Floats) -> Supports:
        """Measure the supports with `up` (3,) upward: a ray down from at most 6000 places, evenly over what hangs over."""
        steep = self._areas @ up
        height = self._middles @ up
        lowest = float((self.mesh.vertices @ up).min())
        hangs = np.flatnonzero(
            (steep < -np.sin(np.radians(self.overhang_deg)) * self._sizes) & (height > lowest + self.layer_mm)
        )
        if len(hangs) == 0:
            return Supports()
        places = _spread(self._sizes[hangs], hangs)
        share = self._sizes[hangs].sum() / len(places)
        below, drop = self._surface.first_hit(self._middles[places] - BELOW_MM * up, -up)
        drop = np.where(below >= 0, drop, height[places] - lowest)
        touches_skin = self.is_skin_side[places] | ((below >= 0) & self.is_skin_side[below])
        shadow = -steep[places] / self._sizes[places] * share
        return Supports(
            float(self._sizes[hangs].sum()),
            float((shadow * drop).sum()),
            float(share * touches_skin.sum()),
            _midst(self._middles[places[touches_skin]]),
        )

    @cached_property
    def _areas(self) -> Floats:
        return self.mesh.area_vectors()

    @cached_property
    def _sizes(self) -> Floats:
        return np.asarray(np.linalg.norm(self._areas, axis=1))

    @cached_property
    def _middles(self) -> Floats:
        return np.asarray(self.mesh.corners().mean(axis=1))

    @cached_property
    def _surface(self) -> Surface:
        return Surface(self.mesh)


def _midst(points: Floats) -> Floats | None:
    """The one of some points (n, 3) nearest to their mean."""
    if len(points) == 0:
        return None
    return points[int(np.argmin(np.linalg.norm(points - points.mean(axis=0), axis=1)))]


def _spread(sizes: Floats, numbers: Ints) -> Ints:
    """At most `MOST_RAYS` of the triangles, evenly over their area; large ones several times."""
    n = min(MOST_RAYS, 4 * len(numbers))
    steps = (np.arange(n) + 0.5) / n
    along = np.cumsum(sizes)
    return numbers[np.minimum(np.searchsorted(along / along[-1], steps), len(numbers) - 1)]
