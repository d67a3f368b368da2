"""A shell rolled out flat at true size, with as little stretch as its surface allows.

The pattern plane keeps angles, not lengths, so it is no cutting pattern. Here the mid surface is triangulated, and the triangles are
laid out by the as-rigid-as-possible method (Liu et al. 2008, Computer Graphics Forum 27:1495-1504: turn every triangle to where it lies,
then solve for the points), with the trim line's edges as stiff rods so that its length is kept best. A wrap-around shell is first cut
open across its narrowest place. What the surface cannot do without stretch is measured and stated.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.interpolate import CloughTocher2DInterpolator, CubicSpline
from scipy.sparse import coo_array
from scipy.sparse.linalg import splu

from print3d.geometry.triangulation import Region, polygon_of, triangulate
from print3d.geometry.types import Floats, Ints
from print3d.shell.curves import sampled
from print3d.shell.definition import ShellDefinition
from print3d.shell.pattern import Loop, LoopKind

POINTS_WANTED = 1500
"""About how many points are laid out; own choice."""
SPACING_MM = (0.9, 5.0)
"""The points lie no closer and no farther apart than this; own choice."""
ROUNDS = 120
"""Most rounds of turning triangles and solving for points; own choice."""
SETTLED_MM = 1e-4
"""The layout rests when no point moves farther than this in a round; own choice."""
ROD_WEIGHT = 200.0
"""Stiffness of the trim line's edges against that of a triangle's; its length then keeps to 0.6 % (measured)."""
LEAST_WEIGHT = 0.05
"""Cotangents of obtuse angles are raised to this, so that no edge pushes; own choice."""
DRAWN_MM = 0.4
"""Step of drawn curves, below the width of a pencil line; own choice."""
SEAM_TRIALS = 72
"""Places around, 5 degrees apart, where a wrap-around shell may be cut open; own choice."""


@dataclass(frozen=True, eq=False)
class FlatLoop:
    """One closed curve (n, 2) of a flat pattern, mm; the first point is not repeated."""

    kind: LoopKind
    points: Floats

    @property
    def length_mm(self) -> float:
        """Length of the closed curve."""
        return closed_length_mm(self.points)


@dataclass(frozen=True, eq=False)
class FlatShell:
    """A shell laid flat, seen from outside, the fingertip's end up.

    boundary : outlines: the outer one first, then those of openings
    inner : vents, slots, holes and letters
    seam : the two cut ends (2, 2, 2) of a wrap-around shell, each as a line across; or None
    wall_mm : thickness of the shell
    stretch_percent : how much longer or shorter lines in the surface are than on the sheet, 95 of 100 of them less than this
    """

    boundary: tuple[FlatLoop, ...]
    inner: tuple[FlatLoop, ...]
    seam: Floats | None
    wall_mm: float
    stretch_percent: float

    @property
    def trim_mm(self) -> float:
        """Length of the trim line, openings and all; the cut across a wrap-around shell is no part of it."""
        cut = (
            0.0
            if self.seam is None
            else float(np.linalg.norm(self.seam[:, 1] - self.seam[:, 0], axis=1).sum())
        )
        return sum(loop.length_mm for loop in self.boundary) - cut

    def moved(self, matrix: Floats) -> "FlatShell":
        """Return the same pattern with every point multiplied by a (2, 2) matrix."""

        def loops(each: tuple[FlatLoop, ...]) -> tuple[FlatLoop, ...]:
            return tuple(FlatLoop(loop.kind, loop.points @ matrix.T) for loop in each)

        seam = None if self.seam is None else self.seam @ matrix.T
        return replace(self, boundary=loops(self.boundary), inner=loops(self.inner), seam=seam)

    def mirrored(self) -> "FlatShell":
        """Return the pattern for the other hand."""
        return self.moved(np.diag([-1.0, 1.0]))

    @property
    def box_mm(self) -> tuple[Floats, Floats]:
        """Lower left and upper right corner."""
        points = np.vstack([loop.points for loop in self.boundary])
        return points.min(axis=0), points.max(axis=0)


def closed_length_mm(points: Floats) -> float:
    """Return the length of a closed polyline (n, d) whose first point is not repeated."""
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def flatten(definition: ShellDefinition) -> FlatShell:
    """Lay the mid surface of a shell flat."""
    region, kept, seam_at = _region(definition)
    spacing = float(np.clip(np.sqrt(region.area / POINTS_WANTED), *SPACING_MM))
    rings = [region.exterior, *region.interiors]
    loops = [
        sampled(np.asarray(ring.coords)[:-1], "outline", spacing, counter_clockwise=number == 0).points
        for number, ring in enumerate(rings)
    ]
    flat, triangles = triangulate(Region(loops, len(loops), [0.0] * len(loops)), spacing)
    surface = definition.points(flat[:, 0], flat[:, 1], np.full(len(flat), definition.wall_mm / 2))
    rods = _ring_edges([len(loop) for loop in loops])
    laid = _aligned(_laid_flat(flat, surface, triangles, rods), flat)

    bounds = np.cumsum([0, *(len(loop) for loop in loops)])
    boundary = tuple(
        FlatLoop("outline" if number == 0 else "opening", _smooth(laid[start:stop]))
        for number, (start, stop) in enumerate(zip(bounds[:-1], bounds[1:], strict=True))
    )
    into_plane = CloughTocher2DInterpolator(flat, laid)
    inner = tuple(FlatLoop(loop.kind, into_plane(loop.points)) for loop in kept)
    seam = None if seam_at is None else laid[_seam_ends(loops[0], seam_at, definition.pattern.period_mm)]
    return FlatShell(boundary, inner, seam, definition.wall_mm, _stretch_percent(laid, surface, triangles))


def _region(definition: ShellDefinition) -> tuple[shapely.Polygon, list[Loop], float | None]:
    """The material with its large openings, the loops drawn inside it, and where a wrap-around pattern is cut."""
    pattern = definition.pattern
    if pattern.period_mm is None:
        return shapely.Polygon(pattern.boundary[0].points), [*pattern.holes, *pattern.marks], None
    openings = [hole for hole in pattern.holes if hole.kind == "opening"]
    cutting = [*pattern.boundary, *openings]
    tiled = polygon_of(
        [loop.points for loop in cutting], [loop.step_mm for loop in cutting], pattern.period_mm
    )
    low, _, high, _ = tiled.bounds
    seam, region = _opened(tiled, (low - 1.0, high + 1.0), pattern.period_mm)
    kept = [hole for hole in pattern.holes if hole.kind != "opening"]
    return region, [_in_window(loop, seam, pattern.period_mm) for loop in (*kept, *pattern.marks)], seam


def _opened(
    tiled: shapely.Geometry, along: tuple[float, float], period: float
) -> tuple[float, shapely.Polygon]:
    """The place around at which a cut through one band leaves one piece, and is shortest; and that piece."""
    best: tuple[float, float, shapely.Polygon] | None = None
    for seam in -period / 2 + period * np.arange(SEAM_TRIALS) / SEAM_TRIALS:
        piece = tiled.intersection(shapely.box(along[0], seam, along[1], seam + period))
        cut = tiled.intersection(shapely.LineString([(along[0], seam), (along[1], seam)])).length
        if piece.geom_type == "Polygon" and (best is None or cut < best[0]):
            best = cut, float(seam), piece
    if best is None:
        raise ValueError("a closed band has no place to be cut open")
    return best[1], best[2]


def _in_window(loop: Loop, seam: float, period: float) -> Loop:
    turns = np.floor((loop.points[:, 1].mean() - seam) / period)
    return Loop(loop.kind, loop.points - [0.0, period * turns])


def _seam_ends(outline: Floats, seam: float, period: float | None) -> Ints:
    """Which outline points (2, 2) lie nearest to the corners of either cut end."""
    ends = []
    for around in (seam, seam + (period or 0.0)):
        cut = outline[np.abs(outline[:, 1] - around) < SPACING_MM[0]]
        corners = [[cut[:, 0].min(), around], [cut[:, 0].max(), around]]
        ends.append([int(np.linalg.norm(outline - corner, axis=1).argmin()) for corner in corners])
    return np.array(ends)


def _ring_edges(counts: list[int]) -> Ints:
    """Edges (e, 2) of the boundary rings, whose points come first."""
    edges, start = [], 0
    for count in counts:
        ids = start + np.arange(count)
        edges.append(np.column_stack([ids, np.roll(ids, -1)]))
        start += count
    return np.vstack(edges)


def _laid_flat(flat: Floats, surface: Floats, triangles: Ints, rods: Ints) -> Floats:
    """The points (n, 2) in the plane: turn each triangle to fit, solve for the points, until they rest."""
    n = len(flat)
    corners = surface[triangles]
    rigid = _in_own_plane(corners)
    first, second = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    wanted = (rigid - np.roll(rigid, -1, axis=1)).reshape(-1, 2)
    weight = np.maximum(_cotangents(corners), LEAST_WEIGHT).ravel()
    rod_mm = np.linalg.norm(surface[rods[:, 0]] - surface[rods[:, 1]], axis=1)

    start = np.concatenate([first, rods[:, 0]])
    stop = np.concatenate([second, rods[:, 1]])
    stiffness = np.concatenate([weight, np.full(len(rods), ROD_WEIGHT)])
    edges = np.arange(len(start))
    incidence = coo_array(
        (np.repeat([1.0, -1.0], len(start)), (np.tile(edges, 2), np.concatenate([start, stop]))),
        shape=(len(start), n),
    ).tocsr()
    pull = incidence.T.multiply(stiffness).tocsr()
    held = pull @ incidence + coo_array(([1.0], ([0], [0])), shape=(n, n))
    solver = splu(held.tocsc())

    at = flat.copy()
    for _ in range(ROUNDS):
        edge = (at[first] - at[second]).reshape(-1, 3, 2)
        fit = np.einsum("tei,tej,te->tij", edge, wanted.reshape(-1, 3, 2), weight.reshape(-1, 3))
        turn = np.arctan2(fit[:, 1, 0] - fit[:, 0, 1], fit[:, 0, 0] + fit[:, 1, 1])
        turned = _turned(wanted.reshape(-1, 3, 2), turn).reshape(-1, 2)
        rod = at[rods[:, 0]] - at[rods[:, 1]]
        rod *= (rod_mm / np.linalg.norm(rod, axis=1))[:, None]
        load = pull @ np.vstack([turned, rod])
        load[0] += at[0]
        moved = solver.solve(load)
        done = np.abs(moved - at).max() < SETTLED_MM
        at = moved
        if done:
            break
    return at


def _in_own_plane(corners: Floats) -> Floats:
    """Each triangle (t, 3, 3) laid into a plane of its own (t, 3, 2), counter-clockwise."""
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    length = np.linalg.norm(first, axis=1)
    along = np.einsum("ij,ij->i", first, second) / length
    across = np.linalg.norm(np.cross(first, second), axis=1) / length
    zero = np.zeros_like(length)
    return np.stack(
        [np.column_stack([zero, zero]), np.column_stack([length, zero]), np.column_stack([along, across])],
        axis=1,
    )


def _cotangents(corners: Floats) -> Floats:
    """Cotangent (t, 3) of the angle opposite each edge 0-1, 1-2, 2-0."""
    edges = np.roll(corners, -1, axis=1) - corners
    double_area = np.linalg.norm(np.cross(edges[:, 0], edges[:, 1]), axis=1)
    before, after = np.roll(edges, -1, axis=1), np.roll(edges, -2, axis=1)
    return -np.einsum("tei,tei->te", before, after) / double_area[:, None]


def _turned(vectors: Floats, turn_rad: Floats) -> Floats:
    """Vectors (t, e, 2) turned by an angle (t,) each."""
    cos, sin = np.cos(turn_rad)[:, None], np.sin(turn_rad)[:, None]
    x, y = vectors[..., 0], vectors[..., 1]
    return np.stack([cos * x - sin * y, sin * x + cos * y], axis=-1)


def _aligned(laid: Floats, flat: Floats) -> Floats:
    """The layout turned so that `along` points up: the pattern plane's frame, turned by a quarter."""
    target = np.column_stack([-flat[:, 1], flat[:, 0]])
    here, there = laid - laid.mean(axis=0), target - target.mean(axis=0)
    fit = there.T @ here
    turn = np.arctan2(fit[1, 0] - fit[0, 1], fit[0, 0] + fit[1, 1])
    return _turned(here[None], np.array([turn]))[0]


def _smooth(ring: Floats) -> Floats:
    """A closed smooth curve through the points of a ring, in steps of `DRAWN_MM`."""
    closed = np.vstack([ring, ring[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    n = int(np.ceil(length[-1] / DRAWN_MM))
    return CubicSpline(length, closed, bc_type="periodic")(np.linspace(0.0, length[-1], n, endpoint=False))


def _stretch_percent(laid: Floats, surface: Floats, triangles: Ints) -> float:
    first, second = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    flat_mm = np.linalg.norm(laid[first] - laid[second], axis=1)
    true_mm = np.linalg.norm(surface[first] - surface[second], axis=1)
    return float(100.0 * np.percentile(np.abs(flat_mm / true_mm - 1.0), 95))
