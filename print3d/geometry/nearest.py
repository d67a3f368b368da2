"""Exact nearest points on a mesh, and signed distance to a smooth closed one."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from scipy.ndimage import map_coordinates, spline_filter

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept

NODE_MM = 1.2
"""Usual spacing of tabulated distances; the table is then within 0.01 mm near a finger's skin (measured)."""
FIELD_ERROR_MM = 0.05
"""Error that a tabulated distance is allowed near a body; own choice, five times what is seen at the usual spacing."""
ROUNDING_MM = 1e-9
"""Slack for rounding when two distances of the same point are compared."""
PROBES = 24
"""Points of the nearest cells that are measured at once: what they reach rules out most other cells."""
FINE_CELL_MM = 1.0
"""Side of a point cloud's fine cells; with the coarse ones the fewest points of a finger shell are looked at (measured)."""
FINE_PER_COARSE = 4
"""Fine cells along the side of a coarse one; measured with the size above."""


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

    @cached_property
    def bounding_sphere(self) -> tuple[Floats, float]:
        """Middle (3,) and radius of a sphere around everything."""
        return _bounding_sphere(self._vertices)

    def outside_box(self, points: Floats) -> Floats:
        """Return the distance (n,) to the box around everything, minus infinity inside it: no more than the signed distance."""
        low, high = self._box
        outside = np.linalg.norm(np.maximum(np.maximum(low - points, points - high), 0.0), axis=1)
        return np.where(outside > 0.0, outside, -np.inf)

    @cached_property
    def _box(self) -> tuple[Floats, Floats]:
        return self._vertices.min(axis=0), self._vertices.max(axis=0)

    def nearest(self, points: Floats) -> tuple[Floats, Ints, Floats]:
        """Return distance (n,), triangle (n,) and nearest point (n, 3) of the surface."""
        squared, faces, near = self._tree.squared_distance(
            self._vertices, self._faces, np.ascontiguousarray(points, dtype=np.float64)
        )
        return np.sqrt(squared), faces, near

    def first_hit(self, origins: Floats, direction: Floats) -> tuple[Ints, Floats]:
        """Return the first triangle (n,) that rays along one direction (3,) meet, and how far it is.

        origins : (n, 3) where the rays start

        Where a ray meets none, the triangle is -1 and the distance infinite.
        """
        towards = np.tile(np.ascontiguousarray(direction, dtype=np.float64), (len(origins), 1))
        face, far, _ = self._tree.intersect_ray_first(
            self._vertices, self._faces, np.ascontiguousarray(origins), towards
        )
        is_hit = np.isfinite(far)
        return np.where(is_hit, face, -1), np.where(is_hit, far, np.inf)

    def signed(self, points: Floats) -> Floats:
        """Return the distance (n,), negative inside.

        The sign is that of the nearest triangle's side, which is right for bodies without sharp edges.
        """
        return self.signed_and_nearest(points)[0]

    def signed_and_nearest(self, points: Floats) -> tuple[Floats, Floats]:
        """Return the signed distance (n,) and the nearest point (n, 3) of the surface."""
        distance, faces, near = self.nearest(points)
        outward = np.einsum("ij,ij->i", points - near, self.face_normals[faces])
        return np.where(outward < 0.0, -distance, distance), near

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


@kept
def surface_of(mesh: Mesh) -> Surface:
    """Return a mesh with its search tree; several checks of one orthosis ask for the same one."""
    return Surface(Mesh(mesh.vertices, mesh.faces))  # a twin: what a mesh keeps must not hold the mesh


class HasSkin(Protocol):
    """A posed limb."""

    def skin_mesh(self) -> Mesh:
        """Return its skin."""


@kept
def skin_surface(limb: HasSkin) -> Surface:
    """Return a limb's skin with its search tree."""
    return Surface(limb.skin_mesh())


class DistanceField:
    """The signed distance to a surface, tabulated in a box: looked up a hundred times faster than it is searched.

    Between the nodes it is a cubic spline, within 0.01 mm of the true distance near a finger's skin at the usual spacing. Outside the box the way
    to the box is added, which is never less than half of the true distance.
    """

    def __init__(self, surface: Surface, low: Floats, high: Floats, node_mm: float = NODE_MM) -> None:
        self._low, self._node = low, node_mm
        self._counts = np.maximum(4, np.ceil((high - low) / node_mm).astype(int) + 1)
        axes = [start + node_mm * np.arange(count) for start, count in zip(low, self._counts, strict=True)]
        nodes = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
        distance = surface.signed(nodes.reshape(-1, 3)).reshape(nodes.shape[:3])
        self._spline = spline_filter(distance, order=3)
        self._slopes = np.gradient(distance, node_mm)

    def signed(self, points: Floats) -> Floats:
        """Return the distance (n,), negative inside."""
        place = (points - self._low) / self._node
        inside = np.clip(place, 0.0, self._counts - 1.0)
        beyond = self._node * np.linalg.norm(place - inside, axis=1)
        value = map_coordinates(self._spline, inside.T, order=3, prefilter=False, mode="nearest")
        return np.asarray(value + beyond)

    def slope(self, points: Floats) -> Floats:
        """Return how the distance changes (n, 3) with each coordinate."""
        place = ((points - self._low) / self._node).T
        return np.column_stack(
            [map_coordinates(each, place, order=1, mode="nearest") for each in self._slopes]
        )


@dataclass(frozen=True, eq=False)
class Cells:
    """Groups of neighbouring points, each inside a sphere.

    starts : (n + 1,) where each group begins in the sorted points (or in the cells of the next finer level)
    middles, radii : (n, 3), (n,) the spheres
    """

    starts: Ints
    middles: Floats
    radii: Floats


class PointCloud:
    """Points in cells of two sizes, of which few are searched for the nearest.

    A distance changes by no more than one moves: a cell whose middle is far cannot hold the nearest point.
    """

    def __init__(self, points: Floats) -> None:
        fine = np.floor((points - points.min(axis=0)) / FINE_CELL_MM).astype(np.int64)
        width = int(fine.max()) + 1
        coarse_key = _flat_key(fine // FINE_PER_COARSE, width)
        key = coarse_key * FINE_PER_COARSE**3 + _flat_key(fine % FINE_PER_COARSE, FINE_PER_COARSE)
        order = np.argsort(key, kind="stable")
        self.points = points[order]
        starts, first = _runs(key[order])
        self._fine = _cells(self.points, starts, starts)
        in_fine, _ = _runs(coarse_key[order][first])
        self._coarse = _cells(self.points, in_fine, starts[in_fine])
        self._bounding_sphere = _bounding_sphere(points)

    def farther_than(self, distance_mm: float, body: Surface, body_from_points: Floats) -> bool:
        """Whether the spheres around the points and around `body` alone show that they are farther apart."""
        (middle, radius), (body_middle, body_radius) = self._bounding_sphere, body.bounding_sphere
        apart = np.linalg.norm(body_from_points[:3, :3] @ middle + body_from_points[:3, 3] - body_middle)
        return bool(apart - radius - body_radius > distance_mm)

    def least_signed(
        self,
        body: Surface,
        body_from_points: Floats,
        below_mm: float = np.inf,
        field: DistanceField | None = None,
    ) -> tuple[float, Floats]:
        """Return the least signed distance to `body` and the point (3,) that has it, in the cloud's own frame.

        A point is looked for only where it may be nearer than `below_mm`; if there is none, the distance is infinite.
        A `field` of the body rules out cells quickly; the points themselves are measured on the body.
        """
        middle_gap, error = (body.signed, 0.0) if field is None else (field.signed, FIELD_ERROR_MM)
        turn, shift = body_from_points[:3, :3].T, body_from_points[:3, 3]
        outside = body.outside_box(self._coarse.middles @ turn + shift) - self._coarse.radii
        probes = self._fine.starts[self._coarse.starts[np.argsort(outside)[:PROBES]]]
        best = min(below_mm, self._probed(body, turn, shift, probes))
        chosen = np.flatnonzero(outside <= best)
        for cells, first_points in (
            (self._coarse, self._fine.starts[self._coarse.starts]),
            (self._fine, self._fine.starts),
        ):
            if not len(chosen):
                return np.inf, np.zeros(3)
            middle, radius = middle_gap(cells.middles[chosen] @ turn + shift), cells.radii[chosen] + error
            nearest = first_points[chosen[np.argsort(middle)[:PROBES]]]
            best = min(best, self._probed(body, turn, shift, nearest))
            chosen = chosen[middle - radius <= best]
            chosen = np.concatenate(
                [chosen[:0], *(np.arange(cells.starts[cell], cells.starts[cell + 1]) for cell in chosen)]
            )
        if not len(chosen):
            return np.inf, np.zeros(3)
        distances = body.signed(self.points[chosen] @ turn + shift)
        least = int(np.argmin(distances))
        return float(distances[least]), self.points[chosen[least]]

    def _probed(self, body: Surface, turn: Floats, shift: Floats, numbers: Ints) -> float:
        """Least signed distance of a few points."""
        return float(body.signed(self.points[numbers] @ turn + shift).min()) + ROUNDING_MM


def _bounding_sphere(points: Floats) -> tuple[Floats, float]:
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return middle, float(np.linalg.norm(points - middle, axis=1).max())


def _flat_key(cell: Ints, width: int) -> Ints:
    return np.asarray((cell[:, 0] * width + cell[:, 1]) * width + cell[:, 2])


def _runs(key: Ints) -> tuple[Ints, Ints]:
    """Where each run of equal keys starts, with the end appended, and without it."""
    first = np.concatenate([[0], np.flatnonzero(np.diff(key)) + 1])
    return np.append(first, len(key)), first


def _cells(points: Floats, starts: Ints, point_starts: Ints) -> Cells:
    """Spheres about the sorted points of each group; `point_starts` (n + 1,) says which points those are."""
    counts = np.diff(point_starts)
    middles = np.add.reduceat(points, point_starts[:-1], axis=0) / counts[:, None]
    spread = np.linalg.norm(points - np.repeat(middles, counts, axis=0), axis=1)
    return Cells(starts, middles, np.maximum.reduceat(spread, point_starts[:-1]))


def at(point: Floats) -> tuple[float, float, float]:
    """Return a point as the plain triple that a finding carries."""
    x, y, z = (round(float(value), 3) for value in point)
    return x, y, z
