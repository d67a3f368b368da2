"""What shows at each pixel of an orthographic picture: by rays where embreex is installed, else by a depth buffer.

Both engines answer the same question with the same `Hits`; they differ only at pixels cut by an edge. Meshes are closed.
"""

from dataclasses import dataclass, replace
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray

from print3d.geometry.mesh import Mesh

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
CHUNK = 1_000_000
"""So many samples at once in the depth buffer, for the memory's sake."""
ON_EDGE = 1e-9
"""A pixel this close to an edge, in shares of the triangle, belongs to it; so rounding leaves no gap between neighbours."""


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

    def finer(self, factor: int) -> "Camera":
        """Return the same view with every pixel cut into factor x factor."""
        width, height = self.size
        return replace(self, mm_per_pixel=self.mm_per_pixel / factor, size=(factor * width, factor * height))

    def window(self, points: Floats) -> tuple["Camera", tuple[slice, slice]]:
        """Return a camera of only the pixels that `points` (n, 3) span, and its rows and columns in this one."""
        at = self.project(points)[:, :2]
        size = np.array(self.size)
        low = np.clip(np.floor(at.min(axis=0)).astype(int) - 1, 0, size)
        high = np.clip(np.ceil(at.max(axis=0)).astype(int) + 2, low, size)
        shift = self.mm_per_pixel * ((low + high) - size) / 2
        part = replace(
            self,
            centre=self.centre + shift[0] * self.right - shift[1] * self.up,
            size=(int(high[0] - low[0]), int(high[1] - low[1])),
        )
        return part, (slice(low[1], high[1]), slice(low[0], high[0]))


@dataclass(frozen=True, eq=False)
class Hits:
    """What a camera sees of a mesh.

    face : (height, width) triangle at each pixel, -1 where there is none
    weights : (height, width, 2) share of the triangle's second and third corner; the first has the rest
    depth : (height, width) mm along the view from the camera's centre, infinite where there is nothing
    """

    face: Ints
    weights: Singles
    depth: Singles


def visible(mesh: Mesh, camera: Camera) -> Hits:
    """Return what `camera` sees of `mesh`, by the engine that is installed."""
    if find_spec("embreex") is None:
        return hits_by_depth_buffer(mesh, camera)
    return hits_by_rays(mesh, camera)


def hits_by_rays(mesh: Mesh, camera: Camera) -> Hits:
    """Return what `camera` sees of `mesh` by one ray through the middle of each pixel."""
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene

    width, height = camera.size
    behind = 1.0 + float(np.abs((mesh.vertices - camera.centre) @ camera.forward).max())
    across = camera.mm_per_pixel * (np.arange(width) - width / 2 + 0.5)[:, None] * camera.right
    down = camera.mm_per_pixel * (height / 2 - 0.5 - np.arange(height))[:, None] * camera.up
    start = (camera.centre - behind * camera.forward + down).astype(np.float32)
    origins = (start[:, None, :] + across.astype(np.float32)).reshape(-1, 3)
    scene = EmbreeScene()
    TriangleMesh(scene, mesh.corners().astype(np.float32))
    directions = np.tile(camera.forward.astype(np.float32), (len(origins), 1))
    found = scene.run(origins, directions, query="INTERSECT", output=1)
    face = found["primID"].astype(np.int64).reshape(height, width)
    weights = np.stack([found["u"], found["v"]], axis=-1).reshape(height, width, 2)
    depth = np.where(face >= 0, found["tfar"].reshape(height, width) - np.float32(behind), np.inf)
    return Hits(face, weights, depth.astype(np.float32))


def hits_by_depth_buffer(mesh: Mesh, camera: Camera) -> Hits:
    """Return what `camera` sees of `mesh` by filling its near triangles, those with boxes of one size together."""
    width, height = camera.size
    corners = camera.project(mesh.vertices)[mesh.faces]
    low = np.maximum(np.ceil(corners[:, :, :2].min(axis=1)), 0).astype(np.int64)
    high = np.minimum(np.floor(corners[:, :, :2].max(axis=1)), np.array([width, height]) - 1).astype(np.int64)
    span = high - low + 1
    near = mesh.area_vectors() @ camera.forward < 0.0  # a far side of a closed body never shows
    near &= (span > 0).all(axis=1)
    box = _rounded_up(np.maximum(span, 1))
    buffer = _Buffer(np.full(height * width, np.inf, dtype=np.float32), np.full(height * width, -1), width)
    chosen = np.flatnonzero(near)
    chosen = chosen[np.lexsort(box[chosen].T)]
    changes = np.flatnonzero(np.diff(box[chosen], axis=0).any(axis=1)) + 1
    for group in np.split(chosen, changes):
        samples = int(box[group].prod(axis=1).sum())
        for part in np.array_split(group, min(samples // CHUNK + 1, len(group))) if len(group) else ():
            buffer.fill(corners[part], low[part], high[part], part)
    return buffer.hits(corners, height)


def _rounded_up(span: Ints) -> Ints:
    """Round up to few sizes, a quarter apart at most, so that there are few groups."""
    unit = 2 ** np.maximum(np.floor(np.log2(span)).astype(np.int64) - 2, 0)
    return -(-span // unit) * unit


@dataclass(frozen=True, eq=False)
class _Buffer:
    """Nearest depth and its triangle at each pixel, rows one after the other; filled in place."""

    depth: Singles
    face: Ints
    width: int

    def fill(self, corners: Floats, low: Ints, high: Ints, faces: Ints) -> None:
        """Enter the triangles where they are nearest; their boxes, corners (n, 3, 3) and numbers are given."""
        size = _rounded_up(high - low + 1)[0]
        column = low[:, 0, None, None] + np.arange(size[0])[None, None, :]
        row = low[:, 1, None, None] + np.arange(size[1])[None, :, None]
        b, c = _weights(corners, column, row)
        inside = (b >= -ON_EDGE) & (c >= -ON_EDGE) & (b + c <= 1.0 + ON_EDGE)
        inside &= (column <= high[:, 0, None, None]) & (row <= high[:, 1, None, None])
        which, _, _ = np.nonzero(inside)
        depth = _depth(corners[which], b[inside], c[inside]).astype(np.float32)
        pixel = (row * self.width + column)[inside]
        np.minimum.at(self.depth, pixel, depth)
        wins = depth <= self.depth[pixel]
        self.face[pixel[wins]] = faces[which[wins]]

    def hits(self, corners: Floats, height: int) -> Hits:
        """Return the answer, its weights computed once per pixel."""
        pixel = np.flatnonzero(self.face >= 0)
        found = corners[self.face[pixel]]
        weights = np.zeros((len(self.face), 2), dtype=np.float32)
        column, row = (pixel % self.width)[:, None, None], (pixel // self.width)[:, None, None]
        weights[pixel] = np.column_stack([each.ravel() for each in _weights(found, column, row)])
        shape = (height, self.width)
        return Hits(self.face.reshape(shape), weights.reshape(*shape, 2), self.depth.reshape(shape))


def _weights(corners: Floats, column: Ints, row: Ints) -> tuple[Floats, Floats]:
    """Shares of the second and third corner at pixels (n, rows, columns)."""
    origin = corners[:, 0, :2]
    (bx, by), (cx, cy) = (corners[:, 1, :2] - origin).T, (corners[:, 2, :2] - origin).T
    area = bx * cy - by * cx
    area = np.where(np.abs(area) < 1e-12, np.inf, area)  # seen edge-on: no weight, so it is not drawn
    x, y = column - origin[:, 0, None, None], row - origin[:, 1, None, None]
    b = x * (cy / area)[:, None, None] - y * (cx / area)[:, None, None]
    c = y * (bx / area)[:, None, None] - x * (by / area)[:, None, None]
    return b, c


def _depth(corners: Floats, b: Floats, c: Floats) -> Floats:
    first, second, third = corners[:, :, 2].T
    return first + b * (second - first) + c * (third - first)
