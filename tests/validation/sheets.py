"""Plates, arcs and rings as wedges, loaded by balanced forces: bodies whose answer is known by a formula."""

from collections.abc import Callable

import numpy as np

from print3d.mechanics.wedges import Wedges

Shape = Callable[[np.ndarray, np.ndarray, float], np.ndarray]


def sheet(cells: tuple[int, int], shape: Shape, thickness: float, *, is_closed: bool = False) -> Wedges:
    """A sheet over the unit square, (u, v) and depth -> points; closed in v if asked."""
    n_u, n_v = cells
    u, v = np.linspace(0.0, 1.0, n_u + 1), np.linspace(0.0, 1.0, n_v + 1)[: n_v if is_closed else None]
    grid_u, grid_v = (each.ravel() for each in np.meshgrid(u, v, indexing="ij"))
    ids = np.arange(len(grid_u)).reshape(len(u), len(v))
    here, there = (ids, np.roll(ids, -1, axis=1)) if is_closed else (ids[:, :-1], ids[:, 1:])
    a, b, c, d = (each.ravel() for each in (here[:-1], here[1:], there[1:], there[:-1]))
    triangles = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Wedges(
        shape(grid_u, grid_v, 0.0), shape(grid_u, grid_v, thickness), triangles, np.full(len(grid_u), -1)
    )


def plate(length: float, width: float) -> Shape:
    """A flat plate along x."""
    return lambda u, v, depth: np.column_stack([length * u, width * v, np.full(len(u), depth)])


def arc(radius: float, thickness: float, half_angle: float, length: float) -> Shape:
    """An arc of a tube around x, its middle up; `radius` of the wall's middle."""

    def points(u: np.ndarray, v: np.ndarray, depth: float) -> np.ndarray:
        angle, at = (2.0 * v - 1.0) * half_angle, radius - thickness / 2.0 + depth
        return np.column_stack([length * u, at * np.sin(angle), at * np.cos(angle)])

    return points


def spread(wedges: Wedges, where: np.ndarray, force: tuple[float, float, float]) -> np.ndarray:
    """A force shared evenly by the points `where`."""
    forces = np.zeros_like(wedges.points)
    forces[where] = np.array(force) / where.sum()
    return forces


def three_point_bent(wedges: Wedges, force: float) -> np.ndarray:
    """Half of the force down at either end, all of it up in the middle: twice a cantilever of half the length."""
    x = wedges.points[:, 0]
    middle, end = (x.min() + x.max()) / 2.0, x.max() - 1e-6
    return (
        spread(wedges, np.abs(x - middle) < 1e-6, (0.0, 0.0, force))
        + spread(wedges, x > end, (0.0, 0.0, -force / 2.0))
        + spread(wedges, x < x.min() + 1e-6, (0.0, 0.0, -force / 2.0))
    )
