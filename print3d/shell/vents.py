"""Place vents: a hexagonal or square grid of round holes where the shell can spare the material."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from print3d.geometry.types import Floats
from print3d.shell.curves import circle
from print3d.shell.pattern import Loop

SHIFTS_AROUND = {"hexagonal": (0.0,), "square": (0.0, 0.5)}
"""Shifts around, in rows, that leave the grid symmetric about the pattern's middle line."""

GRID_SHIFTS = (0.0, 0.25, 0.5, 0.75)
"""Fractions of the pitch by which the grid is tried along the shell; the one with most vents wins."""


@dataclass(frozen=True)
class VentGrid:
    """What a grid of vents looks like.

    diameter_mm, pitch_mm : on the skin
    scale : along -> skin mm per pattern mm; vents keep their size on the skin, and the pitch is wide enough
        where the pattern shrinks most
    """

    grid: Literal["hexagonal", "square"]
    diameter_mm: float
    pitch_mm: float
    scale: Callable[[Floats], Floats] = np.ones_like
    chord_error_mm: float = 0.006


def place_vents(
    grid: VentGrid, allowed: shapely.Geometry, wanted: Sequence[tuple[float, float]] = ()
) -> tuple[Loop, ...]:
    """Return the vents that lie wholly inside `allowed`.

    allowed : the pattern less margins to edges, slots, joints, bony points and letters
    wanted : places at which a vent lies if it is allowed there; the grid makes room for it
    """
    if allowed.is_empty:
        return ()
    low_along, _, high_along, _ = allowed.bounds
    least_scale = float(grid.scale(np.linspace(low_along, high_along, 50)).min())
    centres_allowed = allowed.buffer(-grid.diameter_mm / 2 / least_scale)
    if centres_allowed.is_empty:
        return ()
    pitch = grid.pitch_mm / least_scale
    kept = shapely.MultiPoint([place for place in wanted if shapely.intersects_xy(centres_allowed, *place)])
    best = np.empty((0, 2))
    for shift_along in GRID_SHIFTS:
        for shift_around in SHIFTS_AROUND[grid.grid]:
            points = _lattice(grid.grid, pitch, centres_allowed.bounds, (shift_along, shift_around))
            inside = points[shapely.intersects_xy(centres_allowed, points[:, 0], points[:, 1])]
            inside = inside[~shapely.dwithin(shapely.points(inside), kept, pitch)]
            if len(inside) > len(best):
                best = inside
    best = np.vstack([best, shapely.get_coordinates(kept)])
    radii = grid.diameter_mm / 2 / grid.scale(best[:, 0])
    return tuple(
        circle(centre, r, "vent", grid.chord_error_mm) for centre, r in zip(best, radii, strict=True)
    )


def well_apart(vents: Sequence[Loop], between_mm: float) -> tuple[Loop, ...]:
    """Return the vents without those that leave less than `between_mm` of pattern to others.

    The one that is near most others goes first.
    """
    holes = np.array([shapely.Polygon(vent.points) for vent in vents], dtype=object)
    pairs = shapely.STRtree(holes).query(holes, predicate="dwithin", distance=between_mm).T
    pairs = pairs[pairs[:, 0] < pairs[:, 1]]
    left_out = set[int]()
    while len(pairs):
        worst = int(np.argmax(np.bincount(pairs.ravel())))
        left_out.add(worst)
        pairs = pairs[(pairs != worst).all(axis=1)]
    return tuple(vent for k, vent in enumerate(vents) if k not in left_out)


def _lattice(
    grid: str, pitch: float, bounds: tuple[float, float, float, float], shift: tuple[float, float]
) -> Floats:
    """Grid points (n, 2) over `bounds`, symmetric about around = 0."""
    row = pitch * (np.sqrt(3.0) / 2.0 if grid == "hexagonal" else 1.0)
    low_along, low_around, high_along, high_around = bounds
    n_along = int((high_along - low_along) / pitch) + 3
    n_around = int(max(-low_around, high_around) / row) + 2
    rows = np.arange(-n_around, n_around + 1)
    columns = np.arange(-1, n_along)
    first, second = np.meshgrid(columns.astype(float), rows.astype(float), indexing="ij")
    if grid == "hexagonal":
        first = first + 0.5 * (rows % 2)
    return np.column_stack(
        [low_along + pitch * (first.ravel() + shift[0]), row * (second.ravel() + shift[1])]
    )
