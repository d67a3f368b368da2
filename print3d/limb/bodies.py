"""Closed bodies from rows of section points: the posed skin and the rigid segments used in motion."""

from itertools import pairwise

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats

ROW_SPACING_MM = 0.8
"""Spacing of rows and of points around: facets of a 9 mm radius then lie within 0.01 mm of the skin."""


def rows_between(start_mm: float, stop_mm: float, spacing_mm: float = ROW_SPACING_MM) -> Floats:
    """Return stations from start to stop, about `spacing_mm` apart."""
    return np.linspace(start_mm, stop_mm, max(3, int(np.ceil((stop_mm - start_mm) / spacing_mm)) + 1))


def cap_rows(reach_mm: float, spacing_mm: float = ROW_SPACING_MM) -> tuple[Floats, Floats]:
    """Return distance beyond the end and scale of the section for the rows of a rounded end, pole left out."""
    n = max(4, int(np.ceil(reach_mm / spacing_mm)))
    angle = np.linspace(0.0, np.pi / 2, n + 1)[1:-1]
    return reach_mm * np.sin(angle), np.cos(angle)


def closed_tube(rows: Floats, start_pole: Floats, end_pole: Floats) -> Mesh:
    """Return a closed mesh from rows of points.

    rows : (n_rows, n_around, 3); rows run proximal to distal, points from dorsal towards radial
    start_pole, end_pole : (3,) points that close the two ends
    """
    n_rows, n_around, _ = rows.shape
    vertices = np.vstack([rows.reshape(-1, 3), start_pole, end_pole])
    ids = np.arange(n_rows * n_around).reshape(n_rows, n_around)
    turned = np.roll(ids, -1, axis=1)
    a, b, c, d = ids[:-1].ravel(), ids[1:].ravel(), turned[1:].ravel(), turned[:-1].ravel()
    first, last = n_rows * n_around, n_rows * n_around + 1
    faces = np.vstack(
        [
            np.column_stack([a, b, c]),
            np.column_stack([a, c, d]),
            np.column_stack([np.full(n_around, first), ids[0], turned[0]]),
            np.column_stack([np.full(n_around, last), turned[-1], ids[-1]]),
        ]
    )
    return Mesh(vertices, faces)


def tubes(mesh: Mesh) -> list[Floats]:
    """Return the rows (n_rows, n_around, 3) of every body of a mesh of closed tubes.

    Rows run proximal to distal.
    """
    n, (first, second, third) = len(mesh.vertices), mesh.faces.T
    ends = np.concatenate([first, second]), np.concatenate([second, third])
    _, body = connected_components(coo_array((np.ones(len(ends[0])), ends), shape=(n, n)), directed=False)
    starts = [*np.sort(np.unique(body, return_index=True)[1]), n]
    rows = []
    for start, stop in pairwise(starts):
        n_around = int(second[np.flatnonzero(first == start)[0]] - start)
        rows.append(mesh.vertices[start : stop - 2].reshape(-1, n_around, 3))
    return rows
