"""The mesh of a shell: the flat pattern triangulated once, both faces and all rims evaluated by numpy.

Inner face, outer face and rims share their vertices, so the mesh is closed by construction.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import shapely
from numpy.typing import NDArray

from print3d.geometry.mesh import Mesh
from print3d.geometry.triangulation import Region, triangulate
from print3d.geometry.types import Floats, Ints
from print3d.shell.definition import ShellDefinition
from print3d.shell.outlines import refuse_crossings


class FaceKind(IntEnum):
    """Which surface of the shell a triangle belongs to."""

    INNER = 0
    OUTER = 1
    RIM = 2
    MARK = 3


@dataclass(frozen=True, eq=False)
class ShellMesh:
    """A closed mesh that still knows its pattern.

    mesh : closed, limb frame
    face_kind : (m,) `FaceKind` of each triangle
    pattern_points : (n_flat, 2) mm, points of the flat triangulation in the pattern plane
    flat_faces : (t, 3) indices into `pattern_points`, counter-clockwise seen from outside
    inner_vertices, outer_vertices : (n_flat,) vertex of either face over each pattern point
    rims : per rimmed loop of the pattern, vertex indices (rows, n); row 0 lies on the inner face, the
        last row on the outer face
    """

    mesh: Mesh
    face_kind: NDArray[np.int8]
    pattern_points: Floats
    flat_faces: Ints
    inner_vertices: Ints
    outer_vertices: Ints
    rims: tuple[Ints, ...]


def build_mesh(definition: ShellDefinition) -> ShellMesh:
    """Triangulate the pattern and drape it.

    Raises ShapingError if two loops come too close for their rims, MeshingError if the triangulation lost an edge.
    """
    refuse_crossings(definition)
    flat, triangles = _triangulate_pattern(definition)
    n_flat = len(flat)
    n_rimmed = sum(len(loop.points) for loop in definition.pattern.rimmed)
    n_marked = n_rimmed + sum(len(loop.points) for loop in definition.pattern.marks)
    in_mark = _inside_marks(definition, flat[triangles])
    outer_depth, top_of = _outer_levels(definition, flat, triangles[in_mark], (n_rimmed, n_marked))

    rim_flat, rim_depth, rims = _rim_vertices(definition, n_flat, 2 * n_flat + n_marked - n_rimmed)
    tops = np.arange(n_rimmed, n_marked)
    coordinates = np.vstack([flat, flat, flat[tops], rim_flat])
    depth = np.concatenate(
        [
            np.zeros(n_flat),
            outer_depth,
            np.full(len(tops), definition.wall_mm + definition.mark_height_mm),
            rim_depth,
        ]
    )
    vertices = definition.points(coordinates[:, 0], coordinates[:, 1], depth)

    pieces = [
        (FaceKind.INNER, triangles[:, ::-1]),
        (FaceKind.OUTER, triangles[~in_mark] + n_flat),
        (FaceKind.MARK, top_of[triangles[in_mark]]),
        (FaceKind.MARK, _mark_walls(definition, n_rimmed, n_flat, top_of)),
        *((FaceKind.RIM, _strip(rim)) for rim in rims),
    ]
    faces = np.vstack([piece for _, piece in pieces])
    kinds = np.concatenate([np.full(len(piece), kind, dtype=np.int8) for kind, piece in pieces])
    ids = np.arange(n_flat)
    return ShellMesh(Mesh(vertices, faces), kinds, flat, triangles, ids, ids + n_flat, rims)


def _triangulate_pattern(definition: ShellDefinition) -> tuple[Floats, Ints]:
    """The flat triangulation: rimmed loops cut back by the rim radius, marks kept, spacing from curvature."""
    pattern = definition.pattern
    inset = [definition.inset(loop, definition.rim_radius_mm) for loop in pattern.rimmed]
    loops = inset + [loop.points for loop in pattern.marks]
    steps = [loop.step_mm for loop in (*pattern.rimmed, *pattern.marks)]
    pieces = None if definition.facets.error_mm is None else definition.edge_pieces
    return triangulate(
        Region(loops, len(inset), steps, pattern.period_mm), definition.facets.spacing_mm, pieces, close=True
    )


def _inside_marks(definition: ShellDefinition, corners: Floats) -> NDArray[np.bool_]:
    """Which triangles (t, 3, 2) lie inside a letter; those across a wrap-around pattern's seam are first brought together."""
    period = definition.pattern.period_mm
    turns: tuple[float, ...] = (0.0,)
    if period is not None:
        across = corners[:, :, 1] - corners[:, :1, 1]
        corners = corners - np.stack([np.zeros_like(across), period * np.round(across / period)], axis=-1)
        turns = (-period, 0.0, period)
    along, around = corners.mean(axis=1).T
    inside = np.zeros(len(corners), dtype=bool)
    for mark in definition.pattern.marks:  # even-odd, so that the middle of an O is outside
        for turn in turns:
            inside ^= shapely.contains_xy(shapely.Polygon(mark.points), along, around + turn)
    return inside


def _outer_levels(
    definition: ShellDefinition, flat: Floats, marked: Ints, mark_range: tuple[int, int]
) -> tuple[Floats, Ints]:
    """Depth (n_flat,) of each outer vertex, and the vertex (n_flat,) that carries a letter's top over it.

    Points on a letter's contour have two vertices, one on the outer face and one on the letter's top.
    """
    n_flat, (start, stop) = len(flat), mark_range
    depth = np.full(n_flat, definition.wall_mm)
    top_of = np.arange(n_flat) + n_flat
    top_of[start:stop] = 2 * n_flat + np.arange(stop - start)
    inside = np.setdiff1d(np.unique(marked), np.arange(start, stop))
    depth[inside] += definition.mark_height_mm
    return depth, top_of


def _mark_walls(definition: ShellDefinition, first: int, n_flat: int, top_of: Ints) -> Ints:
    """The side walls of the letters, outer face to letter top."""
    walls = [np.empty((0, 3), dtype=np.int64)]
    for loop in definition.pattern.marks:
        ids = np.arange(first, first + len(loop.points))
        walls.append(_strip(np.array([ids + n_flat, top_of[ids]])))
        first += len(loop.points)
    return np.vstack(walls)


def _rim_vertices(
    definition: ShellDefinition, n_flat: int, first_new: int
) -> tuple[Floats, Floats, tuple[Ints, ...]]:
    """Pattern coordinates and depths of the rims' inner rows, and the vertex grid of every rim.

    Vertex order: inner face (n_flat), outer face (n_flat), letter tops, then these rows.
    """
    loops = definition.pattern.rimmed
    profile = definition.rim_profile()[1:-1]
    counts = [len(loop.points) for loop in loops]
    coordinates, grids, start = [np.empty((0, 2))], [], 0
    for loop, count in zip(loops, counts, strict=True):
        coordinates.extend(definition.inset(loop, inset) for inset, _ in profile)
        new = first_new + np.arange(len(profile) * count).reshape(len(profile), count)
        on_face = start + np.arange(count)
        grids.append(np.vstack([on_face, new, on_face + n_flat]))
        first_new += new.size
        start += count
    depth = np.concatenate([np.repeat(profile[:, 1], count) for count in counts])
    return np.vstack(coordinates), depth, tuple(grids)


def _strip(grid: Ints) -> Ints:
    """Triangles between successive rows (rows, n) of closed rings; outward is to the right of the loop."""
    here, there = grid[:-1], grid[1:]
    next_here, next_there = np.roll(here, -1, axis=1), np.roll(there, -1, axis=1)
    lower = np.stack([here, next_here, next_there], axis=-1).reshape(-1, 3)
    upper = np.stack([here, next_there, there], axis=-1).reshape(-1, 3)
    return np.vstack([lower, upper])
