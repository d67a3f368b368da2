"""The surface where a field is zero, as a closed mesh, looked for only where it can be.

A field is a function from points (n, 3) to values (n,) that are negative inside, and near the surface about the distance to it in
mm. Fields unite smoothly: where two surfaces meet, a fillet of the given reach joins them and nothing beyond it moves.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from print3d.errors import MeshingError
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats, Ints
from print3d.language.message import message

Field = Callable[[Floats], Floats]

BLOCK = 8
"""Cells along the edge of a block, whose middle shows whether the surface can pass through it; own choice."""
STEEPEST = 2.0
"""No field used here changes faster than this per mm outside the surface; a block is left out only beyond that."""
CHUNK = 200_000
"""Points that are evaluated at once, so that memory stays small; own choice."""
OFF_NODE = 1e-4
"""No node's value is nearer to zero than this: a surface through a node would make triangles without area."""


def union(first: Floats, second: Floats, fillet_mm: float | Floats) -> Floats:
    """Return the field of two bodies united with a fillet, from their values at the same points.

    fillet_mm : above 0, one for all points or one for each

    The polynomial minimum: exactly the smaller one where the two differ by more than `fillet_mm`.
    """
    share = np.maximum(fillet_mm - np.abs(first - second), 0.0) / fillet_mm
    return np.asarray(np.minimum(first, second) - 0.25 * fillet_mm * share**2)


def intersection(first: Floats, second: Floats, round_mm: float) -> Floats:
    """Return the field of what two bodies have in common, its edge rounded."""
    return -union(-first, -second, round_mm)


def surface(
    field: Field, low: Floats | Sequence[float], high: Floats | Sequence[float], step_mm: float
) -> Mesh:
    """Return the zero surface of `field` in a box as a mesh by marching cubes.

    low, high : (3,) corners of a box that holds all of the body
    step_mm : spacing of the nodes; the surface is off by about curvature * step^2 / 8

    Raises MeshingError if the body reaches out of the box or is empty.
    """
    import igl

    corner = np.asarray(low, dtype=float)
    blocks = np.maximum(np.ceil((np.asarray(high) - corner) / (BLOCK * step_mm)).astype(np.int64), 1)
    kept = _blocks_near(field, corner, blocks, step_mm)
    counts = BLOCK * blocks + 1
    inner = _lattice(BLOCK)
    cells = (BLOCK * kept[:, None, :] + inner[None]).reshape(-1, 3)
    corners = _flat(cells[:, None, :] + CUBE[None], counts)
    nodes, numbers = _numbered(corners, int(counts.prod()))
    places = corner + step_mm * np.column_stack(np.unravel_index(nodes, counts))
    values = _evaluated(field, places)
    values = np.where(np.abs(values) < OFF_NODE, np.copysign(OFF_NODE, values), values)
    of_cells = values[numbers]
    crossed = (of_cells.min(axis=1) < 0.0) & (of_cells.max(axis=1) > 0.0)
    if not crossed.any():
        raise MeshingError(message("refusals.training.empty_body"))
    at_edge = (cells[crossed] == 0).any() or (cells[crossed] == counts - 2).any()
    if at_edge:
        raise MeshingError(message("refusals.training.out_of_box"))
    vertices, faces, *_ = igl.marching_cubes(
        values, places, np.ascontiguousarray(numbers[crossed], dtype=np.int64), 0.0
    )
    mesh = Mesh(np.asarray(vertices), np.asarray(faces, dtype=np.int64))
    return mesh if mesh.volume_mm3() > 0.0 else Mesh(mesh.vertices, mesh.faces[:, ::-1])


CUBE = np.array(
    [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]], dtype=np.int64
)
"""Corners of a cell in the order that the tables of marching cubes are written for."""


def _blocks_near(field: Field, corner: Floats, blocks: Ints, step_mm: float) -> Ints:
    """Return the blocks (k, 3) that the surface may pass."""
    every = np.stack(np.meshgrid(*(np.arange(count) for count in blocks), indexing="ij"), -1).reshape(-1, 3)
    middles = corner + BLOCK * step_mm * (every + 0.5)
    reach = STEEPEST * BLOCK * step_mm * np.sqrt(3.0) / 2.0
    return np.asarray(every[np.abs(_evaluated(field, middles)) < reach])


def _numbered(corners: Ints, count: int) -> tuple[NDArray[np.intp], NDArray[np.int32]]:
    """Return the nodes that occur (n,), of `count`, and for each corner its place among them."""
    place = np.full(count, -1, dtype=np.int32)
    place[corners.ravel()] = 0
    nodes = np.flatnonzero(place == 0)
    place[nodes] = np.arange(len(nodes), dtype=np.int32)
    return nodes, place[corners]


def _evaluated(field: Field, points: Floats) -> Floats:
    parts = np.array_split(points, max(1, len(points) // CHUNK))
    return np.concatenate([field(part) for part in parts])


def _lattice(count: int) -> Ints:
    along = np.arange(count, dtype=np.int64)
    return np.stack(np.meshgrid(along, along, along, indexing="ij"), axis=-1).reshape(-1, 3)


def _flat(index: Ints, counts: Ints) -> Ints:
    return np.asarray((index[..., 0] * counts[1] + index[..., 1]) * counts[2] + index[..., 2])
