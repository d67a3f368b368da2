"""Drape a pattern on a skin: fit the inner and the outer face.

The inner face lies `clearance` along the skin's normals, the outer face the wall along the inner face's own
normals, so that the wall stays true where the inner face flares away from the skin.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from print3d.errors import ShapingError
from print3d.geometry.spline import SplineSurface, SurfaceFunction, fit_surface
from print3d.geometry.types import Floats, Ints
from print3d.inputs.problems import OPEN, Problem
from print3d.language.message import Message, message

ScalarMap = Callable[[Floats, Floats], Floats]

FIT_ERROR_MM = 0.01
"""Largest distance allowed between a fitted face and what it fits; a tape reads to 1 mm."""

LEAST_STRETCH = 0.15
"""A face offset inside a bend shrinks; below this share of its length it is about to fold."""

FIRST_SITE_SPACING_MM = 2.4
"""Spacing of the first fitting sites; there are more where the fit is too coarse. Own choice."""
FINER = 1.3
"""How many times more sites a direction gets whose fit was too coarse; own choice."""
MOST_SITES = 400
"""A face that is not fitted closely enough with these sites is left as it is; own choice."""


class FoldError(ShapingError):
    """A face folds over itself at (`along`, `around`) of the pattern plane, mm."""

    def __init__(
        self, along: float, around: float, why: Message, key: str = "", found: object = OPEN
    ) -> None:
        folds = message("refusals.shell.folds", along_mm=along, around_mm=around, why=why)
        super().__init__(Problem(key, found, folds))
        self.along = along
        self.around = around


@dataclass(frozen=True)
class Extent:
    """The rectangle of the pattern plane over which the faces are fitted, mm.

    material : the part of it that the pattern uses, where faces must not fold
    """

    along: tuple[float, float]
    around: tuple[float, float]
    material: shapely.Geometry
    period_mm: float | None = None

    @classmethod
    def around_outline(cls, outline: shapely.Polygon, beyond_mm: float) -> "Extent":
        """Return the extent that reaches beyond an outline.

        No rim is then evaluated at the very edge of a face.
        """
        material = outline.buffer(beyond_mm)
        low_along, low_around, high_along, high_around = material.bounds
        return cls((low_along, high_along), (low_around, high_around), material)

    def sites(self, n_along: int, n_around: int) -> tuple[Floats, Floats]:
        """Return evenly spaced fitting sites."""
        return np.linspace(*self.along, n_along), np.linspace(*self.around, n_around)


def drape(
    skin: SurfaceFunction, extent: Extent, clearance: ScalarMap, wall: ScalarMap
) -> tuple[SplineSurface, SplineSurface]:
    """Return the inner and the outer face, on the same knots.

    skin : pattern coordinates -> skin points (n, 3)
    clearance, wall : pattern coordinates -> mm (n,)

    Raises FoldError if the skin is bent, or the clearance rises, so sharply that a face would fold over itself.
    """
    counts = _first_counts(extent)
    while True:
        skin_face = _fit(skin, extent, counts)
        inner_points = _offset(skin_face, clearance)
        inner = _fit(inner_points, extent, counts)
        errors = np.maximum(
            _fit_errors(skin_face, skin, extent, counts), _fit_errors(inner, inner_points, extent, counts)
        )
        too_coarse = errors > FIT_ERROR_MM
        if not too_coarse.any() or counts.max() > MOST_SITES:
            break
        counts = np.where(too_coarse, np.ceil(FINER * counts).astype(int), counts)
    outer = _fit(_offset(inner, wall), extent, counts)
    _refuse_folds(skin_face, inner, extent, counts)
    _refuse_folds(inner, outer, extent, counts)
    return inner, outer


def even(distance_mm: float) -> ScalarMap:
    """Return the map that is the same everywhere."""
    return lambda along, _: np.full(len(along), distance_mm)


def first_fit(function: SurfaceFunction, extent: Extent) -> SplineSurface:
    """Return a surface through places `FIRST_SITE_SPACING_MM` apart: near enough to look for hollows on."""
    return _fit(function, extent, _first_counts(extent))


def _first_counts(extent: Extent) -> Ints:
    return np.array([_first_count(extent.along), _first_count(extent.around)])


def _first_count(span: tuple[float, float]) -> int:
    return max(8, int(np.ceil((span[1] - span[0]) / FIRST_SITE_SPACING_MM)) + 1)


def _fit(function: SurfaceFunction, extent: Extent, counts: Ints) -> SplineSurface:
    along, around = extent.sites(int(counts[0]), int(counts[1]))
    return fit_surface(function, along, around, extent.period_mm)


def _offset(face: SplineSurface, distance: ScalarMap) -> SurfaceFunction:
    """Points `distance` along the normals of `face`."""

    def points(along: Floats, around: Floats) -> Floats:
        return face.points(along, around) + distance(along, around)[:, None] * face.normals(along, around)

    return points


def _fit_errors(face: SplineSurface, function: SurfaceFunction, extent: Extent, counts: Ints) -> Floats:
    """Largest error between the sites, for refining along and around: on the site lines of the other direction."""
    along, around = extent.sites(int(counts[0]), int(counts[1]))
    errors = []
    for first, second in (
        ((along[1:] + along[:-1]) / 2, around[1:-1:2]),
        (along[1:-1:2], (around[1:] + around[:-1]) / 2),
    ):
        grid = np.meshgrid(first, second, indexing="ij")
        at = grid[0].ravel(), grid[1].ravel()
        errors.append(float(np.linalg.norm(face.points(*at) - function(*at), axis=1).max()))
    return np.array(errors)


def _refuse_folds(below: SplineSurface, above: SplineSurface, extent: Extent, counts: Ints) -> None:
    """Raise if the upper face runs backwards over the lower one, as an offset does inside a sharp bend."""
    sites = extent.sites(2 * int(counts[0]), 2 * int(counts[1]))
    grid = np.meshgrid(*sites, indexing="ij")
    used = shapely.intersects_xy(extent.material, *grid)
    at = grid[0][used], grid[1][used]
    tangents = (face.derivatives_on_grid(*sites) for face in (below, above))
    for low, high in zip(*tangents, strict=True):
        agreement = np.einsum("ij,ij->i", low[used], high[used]) / np.einsum("ij,ij->i", low[used], low[used])
        if agreement.min() < LEAST_STRETCH:
            worst = int(agreement.argmin())
            along, around = float(at[0][worst]), float(at[1][worst])
            raise FoldError(along, around, message("refusals.shell.bent_sharply"))
