"""Bodies to pixels, without a graphics card: soft light, lines at edges, translucent bodies, colours per vertex."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from print3d.exports.camera import Camera, Hits, visible
from print3d.geometry.mesh import Mesh

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]

FINER = 2
"""Each pixel is the mean of FINER x FINER samples."""
CREASE_RAD = np.radians(35.0)
"""Faces that meet at a larger angle keep their own light: letters stay sharp, rims look round."""
LINE_MM = 0.12
"""A bend of the depth by more than this between neighbouring samples is drawn as a line: edges and letters."""
LINE_STRENGTH = 0.55
BACKGROUND_MM = 500.0
"""How far behind a body the empty background counts, so that its outline is a line."""


@dataclass(frozen=True, eq=False)
class Body:
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

    sample : (n,) numbers of the samples, row by row
    share : (n,) of its colour that comes to the eye: light, lines, and what lies in front
    corners : (3, n) its vertices around each sample
    weights : (2, n) shares of the second and third of them
    """

    sample: Ints
    share: Singles
    corners: Ints
    weights: Singles

    def coloured(self, colour: Floats) -> Singles:
        """Return what comes to the eye (n, 3) from a body of this colour: (3,), or (vertices, 3) blended between the corners."""
        plain = colour.astype(np.float32)
        blended = plain if plain.ndim == 1 else _blended(plain[self.corners], self.weights[..., None])
        return np.asarray(self.share[:, None] * blended)


@dataclass(frozen=True, eq=False)
class Sight:
    """What a camera sees of bodies: all of their picture but the colours.

    size : width and height of the picture in pixels
    window : rows and columns of the pixels in which there are bodies
    is_empty : (samples,) whether there is nothing, over the window's samples row by row
    shown : for each body
    """

    size: tuple[int, int]
    window: tuple[slice, slice]
    is_empty: NDArray[np.bool_]
    shown: tuple[_Shown, ...]

    def picture(self, colours: Sequence[Floats]) -> NDArray[np.uint8]:
        """Return the picture (height, width, 3) on white, the bodies in these colours, each as in `Body`."""
        samples = np.repeat(self.is_empty[:, None].astype(np.float32), 3, axis=1)
        for shown, colour in zip(self.shown, colours, strict=True):
            samples[shown.sample] += shown.coloured(colour)
        rows, columns = self.window
        cells = samples.reshape(rows.stop - rows.start, FINER, columns.stop - columns.start, FINER, 3)
        total = sum(cells[:, row, :, column] for row in range(FINER) for column in range(FINER))
        picture = np.full((*self.size[::-1], 3), 255, dtype=np.uint8)
        picture[self.window] = np.round(255.0 * np.clip(total / FINER**2, 0.0, 1.0))
        return picture


def render(bodies: Sequence[Body], camera: Camera) -> NDArray[np.uint8]:
    """Return the picture (height, width, 3) of the bodies on white."""
    return sight(bodies, camera).picture([body.colour for body in bodies])


def sight(bodies: Sequence[Body], camera: Camera) -> Sight:
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
    shown = [_shown(body, hits, share, fine) for body, hits, share in zip(bodies, seen, shares, strict=True)]
    return Sight(camera.size, window, np.isinf(depths).all(axis=0).ravel(), tuple(shown))


def _shares(depths: Singles, opacities: Sequence[float]) -> Singles:
    """How much of each body (bodies, samples) comes to the eye through those in front of it; the farthest is solid."""
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


def _shown(body: Body, hits: Hits, share: Singles, camera: Camera) -> _Shown:
    """What shows of a body by what a camera of its own window hits, and its share (samples,) of the whole picture."""
    _, (rows, columns) = camera.window(body.mesh.vertices)
    number = np.arange(len(share)).reshape(camera.size[::-1])[rows, columns].ravel()
    hit = np.flatnonzero(share[number])
    face, weights = hits.face.ravel()[hit], hits.weights(hit).astype(np.float32)
    bright = share[number[hit]] * _blended(_light(body, camera).astype(np.float32).T[:, face], weights)
    if body.has_lines:
        bright *= _lines(hits.depth).ravel()[hit]
    return _Shown(number[hit], bright, body.mesh.faces[face].T, weights)


def _blended(corners: Singles, weights: Singles) -> Singles:
    """Values between those of three corners (3, n, ...), by the shares (2, n, ...) of the second and third."""
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
    """Unit normals (n, 3) of face corners sorted by vertex: each the mean of those at its vertex within the crease angle."""
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


def _light(body: Body, camera: Camera) -> Floats:
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
