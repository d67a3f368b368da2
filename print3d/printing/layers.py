"""A body cut into layers: how long their outlines are, how large, and of how many contours."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats, Ints

MOST_SLICED = 60
"""Layers that are cut at most, evenly spaced; each stands for its share of all layers. Own choice."""
OFF_VERTICES = 0.5 + 1e-7 * np.pi
"""Layers are cut a little above half their height, so that no plane runs through a vertex."""


@dataclass(frozen=True, eq=False)
class Layers:
    """Sampled layers of a body, from the bed upward.

    count : how many layers the body has
    height_mm : of one layer
    outline_mm, area_mm2 : (k,) length of all contours and area of the sampled layers
    contours : (k,) how many closed lines
    """

    count: int
    height_mm: float
    outline_mm: Floats
    area_mm2: Floats
    contours: Ints


def cut_into_layers(mesh: Mesh, up: Floats, layer_mm: float) -> Layers:
    """Cut a closed mesh across the unit vector `up` (3,); contours are exact, layers in between are left out."""
    height = mesh.vertices @ up
    height = height - height.min()
    count = max(1, int(np.ceil(height.max() / layer_mm - 1e-6)))
    spacing = height.max() / min(count, MOST_SLICED)
    n = min(count, MOST_SLICED)
    scaled = height / spacing - OFF_VERTICES
    low, high = scaled[mesh.faces].min(axis=1), scaled[mesh.faces].max(axis=1)
    first = np.maximum(np.ceil(low), 0).astype(np.int64)
    crossed = np.maximum(np.minimum(np.floor(high), n - 1).astype(np.int64) - first + 1, 0)
    face = np.repeat(np.arange(len(mesh.faces)), crossed)
    plane = first[face] + np.arange(len(face)) - np.repeat(np.cumsum(crossed) - crossed, crossed)
    start, stop, keys = _segments(mesh, scaled, face, plane)
    flat = _across(up)
    start, stop = start @ flat.T, stop @ flat.T
    turning = 0.5 * (start[:, 0] * stop[:, 1] - start[:, 1] * stop[:, 0])
    return Layers(
        count,
        layer_mm,
        np.asarray(np.bincount(plane, np.linalg.norm(stop - start, axis=1), minlength=n), dtype=np.float64),
        np.abs(np.bincount(plane, turning, minlength=n)),
        _contours(keys, plane, n),
    )


def _segments(mesh: Mesh, scaled: Floats, face: Ints, plane: Ints) -> tuple[Floats, Floats, Ints]:
    """The segment (start, stop) of every crossed face, and the mesh edges it ends on (k, 2).

    All run the same way round.
    """
    corner = mesh.faces[face]
    above = scaled[corner] > plane[:, None]
    alone = np.argmax(above == (above.sum(axis=1) == 1)[:, None], axis=1)
    rows = np.arange(len(face))
    tip, after, before = (corner[rows, (alone + step) % 3] for step in (0, 1, 2))
    ends, keys = [], []
    for other in (after, before):
        share = (plane - scaled[tip]) / (scaled[other] - scaled[tip])
        ends.append(mesh.vertices[tip] + share[:, None] * (mesh.vertices[other] - mesh.vertices[tip]))
        keys.append(np.minimum(tip, other) * len(mesh.vertices) + np.maximum(tip, other))
    up_pointing = above[rows, alone][:, None]
    return (
        np.where(up_pointing, ends[0], ends[1]),
        np.where(up_pointing, ends[1], ends[0]),
        np.column_stack(keys),
    )


def _contours(keys: Ints, plane: Ints, n: int) -> Ints:
    """Closed lines (n,) on each plane: segments that share a crossed edge belong together."""
    if len(keys) == 0:
        return np.zeros(n, dtype=np.int64)
    _, edge = np.unique(keys, return_inverse=True)
    crossing, node = np.unique(edge.reshape(-1, 2) * n + plane[:, None], return_inverse=True)
    node = node.reshape(-1, 2)
    graph = coo_matrix((np.ones(len(node)), (node[:, 0], node[:, 1])), shape=(len(crossing),) * 2)
    _, label = connected_components(graph, directed=False)
    _, representative = np.unique(label, return_index=True)
    return np.bincount(crossing[representative] % n, minlength=n)


def _across(up: Floats) -> Floats:
    """Two unit vectors (2, 3) at right angles to `up` and to each other."""
    aside = np.eye(3)[np.argmin(np.abs(up))]
    first = np.cross(up, aside)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(up, first)])
