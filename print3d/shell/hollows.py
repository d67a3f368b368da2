r"""Bridge the hollows of a skin that are too tight for a wall.

outer face   \            /     A wall laid on a hollow shrinks by its thickness over the hollow's radius, and folds where that is
              \__________/      less than the wall. Where the planned inner face is hollower than a wall can follow, the clearance
inner face      `.____.'        grows at the speed by which its curvature is too much, and comes to rest as the least clearance
planned           `__'          with which no place is too hollow. Everywhere else it stays as planned.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from print3d.geometry.spline import SurfaceFunction
from print3d.geometry.types import Floats, Ints
from print3d.shell.drape import Extent, ScalarMap, first_fit

Bools = NDArray[np.bool_]

LEAST_LEFT = 0.4
"""Inside a hollow the outer face keeps this share of the inner one's length; own choice, well above where a face is refused."""
SPACING_MM = 0.7
"""Spacing of the grid on which hollows are looked for; own choice."""
BEYOND = 4
"""Spacings by which the grid goes beyond the faces."""
GROWTH_STEP = 0.4
"""Share of the squared spacing by which a hollow grows in a step; stable below one half."""
SMOOTHING_STEP = 0.2
"""Share of the squared spacing by which the lift is smoothed in a step; stable below one quarter."""
FASTEST = 0.1
"""Of the spacing: the face grows by no more in a step, so that it never runs over itself."""
STEPS_PER_ROUND = 25
"""Steps between two looks at the whole grid, over what is too hollow and as many places around it; own choice."""
MOST_ROUNDS = 60
"""Looks at the whole grid until a hollow is left as it is; own choice."""
MOST_LIFT_MM = 2.5
"""A shell that stood farther off would no longer hold what it lies on: such a hollow is left, to be refused; own choice."""
INNER = np.s_[1:-1, 1:-1]
SETTLED = 0.01
"""At rest when no curvature is more than this share too much; own choice."""


def bridged(skin: SurfaceFunction, extent: Extent, clearance: ScalarMap, wall_mm: float) -> ScalarMap:
    """Return the least clearance, nowhere below the planned one, on which the material can be laid without crowding itself.

    skin : pattern coordinates -> skin points (n, 3)
    clearance : pattern coordinates -> planned mm (n,)
    """
    grid = _grid(skin, extent, clearance)
    # guard: hollows are bridged
    lift = _least_lift(grid, (1.0 - LEAST_LEFT) / wall_mm)
    if not lift.any():
        return clearance
    further = RectBivariateSpline(grid.along, grid.around, lift)
    return lambda along, around: clearance(along, around) + further.ev(along, around)


@dataclass(frozen=True, eq=False)
class _Grid:
    """The planned inner face on a grid of pattern places.

    points, normals : (n, m, 3) of the planned inner face, and of the skin
    is_used : (n, m), whether the pattern has material there
    """

    along: Floats
    around: Floats
    points: Floats
    normals: Floats
    is_used: Bools

    def part(self, rows: slice, columns: slice) -> "_Grid":
        """Return the grid over a range of rows and of columns."""
        at = rows, columns
        return _Grid(
            self.along[rows], self.around[columns], self.points[at], self.normals[at], self.is_used[at]
        )


def _grid(skin: SurfaceFunction, extent: Extent, clearance: ScalarMap) -> _Grid:
    along, around = (_sites(span) for span in (extent.along, extent.around))
    face = first_fit(skin, extent)
    normals = np.cross(*face.derivatives_on_grid(along, around))
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    places = np.meshgrid(along, around, indexing="ij")
    gap = clearance(places[0].ravel(), places[1].ravel()).reshape(places[0].shape)
    points = face.points_on_grid(along, around) + gap[..., None] * normals
    return _Grid(along, around, points, normals, shapely.intersects_xy(extent.material, *places))


def _sites(span: tuple[float, float]) -> Floats:
    n = int(np.ceil((span[1] - span[0]) / SPACING_MM))
    return np.asarray(span[0] + (span[1] - span[0]) / n * np.arange(-BEYOND, n + BEYOND + 1))


def _least_lift(grid: _Grid, most_hollow: float) -> Floats:
    """Further clearance (n, m): grown where there is material, and drawn along smoothly where there is none.

    None where no clearance of up to `MOST_LIFT_MM` helps: a face that folds on the skin already only folds the more.
    """
    lift = np.zeros(grid.is_used.shape)
    for _ in range(MOST_ROUNDS):
        curvature, _ = _hollow(grid, lift)
        too_hollow = grid.is_used[INNER] & (curvature > (1.0 + SETTLED) * most_hollow)
        if not too_hollow.any():
            return lift
        if lift.max() > MOST_LIFT_MM:
            break
        rows, columns = np.nonzero(too_hollow)
        near = _around(rows), _around(columns)
        _grow(grid.part(*near), lift[near], most_hollow)
    return np.zeros_like(lift)


def _around(places: Ints) -> slice:
    """The range of all places with `STEPS_PER_ROUND` more on either side."""
    return slice(max(int(places.min()) - STEPS_PER_ROUND, 0), int(places.max()) + STEPS_PER_ROUND + 3)


def _grow(grid: _Grid, lift: Floats, most_hollow: float) -> None:
    """Change lift (n, m) by one round of steps; its border stays."""
    inner, used = lift[INNER], grid.is_used[INNER]
    for _ in range(STEPS_PER_ROUND):
        curvature, squared_spacing = _hollow(grid, lift)
        step = GROWTH_STEP * squared_spacing * np.maximum(curvature - most_hollow, 0.0)
        beside = lift[2:, 1:-1] + lift[:-2, 1:-1] + lift[1:-1, 2:] + lift[1:-1, :-2]
        inner += np.where(
            used,
            np.minimum(step, FASTEST * np.sqrt(squared_spacing)),
            SMOOTHING_STEP * (beside - 4.0 * inner),
        )


def _hollow(grid: _Grid, lift: Floats) -> tuple[Floats, Floats]:
    """How hollow the lifted face is inside the grid's border (n - 2, m - 2).

    Second comes the smaller squared spacing there. The greatest principal curvature, 1/mm, by the two fundamental forms from central differences.
    """
    p = grid.points + lift[..., None] * grid.normals
    u, v = (p[2:, 1:-1] - p[:-2, 1:-1]) / 2.0, (p[1:-1, 2:] - p[1:-1, :-2]) / 2.0
    uu = p[2:, 1:-1] - 2.0 * p[INNER] + p[:-2, 1:-1]
    vv = p[1:-1, 2:] - 2.0 * p[INNER] + p[1:-1, :-2]
    uv = (p[2:, 2:] - p[2:, :-2] - p[:-2, 2:] + p[:-2, :-2]) / 4.0
    normal = np.cross(u, v)
    normal /= np.maximum(np.sqrt(_dot(normal, normal)), 1e-9)[..., None]
    e, f, g = _dot(u, u), _dot(u, v), _dot(v, v)
    el, em, en = _dot(uu, normal), _dot(uv, normal), _dot(vv, normal)
    area_squared = np.maximum(e * g - f * f, 1e-12)
    mean = (e * en - 2.0 * f * em + g * el) / (2.0 * area_squared)
    gauss = (el * en - em * em) / area_squared
    return mean + np.sqrt(np.maximum(mean * mean - gauss, 0.0)), np.minimum(e, g)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("ijk,ijk->ij", a, b))
