"""Exact nearest points on a mesh, and signed distance to a smooth closed one."""

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from print3d.geometry.mesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Surface:
    """A mesh with a search tree over its triangles."""

    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh
        self._vertices = np.ascontiguousarray(mesh.vertices, dtype=np.float64)
        self._faces = np.ascontiguousarray(mesh.faces, dtype=np.int64)

    @cached_property
    def _tree(self) -> Any:
        import igl

        tree = igl.AABB()
        tree.init(self._vertices, self._faces)
        return tree

    @cached_property
    def face_normals(self) -> Floats:
        """Unit normals (m, 3) of the triangles."""
        areas = self.mesh.area_vectors()
        return areas / np.maximum(np.linalg.norm(areas, axis=1, keepdims=True), 1e-30)

    def nearest(self, points: Floats) -> tuple[Floats, Ints, Floats]:
        """Return distance (n,), triangle (n,) and nearest point (n, 3) of the surface."""
        squared, faces, near = self._tree.squared_distance(
            self._vertices, self._faces, np.ascontiguousarray(points, dtype=np.float64)
        )
        return np.sqrt(squared), faces, near

    def signed(self, points: Floats) -> Floats:
        """Return the distance (n,), negative inside.

        The sign is that of the nearest triangle's side, which is right for bodies without sharp edges.
        """
        distance, faces, near = self.nearest(points)
        outward = np.einsum("ij,ij->i", points - near, self.face_normals[faces])
        return np.where(outward < 0.0, -distance, distance)

    def area_even_samples(self, faces: Ints, n: int, seed: int = 0) -> tuple[Floats, Ints]:
        """Return about `n` points (k, 3) evenly over the given triangles, and the triangle of each."""
        corners = self._vertices[self._faces[faces]]
        area = 0.5 * np.linalg.norm(
            np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
        )
        rng = np.random.default_rng(seed)
        steps = (np.arange(n) + rng.random(n)) / n * area.sum()
        chosen = np.minimum(np.searchsorted(np.cumsum(area), steps), len(faces) - 1)
        u, v = rng.random(n), rng.random(n)
        flip = u + v > 1.0
        u, v = np.where(flip, 1.0 - u, u)[:, None], np.where(flip, 1.0 - v, v)[:, None]
        a, b, c = np.moveaxis(corners[chosen], 1, 0)
        return a + u * (b - a) + v * (c - a), faces[chosen]


class PointCloud:
    """Points in cells, so that the one nearest to a body is found by looking at few of them.

    A distance changes by no more than one moves: a cell whose middle is far cannot hold the nearest point.
    """

    def __init__(self, points: Floats, cell_mm: float = 4.0) -> None:
        keys = np.floor((points - points.min(axis=0)) / cell_mm).astype(np.int64)
        cells, cell_of = np.unique(keys, axis=0, return_inverse=True)
        order = np.argsort(cell_of.ravel(), kind="stable")
        self.points = points[order]
        self._starts = np.searchsorted(cell_of.ravel()[order], np.arange(len(cells) + 1))
        counts = np.diff(self._starts)
        self._middles = np.add.reduceat(self.points, self._starts[:-1], axis=0) / counts[:, None]
        spread = np.linalg.norm(self.points - np.repeat(self._middles, counts, axis=0), axis=1)
        self._radii = np.maximum.reduceat(spread, self._starts[:-1])

    def least_signed(self, body: Surface, body_from_points: Floats) -> tuple[float, Floats]:
        """Return the least signed distance to `body` and the point (3,) that has it, in the cloud's own frame."""
        turn, shift = body_from_points[:3, :3].T, body_from_points[:3, 3]
        middle = body.signed(self._middles @ turn + shift)
        candidates = np.flatnonzero(middle - self._radii <= (middle + self._radii).min())
        chosen = np.concatenate(
            [np.arange(self._starts[cell], self._starts[cell + 1]) for cell in candidates]
        )
        distances = body.signed(self.points[chosen] @ turn + shift)
        nearest = int(np.argmin(distances))
        return float(distances[nearest]), self.points[chosen[nearest]]


def at(point: Floats) -> tuple[float, float, float]:
    """Return a point as the plain triple that a finding carries."""
    x, y, z = (round(float(value), 3) for value in point)
    return x, y, z
