"""Which triangle shows at each pixel of an orthographic picture: by rays where embreex is installed, else a depth buffer."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from print3d.geometry.mesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
BEHIND_MM = 2000.0
CHUNK = 2_000_000


@dataclass(frozen=True, eq=False)
class Camera:
    """An orthographic camera.

    forward, up : (3,) unit vectors, at right angles
    centre : (3,) mm, what is in the middle of the picture
    mm_per_pixel : scale
    size : width and height in pixels
    """

    forward: Floats
    up: Floats
    centre: Floats
    mm_per_pixel: float
    size: tuple[int, int]

    @property
    def right(self) -> Floats:
        """The direction (3,) to the right in the picture."""
        return np.cross(self.forward, self.up)

    def project(self, points: Floats) -> Floats:
        """Return pixel column, pixel row and depth in mm (n, 3) of points (n, 3)."""
        relative = points - self.centre
        width, height = self.size
        column = relative @ self.right / self.mm_per_pixel + width / 2 - 0.5
        row = height / 2 - 0.5 - relative @ self.up / self.mm_per_pixel
        return np.column_stack([column, row, relative @ self.forward])


def visible_faces(mesh: Mesh, camera: Camera) -> Ints:
    """Return the triangle that shows at each pixel (height, width), -1 where there is none."""
    try:
        import embreex  # noqa: F401
    except ImportError:
        return faces_by_depth_buffer(mesh, camera)
    return faces_by_rays(mesh, camera)


def faces_by_rays(mesh: Mesh, camera: Camera) -> Ints:
    """Return the triangle at each pixel (height, width) by one ray each."""
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene

    width, height = camera.size
    column, row = np.meshgrid(np.arange(width) - width / 2 + 0.5, height / 2 - 0.5 - np.arange(height))
    origins = (
        camera.centre
        - BEHIND_MM * camera.forward
        + camera.mm_per_pixel * (column.ravel()[:, None] * camera.right + row.ravel()[:, None] * camera.up)
    )
    scene = EmbreeScene()
    TriangleMesh(scene, mesh.corners().astype(np.float32))
    directions = np.tile(camera.forward.astype(np.float32), (len(origins), 1))
    found = scene.run(origins.astype(np.float32), directions)
    return np.asarray(found, dtype=np.int64).reshape(height, width)


def faces_by_depth_buffer(mesh: Mesh, camera: Camera) -> Ints:
    """Return the triangle at each pixel (height, width) by filling triangles in order of their box size."""
    width, height = camera.size
    corners = camera.project(mesh.vertices)[mesh.faces]
    low = np.floor(corners[:, :, :2].min(axis=1)).astype(np.int64)
    span = np.ceil(corners[:, :, :2].max(axis=1)).astype(np.int64) - low + 1
    side = 2 ** np.ceil(np.log2(np.maximum(span.max(axis=1), 1))).astype(np.int64)
    depth = np.full(height * width, np.inf)
    face = np.full(height * width, -1, dtype=np.int64)
    for size in np.unique(side):
        chosen = np.flatnonzero(side == size)
        for part in np.array_split(chosen, max(1, len(chosen) * int(size) ** 2 // CHUNK)):
            _fill(corners[part], low[part], part, (int(size), width, height), (depth, face))
    return face.reshape(height, width)


def _fill(
    corners: Floats, low: Ints, faces: Ints, sizes: tuple[int, int, int], buffers: tuple[Floats, Ints]
) -> None:
    """Write the triangles of one box size into the buffers where they are nearest."""
    size, width, height = sizes
    depth, face = buffers
    step = np.arange(size)
    column = (low[:, 0, None, None] + step[None, None, :]) + np.zeros((1, size, 1), dtype=np.int64)
    row = (low[:, 1, None, None] + step[None, :, None]) + np.zeros((1, 1, size), dtype=np.int64)
    a, b, c = (corners[:, k, None, None, :] for k in range(3))
    area = (b - a)[..., 0] * (c - a)[..., 1] - (b - a)[..., 1] * (c - a)[..., 0]
    safe = np.where(np.abs(area) < 1e-12, np.inf, area)
    weight_b = ((column - a[..., 0]) * (c - a)[..., 1] - (row - a[..., 1]) * (c - a)[..., 0]) / safe
    weight_c = ((b - a)[..., 0] * (row - a[..., 1]) - (b - a)[..., 1] * (column - a[..., 0])) / safe
    inside = (weight_b >= 0) & (weight_c >= 0) & (weight_b + weight_c <= 1) & np.isfinite(safe)
    inside &= (column >= 0) & (column < width) & (row >= 0) & (row < height)
    at = a[..., 2] + weight_b * (b - a)[..., 2] + weight_c * (c - a)[..., 2]
    pixel, distance = (row * width + column)[inside], at[inside]
    owner = np.broadcast_to(faces[:, None, None], inside.shape)[inside]
    order = np.lexsort((distance, pixel))
    pixel, first = np.unique(pixel[order], return_index=True)
    distance, owner = distance[order][first], owner[order][first]
    nearer = distance < depth[pixel]
    depth[pixel[nearer]], face[pixel[nearer]] = distance[nearer], owner[nearer]
