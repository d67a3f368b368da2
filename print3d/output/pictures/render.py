"""Bodies to pixels, without a graphics card: soft light, lines at edges, translucent bodies, colours per vertex."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats, Ints
from print3d.output.pictures.camera import Camera, Hits, visible

Singles = NDArray[np.float32]

FINER = 2
"""Each pixel is the mean of FINER x FINER samples."""
CREASE_RAD = np.radians(35.0)
"""Faces that meet at a larger angle keep their own light: letters stay sharp, rims look round."""
LINE_MM = 0.12
"""A bend of the depth by more than this between neighbouring samples is drawn as a line: edges and letters."""
LINE_STRENGTH = 0.55
"""How dark lines along edges are drawn, 1 is black; own choice."""
BACKGROUND_MM = 500.0
"""How far behind a body the empty background counts, so that its outline is a line."""


@dataclass(frozen=True, eq=False)
class DrawnBody:
    """A closed mesh with its look.

    colour : (3,) for all of it or (vertices, 3) for a map; 0 to 1, red, green, blue
    opacity : counts only where the body lies in front of another one; alone it is solid
    is_lit : a map is not: its colours stay those of its scale, a little darker where a face turns away from the eye
    """

    mesh: Mesh
    colour: Floats
    opacity: float = 1.0
    has_lines: bool = True
    is_lit: bool = True

    @cached_property
    def normals(self) -> Floats:
        """Unit normals (faces, 3 corners, 3) for the light, computed once for all views."""
        return corner_normals(self.mesh)


@dataclass(frozen=True, eq=False)
class _Shown:
    """Where a body shows in a picture, and how bright.

    pixel : (n,) of all `pixels`, numbered row by row, for each sample that shows the body
    share : (n,) of the body's colour that comes from there to the eye: by light, by lines, and through what lies in front
    face : (n,) triangle of `mesh` at each sample
    weights : (2, n) shares of its second and third corner
    """

    mesh: Mesh
    pixels: int
    pixel: Ints
    share: Floats
    face: Ints
    weights: Floats

    def coloured(self, colour: Floats) -> Floats:
        """Return what comes to the eye (pixels, 3) from a body.

        Its colour is (3,), or (vertices, 3) blended between the corners.
        """
        if colour.ndim == 1:
            return np.outer(np.bincount(self.pixel, self.share, self.pixels), colour)
        return np.asarray(self._blend @ colour)

    @cached_property
    def _blend(self) -> csr_array:
        """The part that each vertex has in each pixel."""
        second, third = self.weights
        shares = self.share * np.array([1.0 - second - third, second, third])
        at = np.tile(self.pixel, 3), self.mesh.faces[self.face].T.ravel()
        return csr_array((shares.ravel(), at), shape=(self.pixels, len(self.mesh.vertices)))


@dataclass(frozen=True, eq=False)
class Sight:
    """What a camera sees of bodies: all of their picture but the colours.

    size : width and height of the picture in pixels
    window : rows and columns of the pixels in which there are bodies
    empty : (height, width) of the window: how much of each pixel shows none
    shown : for each body
    depths : (bodies, height, width) of the window: mm from the camera, infinite where a body is not
    """

    size: tuple[int, int]
    window: tuple[slice, slice]
    empty: Floats
    shown: tuple[_Shown, ...]
    depths: Singles

    def picture(self, colours: Sequence[Floats]) -> NDArray[np.uint8]:
        """Return the picture (height, width, 3) on white, the bodies in these colours, each as in `DrawnBody`."""
        inside = np.repeat(self.empty.reshape(-1, 1), 3, axis=1)
        for shown, colour in zip(self.shown, colours, strict=True):
            inside += shown.coloured(colour)
        picture = np.full((*self.size[::-1], 3), 255, dtype=np.uint8)
        picture[self.window] = np.round(255.0 * np.clip(inside, 0.0, 1.0)).reshape(*self.empty.shape, 3)
        return picture


def render(bodies: Sequence[DrawnBody], camera: Camera) -> NDArray[np.uint8]:
    """Return the picture (height, width, 3) of the bodies on white."""
    return sight(bodies, camera).picture([body.colour for body in bodies])


def sight(bodies: Sequence[DrawnBody], camera: Camera) -> Sight:
    """Return what the camera sees of the bodies, to be pictured in one set of colours after another."""
    part, window = camera.window(np.vstack([body.mesh.vertices for body in bodies]))
    fine = part.finer(FINER)
    depths = np.full((len(bodies), *fine.size[::-1]), np.inf, dtype=np.float32)
    seen = []
    for body, depth in zip(bodies, depths, strict=True):
        own, (rows, columns) = fine.window(body.mesh.vertices)
        seen.append(visible(body.mesh, own))
        depth[rows, columns] = seen[-1].depth
    shares = _shares(depths.reshape(len(bodies), -1), [body.opacity for body in bodies])
    shown = [_shown(*each, fine) for each in zip(bodies, seen, shares, strict=True)]
    is_empty = np.asarray(np.isinf(depths).all(axis=0))
    empty = [is_empty[row::FINER, column::FINER] for row in range(FINER) for column in range(FINER)]
    coarse = depths[:, ::FINER, ::FINER].copy()
    return Sight(camera.size, window, np.mean(empty, axis=0), tuple(shown), coarse)


def _shares(depths: Singles, opacities: Sequence[float]) -> Singles:
    """How much of each body (bodies, samples) comes to the eye through those in front of it.

    The farthest is solid.
    """
    there = np.isfinite(depths)
    shares = there.astype(np.float32)
    shared = np.flatnonzero(there.sum(axis=0, dtype=np.int8) > 1)
    depths, there = depths[:, shared], there[:, shared]
    for one, opacity in enumerate(opacities):
        share, is_last = shares[one, shared], np.ones(len(shared), dtype=bool)
        for other, its_opacity in enumerate(opacities):
            if other != one:
                nearer = depths[other] <= depths[one] if other > one else depths[other] < depths[one]
                share[nearer] *= 1.0 - its_opacity
                is_last &= nearer | ~there[other]
        shares[one, shared] = np.where(is_last, 1.0, opacity) * share
    return shares


def _shown(body: DrawnBody, hits: Hits, share: Singles, camera: Camera) -> _Shown:
    """What shows of a body, and its share (samples,) of the whole picture.

    It is what a camera of the body's own window hits.
    """
    _, window = camera.window(body.mesh.vertices)
    share = share.reshape(camera.size[::-1])[window].ravel()
    hit = np.flatnonzero(share)
    face, weights = hits.face.ravel()[hit], hits.weights(hit)
    bright = share[hit] * _blended(_light(body, camera).T[:, face], weights) / FINER**2
    if body.has_lines:
        bright *= _lines(hits.depth).ravel()[hit]
    width, height = (size // FINER for size in camera.size)
    row, column = (np.arange(each.start, each.stop) // FINER for each in window)
    pixel = (row[:, None] * width + column).ravel()[hit]
    return _Shown(body.mesh, width * height, pixel, bright, face, weights)


def _blended(corners: Floats, weights: Floats) -> Floats:
    """Values (n,) between those of three corners (3, n), by the shares (2, n) of the second and third."""
    first, second, third = corners
    return np.asarray(first + weights[0] * (second - first) + weights[1] * (third - first))


def corner_normals(mesh: Mesh) -> Floats:
    """Return unit normals (faces, 3 corners, 3): the mean of the faces around a corner that lie across no crease."""
    areas = mesh.area_vectors()
    units = _units(areas)
    vertex, face = mesh.faces.ravel(), np.repeat(np.arange(len(areas)), 3)
    sums = np.zeros_like(mesh.vertices)
    np.add.at(sums, vertex, areas[face])
    normals = _units(sums)[vertex]
    steep = np.einsum("ij,ij->i", normals, units[face]) < np.cos(0.5 * CREASE_RAD)
    near_crease = np.zeros(len(mesh.vertices), dtype=bool)
    near_crease[vertex[steep]] = True
    chosen = np.flatnonzero(near_crease[vertex])
    chosen = chosen[np.argsort(vertex[chosen], kind="stable")]
    normals[chosen] = _mean_within_creases(vertex[chosen], areas[face[chosen]])
    return normals.reshape(-1, 3, 3)


def _mean_within_creases(vertex: Ints, areas: Floats) -> Floats:
    """Unit normals (n, 3) of face corners sorted by vertex.

    Each is the mean of those at its vertex within the crease angle.
    """
    _, start, count = np.unique(vertex, return_index=True, return_counts=True)
    first, many = np.repeat(start, count), np.repeat(count, count)
    units, place = _units(areas), np.arange(len(vertex)) - first
    sums = areas.copy()
    for step in range(1, int(count.max(initial=1))):
        mine = np.flatnonzero(many > step)
        other = first[mine] + (place[mine] + step) % many[mine]
        alike = np.einsum("ij,ij->i", units[mine], units[other]) > np.cos(CREASE_RAD)
        sums[mine[alike]] += areas[other[alike]]
    return _units(sums)


def _units(vectors: Floats) -> Floats:
    """Vectors (..., 3) brought to length 1; those of no length stay 0."""
    return vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-30)


def _light(body: DrawnBody, camera: Camera) -> Floats:
    """Soft light (faces, 3 corners) from the eye and from above its left shoulder."""
    eye, normals = -camera.forward, body.normals
    if not body.is_lit:
        return np.asarray(0.8 + 0.2 * np.abs(normals @ eye))
    lamp = eye + 0.8 * camera.up - 0.6 * camera.right
    lamp /= np.linalg.norm(lamp)
    return np.clip(
        0.30 + 0.42 * np.maximum(normals @ eye, 0.0) + 0.42 * np.maximum(normals @ lamp, 0.0), 0.0, 1.12
    )


def _lines(depth: Singles) -> Singles:
    """Darkening (h, w) where the depth bends sharply: outlines, rims, letters."""
    filled = np.where(np.isfinite(depth), depth, np.float32(BACKGROUND_MM))
    bend = np.zeros_like(filled)
    for inner, before, after in (
        (np.s_[1:-1, :], np.s_[:-2, :], np.s_[2:, :]),
        (np.s_[:, 1:-1], np.s_[:, :-2], np.s_[:, 2:]),
    ):
        second = np.abs(filled[before] + filled[after] - 2.0 * filled[inner])
        bend[inner] = np.maximum(bend[inner], second)
    return np.asarray(1.0 - LINE_STRENGTH * np.clip(bend / LINE_MM - 1.0, 0.0, 1.0), dtype=np.float32)
