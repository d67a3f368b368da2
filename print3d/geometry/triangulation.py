"""Triangulate a flat region bounded by closed loops, keeping every loop edge.

Delaunay keeps an edge between neighbouring loop samples as long as no other point lies in the circle over
that edge. Loops are therefore sampled more finely than the interior, interior points keep their distance
from the loops, and the promise is verified afterwards.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Delaunay, KDTree

from print3d.errors import MeshingError
from print3d.geometry.types import Floats, Ints
from print3d.language.message import message

EdgePieces = Callable[[Floats, Ints, Floats], Ints]
"""Points (n, 2), edges (k, 2) between them and the edges' middles (k, 2) -> into how many pieces each edge is to be cut."""

INTERIOR_DISTANCE = 0.65
"""Interior points stay this many interior spacings away from the loops; own choice."""

EDGE_DISTANCE = 0.6
"""Interior points also stay this many lengths of the nearest loop edge away, and so out of the circle over it."""

CLOSE_DISTANCE = 0.3
"""Cuts close to loops stay this many lengths of a loop edge away from its ends and from its middle: a circle over the edge that leaves
them out reaches 1.2 lengths to its other side at most, where there is no material."""

JITTER_MM = 1e-5
"""Breaks ties between points on one circle the same way in every period of a wrap-around pattern."""

MOST_PIECES = 3
"""An edge is cut into no more pieces than these."""

ROUNDS = 2
"""New points bring new edges, some of them between old points: those are looked at once more."""

SLIVER_MM2 = 1e-4
"""Three neighbours on a straight boundary can make a triangle of no area; it is no part of the region."""

LOOSE_MM = 1e-3
"""Along a boundary that is straight but for rounding a triangle lower than this may lie outside, beside none: own choice, far above rounding."""


@dataclass(frozen=True, eq=False)
class Region:
    """A flat region to triangulate.

    loops : closed loops (n_i, 2) that the triangulation keeps; boundaries and inner contours alike
    n_boundary : how many of them, from the first, bound the region: its outside first, then its holes
    steps_mm : per loop, what is added to the second coordinate from its last point to its first
    period_mm : period of the second coordinate, or None
    """

    loops: Sequence[Floats]
    n_boundary: int
    steps_mm: Sequence[float]
    period_mm: float | None = None

    def polygon(self) -> shapely.Geometry:
        """Return the bounded region; for a wrap-around region, three periods of it."""
        return polygon_of(self.loops[: self.n_boundary], self.steps_mm[: self.n_boundary], self.period_mm)


def polygon_of(
    loops: Sequence[Floats], steps_mm: Sequence[float], period_mm: float | None
) -> shapely.Geometry:
    """Return the region of `loops`: inside the first one, or between the two that wrap around, less the others.

    Three periods of it if it wraps around.
    """
    closed = [loop for loop, step in zip(loops, steps_mm, strict=True) if step == 0.0]
    wrapping = [loop if step > 0 else loop[::-1] for loop, step in zip(loops, steps_mm, strict=True) if step]
    shifts = [0.0] if period_mm is None else [-period_mm, 0.0, period_mm]
    rings = [shapely.Polygon(loop + [0.0, shift]) for loop in closed for shift in shifts]
    if wrapping:
        first, second = (_tiled(loop, shifts, period_mm or 0.0) for loop in wrapping)
        rings.insert(0, shapely.Polygon(np.vstack([first, second[::-1]])))
    region = rings[0].difference(shapely.union_all(rings[1:]))
    shapely.prepare(region)
    return region


def _tiled(loop: Floats, shifts: Sequence[float], period: float) -> Floats:
    """One wrap-around loop, running towards positive, repeated over all shifts and brought to its end."""
    copies = [loop + [0.0, shift] for shift in shifts]
    return np.vstack([*copies, loop[:1] + [0.0, shifts[-1] + period]])


def triangulate(
    region: Region, spacing_mm: float, pieces: EdgePieces | None = None, *, close: bool = False
) -> tuple[Floats, Ints]:
    """Return points (n, 2) and triangles (t, 3), counter-clockwise.

    The points of the loops come first, in order; interior points about `spacing_mm` apart follow, then those that cut edges
    into as many `pieces` as are asked, where no loop is too near; `close` lets them come closer to loops. In a wrap-around region
    triangles join across the period, on the same points.

    Raises MeshingError if a loop edge was lost.
    """
    outline, on_loops = region.polygon(), np.vstack(list(region.loops))
    away_from_loops = _Distance.from_points(region)
    lattice = _interior(outline, on_loops, spacing_mm, region.period_mm)
    points = np.vstack([on_loops, away_from_loops.kept(lattice, INTERIOR_DISTANCE * spacing_mm)])
    triangles = _triangles(region, outline, points)
    if pieces is not None:
        distance = _Distance.from_halves(region) if close else away_from_loops
        tested = np.empty((0, 2), dtype=np.int64)
        for _ in range(ROUNDS):
            edges = edges_of(triangles)
            cuts = _within_edges(points, _not_among(edges, tested), region.period_mm, pieces)
            tested, points = edges, np.vstack([points, distance.kept(cuts)])
            triangles = _triangles(region, outline, points)
    _refuse_lost_edges(region.loops, triangles)
    return points, triangles


@dataclass(frozen=True, eq=False)
class _Distance:
    """How far points must stay away from loops.

    tree : of places on loops, and on those of the neighbour periods
    least_mm : (n,) how far from each
    """

    tree: KDTree
    least_mm: Floats

    @classmethod
    def from_points(cls, region: Region) -> "_Distance":
        """Return the distance from the points of the loops."""
        return cls._from(region, np.vstack(list(region.loops)), EDGE_DISTANCE * _longest_edges(region))

    @classmethod
    def from_halves(cls, region: Region) -> "_Distance":
        """Return the distance from the points of the loops and the middles of their edges."""
        places = np.vstack(
            [
                *region.loops,
                *(_edge_middles(*each) for each in zip(region.loops, region.steps_mm, strict=True)),
            ]
        )
        return cls._from(region, places, CLOSE_DISTANCE * np.tile(_longest_edges(region), 2))

    @classmethod
    def _from(cls, region: Region, places: Floats, least_mm: Floats) -> "_Distance":
        tiled = _with_neighbour_periods(places, region.period_mm)
        return cls(KDTree(tiled), np.tile(least_mm, len(tiled) // len(places)))

    def kept(self, candidates: Floats, least_mm: float = 0.0) -> Floats:
        """Return those of the points (n, 2) that are as far away as they must, and by `least_mm`."""
        away, nearest = self.tree.query(candidates)
        return candidates[away >= np.maximum(least_mm, self.least_mm[nearest])]


def _triangles(region: Region, outline: shapely.Geometry, points: Floats) -> Ints:
    """Counter-clockwise triangles (t, 3) of the region; its loops come first among the points."""
    n_on_loops = sum(map(len, region.loops))
    triangles = _delaunay(outline, points, n_on_loops, region.period_mm)
    is_low: NDArray[np.bool_] = np.asarray((triangles < n_on_loops).all(axis=1))
    is_low[is_low] = _heights(points, triangles[is_low], region.period_mm) < LOOSE_MM
    wanted = _loop_edges(region.loops, len(points))
    while is_low.any():
        edges = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]], axis=2) @ [len(points), 1]
        every, counts = np.unique(edges, return_counts=True)
        loose = np.setdiff1d(every[counts == 1], wanted)
        keep = ~(is_low & np.isin(edges, loose).any(axis=1))
        if keep.all():
            break
        triangles, is_low = triangles[keep], is_low[keep]
    return triangles


def _heights(points: Floats, triangles: Ints, period: float | None) -> Floats:
    """Least heights (t,) of triangles."""
    sides = points[triangles[:, [1, 2, 0]]] - points[triangles]
    if period is not None:
        sides[..., 1] -= period * np.round(sides[..., 1] / period)
    doubled = sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]
    return np.asarray(np.abs(doubled) / np.linalg.norm(sides, axis=2).max(axis=1))


def _delaunay(outline: shapely.Geometry, points: Floats, n_on_loops: int, period: float | None) -> Ints:
    """Counter-clockwise triangles (t, 3) inside the outline; the first points lie on loops."""
    tiled = _with_neighbour_periods(points, period)
    jitter = np.random.default_rng(0).uniform(-JITTER_MM, JITTER_MM, points.shape)
    triangles = Delaunay(tiled + np.tile(jitter, (len(tiled) // len(points), 1))).simplices.astype(np.int64)
    triangles = triangles[_is_inside(outline, tiled, triangles, triangles % len(points) < n_on_loops)]
    return _one_period(_counter_clockwise(tiled, triangles), len(points), period)


def _within_edges(points: Floats, edges: Ints, period: float | None, pieces: EdgePieces) -> Floats:
    """Points (m, 2) that cut edges into pieces, in the base period."""
    start, step = points[edges[:, 0]], np.diff(points[edges], axis=1)[:, 0]
    if period is not None:
        step[:, 1] -= period * np.round(step[:, 1] / period)
    asked = np.minimum(pieces(points, edges, _folded(start + step / 2.0, period)), MOST_PIECES)
    cut = [
        start[asked == n] + k / n * step[asked == n] for n in range(2, MOST_PIECES + 1) for k in range(1, n)
    ]
    return _folded(np.vstack(cut), period)


def _folded(points: Floats, period: float | None) -> Floats:
    """Points (n, 2) brought to the base period."""
    return points if period is None else points - [0.0, period] * np.round(points / [1.0, period])


def _not_among(edges: Ints, others: Ints) -> Ints:
    """Those of the edges (k, 2) that are not among others."""
    n = int(edges.max(initial=0)) + 1
    return edges[~np.isin(edges @ [n, 1], others @ [n, 1])]


def edges_of(triangles: Ints) -> Ints:
    """Return every edge (k, 2) of the triangles once, its lower number first."""
    edges = np.sort(np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    n = int(triangles.max(initial=0)) + 1
    return np.column_stack(np.divmod(np.unique(edges[:, 0] * n + edges[:, 1]), n))


def _interior(outline: shapely.Geometry, on_loops: Floats, spacing: float, period: float | None) -> Floats:
    """A hexagonal lattice inside the outline; whole rows per period."""
    low, high = on_loops.min(axis=0) - spacing, on_loops.max(axis=0) + spacing
    if period is not None:
        low[1], high[1] = -period / 2, period / 2
    n_rows = max(2, 2 * int(np.ceil((high[1] - low[1]) / (np.sqrt(3.0) * spacing))))
    row = (high[1] - low[1]) / n_rows
    first, second = np.meshgrid(
        np.arange(low[0], high[0], spacing), low[1] + row * (np.arange(n_rows) + 0.5), indexing="ij"
    )
    first = first + 0.5 * spacing * (np.arange(n_rows) % 2)
    lattice = np.column_stack([first.ravel(), second.ravel()])
    return lattice[shapely.contains_xy(outline, lattice[:, 0], lattice[:, 1])]


def _is_inside(
    outline: shapely.Geometry, points: Floats, triangles: Ints, is_on_loop: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which triangles lie in the region.

    One with an interior corner does, as no triangle crosses a loop; the others are tested.
    """
    inside: NDArray[np.bool_] = np.logical_not(is_on_loop.all(axis=1))
    asked = np.flatnonzero(~inside)
    centres = points[triangles[asked]].mean(axis=1)
    inside[asked] = shapely.contains_xy(outline, centres[:, 0], centres[:, 1])
    return inside


def _longest_edges(region: Region) -> Floats:
    """For every loop point (n,), the longer of the two loop edges that meet there."""
    longest = []
    for loop, step in zip(region.loops, region.steps_mm, strict=True):
        ahead = np.linalg.norm(np.diff(np.vstack([loop, loop[:1] + [0.0, step]]), axis=0), axis=1)
        longest.append(np.maximum(ahead, np.roll(ahead, 1)))
    return np.concatenate(longest)


def _edge_middles(loop: Floats, step_mm: float) -> Floats:
    """The middle (n, 2) of the edge that starts from each point of a loop."""
    return (loop + np.vstack([loop[1:], loop[:1] + [0.0, step_mm]])) / 2.0


def _with_neighbour_periods(points: Floats, period: float | None) -> Floats:
    """The points of the base period, then those of the periods below and above."""
    if period is None:
        return points
    return np.vstack([points, points - [0.0, period], points + [0.0, period]])


def _counter_clockwise(points: Floats, triangles: Ints) -> Ints:
    """Turn the triangles that run clockwise, and drop those between points of one straight line."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    doubled = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    turned = np.where((doubled < 0.0)[:, None], triangles[:, ::-1], triangles)
    return turned[np.abs(doubled) > SLIVER_MM2]


def _one_period(triangles: Ints, n_points: int, period: float | None) -> Ints:
    """Keep each triangle once: those touching the base period, folded back onto its points."""
    if period is None:
        return triangles
    folded = triangles[(triangles < n_points).any(axis=1)] % n_points
    turn = np.argmin(folded, axis=1)
    folded = folded[np.arange(len(folded))[:, None], (turn[:, None] + np.arange(3)) % 3]
    return np.unique(folded, axis=0)


def _loop_edges(loops: Sequence[Floats], n: int) -> Ints:
    """Every edge of the loops as one number: its lower point times n, and the other."""
    counts = [len(loop) for loop in loops]
    starts = np.repeat(np.cumsum([0, *counts[:-1]]), counts)
    ids = np.arange(len(starts))
    following = starts + (ids - starts + 1) % np.repeat(counts, counts)
    return np.asarray(np.minimum(ids, following) * n + np.maximum(ids, following))


def _refuse_lost_edges(loops: Sequence[Floats], triangles: Ints) -> None:
    """Raise unless every loop edge is an edge of some triangle."""
    points = np.vstack(list(loops))
    n = max(len(points), int(triangles.max(initial=0)) + 1)
    have = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]], axis=2) @ [n, 1]
    lost = points[~np.isin(_loop_edges(loops, n), have)]
    if len(lost):
        along, around = lost[0]
        raise MeshingError(
            message("refusals.mesh.lost_edges", count=len(lost), along_mm=along, around_mm=around)
        )
