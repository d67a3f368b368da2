"""Bicubic B-spline surfaces over the pattern plane, shared by the mesh and the CAD solid.

Mesh and solid evaluate the same poles, so that they can differ only by their tessellation.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import BSpline, NdBSpline, make_interp_spline

from print3d.geometry.types import Floats

SurfaceFunction = Callable[[Floats, Floats], Floats]

DEGREE = 3
"""Cubic: the lowest degree whose curvature has no jumps."""


@dataclass(frozen=True, eq=False)
class SplineSurface:
    """A bicubic B-spline surface: pattern coordinates in, points of the limb frame out.

    knots_along : (n_along + 4,) mm
    knots_around : (n_around + 4,) mm; for a surface that closes on itself the knots go on
        periodically beyond both ends of the base interval
    poles : (n_along, n_around, 3) mm, limb frame
    period_mm : length around after which the surface repeats, or None if it is open
    """

    knots_along: Floats
    knots_around: Floats
    poles: Floats
    period_mm: float | None = None

    def points(self, along: Floats, around: Floats) -> Floats:
        """Return points (n, 3) at pattern coordinates `along` (n,) and `around` (n,)."""
        return self._evaluate(along, around, (0, 0))

    def derivatives(self, along: Floats, around: Floats) -> tuple[Floats, Floats]:
        """Return the two tangents (n, 3), by `along` and by `around`."""
        return self._evaluate(along, around, (1, 0)), self._evaluate(along, around, (0, 1))

    def normals(self, along: Floats, around: Floats) -> Floats:
        """Return unit normals (n, 3), away from the limb (along x around is outward)."""
        d_along, d_around = self.derivatives(along, around)
        cross = np.cross(d_along, d_around)
        return cross / np.linalg.norm(cross, axis=1, keepdims=True)

    def points_on_grid(self, along: Floats, around: Floats) -> Floats:
        """Return points (n, m, 3) on a grid of sites `along` (n,) and `around` (m,), as `derivatives_on_grid` takes them."""
        return self._on_grid(along, around, (0, 0))

    def derivatives_on_grid(self, along: Floats, around: Floats) -> tuple[Floats, Floats]:
        """Return the two tangents (n, m, 3) on a grid of sites `along` (n,) and `around` (m,).

        Sites of a surface that closes on itself lie within its base period.
        """
        return self._on_grid(along, around, (1, 0)), self._on_grid(along, around, (0, 1))

    def _on_grid(self, along: Floats, around: Floats, order: tuple[int, int]) -> Floats:
        rows = BSpline(self.knots_along, self.poles, DEGREE)(along, nu=order[0])
        return np.asarray(BSpline(self.knots_around, rows, DEGREE, axis=1)(around, nu=order[1]))

    def _evaluate(self, along: Floats, around: Floats, order: tuple[int, int]) -> Floats:
        if self.period_mm is not None:
            start = self.knots_around[DEGREE]
            around = start + np.mod(around - start, self.period_mm)
        return self._spline(np.column_stack([along, around]), nu=order)

    @cached_property
    def _spline(self) -> NdBSpline:
        return NdBSpline((self.knots_along, self.knots_around), self.poles, DEGREE)


def fit_surface(
    function: SurfaceFunction, along_sites: Floats, around_sites: Floats, period_mm: float | None = None
) -> SplineSurface:
    """Interpolate `function` on the grid of sites by one bicubic surface.

    function : takes two (n,) arrays of pattern coordinates, returns (n, 3) points
    along_sites, around_sites : strictly increasing, at least 4 each; for a periodic surface
        `around_sites` spans exactly one period and includes both ends
    """
    grid_along, grid_around = np.meshgrid(along_sites, around_sites, indexing="ij")
    values = function(grid_along.ravel(), grid_around.ravel()).reshape(*grid_along.shape, 3)
    by_along = make_interp_spline(along_sites, values, k=DEGREE)
    columns = np.swapaxes(by_along.c, 0, 1)
    if period_mm is not None:
        columns[-1] = columns[0]
    by_around = make_interp_spline(
        around_sites, columns, k=DEGREE, bc_type=None if period_mm is None else "periodic"
    )
    poles = np.ascontiguousarray(np.swapaxes(by_around.c, 0, 1))
    return SplineSurface(by_along.t, by_around.t, poles, period_mm)
