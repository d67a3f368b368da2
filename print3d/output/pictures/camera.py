"""What shows at each pixel of an orthographic picture.

Near triangles are filled row by row, and the nearest is kept. Meshes are closed.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats, Ints

Singles = NDArray[np.float32]
CHUNK = 1 << 17
"""About how many samples are worked on at once, so that they stay in the processor's cache."""
ON_EDGE = 1e-9
"""A pixel this close to an edge, in pixels, belongs to the triangle; so rounding leaves no gap between neighbours."""
LEAST_AREA = 1e-9
"""Triangles of less than this, in square pixels, are seen edge-on and not drawn."""


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
    depth : (height, width) mm along the view from the camera's centre, infinite where there is nothing
    column, row : (3 corners, faces) where the corners of the triangles lie in the picture, pixels
    """

    face: Ints
    depth: Singles
    column: Floats
    row: Floats

    def weights(self, pixel: Ints) -> Floats:
        """Return the shares (2, n) of a triangle's second and third corner at pixels (n,), numbered row by row.

        The first has the rest.
        """
        x, y, face = self.column, self.row, self.face.ravel()[pixel]
        across = _across(x, y)
        share = 1.0 / np.where(np.abs(across) > LEAST_AREA, across, np.inf)
        row, column = np.divmod(pixel, self.face.shape[1])
        right, down = column - x[0][face], row - y[0][face]
        second = (share * (y[2] - y[0]))[face] * right - (share * (x[2] - x[0]))[face] * down
        third = (share * (x[1] - x[0]))[face] * down - (share * (y[1] - y[0]))[face] * right
        return np.array([second, third])


def visible(mesh: Mesh, camera: Camera) -> Hits:
    """Return what `camera` sees of `mesh` at the middle of each pixel."""
    width, height = camera.size
    corners = np.ascontiguousarray(mesh.faces.T)
    x, y, z = (np.ascontiguousarray(each)[corners] for each in camera.project(mesh.vertices).T)
    first, last = _whole(y, height)
    left, right = _whole(x, width)
    across = _across(x, y)
    near = np.flatnonzero(  # a far side of a closed body never shows
        (across < -LEAST_AREA) & (first <= last) & (left <= right)
    )
    depth = np.full(height * width, np.inf, dtype=np.float32)
    face = np.full(height * width, -1)
    work = np.cumsum(last[near] - first[near] - 0.5 * across[near])  # rows and pixels
    for part in np.split(near, np.flatnonzero(np.diff(work // CHUNK)) + 1):
        which, pixel, found = _filled(x[:, part], y[:, part], z[:, part], camera.size)
        np.minimum.at(depth, pixel, found)
        wins = np.flatnonzero(found <= depth[pixel])
        face[pixel[wins]] = part[which[wins]]
    return Hits(face.reshape(height, width), depth.reshape(height, width), x, y)


def _across(x: Floats, y: Floats) -> Floats:
    """Twice the area (n,) of triangles with corners (3, n) in the picture, square pixels; negative where the outside shows."""
    return np.asarray((x[1] - x[0]) * (y[2] - y[0]) - (y[1] - y[0]) * (x[2] - x[0]))


def _whole(corners: Floats, size: int) -> tuple[Ints, Ints]:
    """The first and the last pixel (n,) between corners (3, n) along one side of a picture of `size` pixels."""
    first = np.ceil(np.clip(corners.min(axis=0), 0, size)).astype(np.int64)
    last = np.floor(np.clip(corners.max(axis=0), -1, size - 1)).astype(np.int64)
    return first, last


def _filled(x: Floats, y: Floats, z: Floats, size: tuple[int, int]) -> tuple[Ints, Ints, Singles]:
    """Every pixel under triangles with corners (3, n), row by row: its triangle, its number and the depth there (samples,)."""
    width, height = size
    downwards = np.argsort(y, axis=0)
    edges = np.take_along_axis(x, downwards, axis=0), np.take_along_axis(y, downwards, axis=0)
    first, last = _whole(y, height)
    triangle, step = _counted(last - first + 1)
    row = first[triangle] + step
    long = _crossing(edges, (0, 2), triangle, row)
    short = np.where(
        row < edges[1][1][triangle],
        _crossing(edges, (0, 1), triangle, row),
        _crossing(edges, (1, 2), triangle, row),
    )
    left = np.ceil(np.maximum(np.minimum(long, short) - ON_EDGE, 0)).astype(np.int64)
    right = np.floor(np.minimum(np.maximum(long, short) + ON_EDGE, width - 1)).astype(np.int64)
    line, step = _counted(right - left + 1)
    across = _across(x, y)
    per_column = (_across(z, y) / across)[triangle]
    per_row = (_across(x, z) / across)[triangle]
    start = z[0][triangle] + per_column * (left - x[0][triangle]) + per_row * (row - y[0][triangle])
    depth = (start[line] + per_column[line] * step).astype(np.float32)
    return triangle[line], (row * width + left)[line] + step, depth


def _counted(count: Ints) -> tuple[Ints, Ints]:
    """Count from 0 for each of `count` (n,), one after the other.

    Returned are whose turn it is and the number (sum of the counts,).
    """
    count = np.maximum(count, 0)
    whose = np.repeat(np.arange(len(count)), count)
    return whose, np.arange(len(whose)) - (np.cumsum(count) - count)[whose]


def _crossing(corners: tuple[Floats, Floats], edge: tuple[int, int], triangle: Ints, row: Ints) -> Floats:
    """The column (rows,) where rows cross the edge between two corners of triangles.

    columns, rows : (3, n) of the corners, from above
    """
    (x, y), (upper, lower) = corners, edge
    drop = y[lower] - y[upper]
    slope = (x[lower] - x[upper]) / np.where(drop > 0.0, drop, 1.0)
    return np.asarray(x[upper][triangle] + slope[triangle] * (row - y[upper][triangle]))
