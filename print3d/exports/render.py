"""Bodies to pixels, without a graphics card: soft light, lines at edges, translucent bodies, colours per vertex."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from print3d.exports.raycast import Camera, Hits, visible
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
    seen : where what a camera sees is kept, for bodies of one shape that are drawn in several colours
    is_lit : a map is not: its colours stay those of its scale, a little darker where a face turns away from the eye
    """

    mesh: Mesh
    colour: Floats
    opacity: float = 1.0
    has_lines: bool = True
    is_lit: bool = True
    seen: dict[bytes, Hits] | None = None

    @cached_property
    def drawn(self) -> dict[bytes, "_Layer"]:
        """The body as cameras saw it, kept with what is `seen`."""
        return {}

    @cached_property
    def normals(self) -> Floats:
        """Unit normals (faces, 3 corners, 3) for the light, computed once for all views."""
        return corner_normals(self.mesh)


@dataclass(frozen=True, eq=False)
class _Layer:
    """One body in the picture: depth (h, w), infinite where it is not, and shaded colour (h, w, 3)."""

    depth: Singles
    colour: Singles
    opacity: float


def render(bodies: Sequence[Body], camera: Camera) -> NDArray[np.uint8]:
    """Return the picture (height, width, 3) of the bodies on white."""
    width, height = camera.size
    fine, (rows, columns) = camera.finer(FINER).window(np.vstack([body.mesh.vertices for body in bodies]))
    picture = np.ones((FINER * height, FINER * width, 3), dtype=np.float32)
    if fine.size[0] > 0 and fine.size[1] > 0:
        picture[rows, columns] = _composed([_layer(body, fine) for body in bodies])
    samples = [picture[row::FINER, column::FINER] for row in range(FINER) for column in range(FINER)]
    mean = np.sum(samples, axis=0) / len(samples)
    return np.asarray(np.round(255.0 * np.clip(mean, 0.0, 1.0)), dtype=np.uint8)


def _composed(layers: Sequence[_Layer]) -> Singles:
    """Lay the bodies over each other, pixel by pixel."""
    picture = np.ones_like(layers[0].colour)
    flat, there = picture.reshape(-1, 3), [np.isfinite(layer.depth).ravel() for layer in layers]
    count = np.sum(there, axis=0, dtype=np.int8)
    for layer, mask in zip(layers, there, strict=True):
        alone = np.flatnonzero(mask & (count == 1))
        flat[alone] = layer.colour.reshape(-1, 3)[alone]
    shared = np.flatnonzero(count > 1)
    flat[shared] = _mixed(
        np.array([layer.depth.ravel()[shared] for layer in layers]),
        np.array([layer.colour.reshape(-1, 3)[shared] for layer in layers]),
        np.array([layer.opacity for layer in layers], dtype=np.float32),
    )
    return picture


def _mixed(depths: Singles, colours: Singles, opacities: Singles) -> Singles:
    """Colours (pixels, 3) of bodies over each other: depths (bodies, pixels), colours (bodies, pixels, 3), opacities (bodies,)."""
    mixed = np.ones(colours.shape[1:], dtype=np.float32)
    empty = np.ones(len(mixed), dtype=bool)
    for body in np.argsort(-depths, axis=0, kind="stable"):  # the farthest first
        here = np.flatnonzero(np.isfinite(np.take_along_axis(depths, body[None], axis=0)[0]))
        opacity = np.where(empty[here], np.float32(1.0), opacities[body[here]])[:, None]
        mixed[here] += opacity * (colours[body[here], here] - mixed[here])
        empty[here] = False
    return mixed


def _layer(body: Body, camera: Camera) -> _Layer:
    """A body as a camera sees it, looked up where the body keeps it."""
    if body.seen is None:
        return _drawn(body, camera)
    key = _pose(camera) + body.colour.tobytes()
    if key not in body.drawn:
        body.drawn[key] = _drawn(body, camera)
    return body.drawn[key]


def _drawn(body: Body, camera: Camera) -> _Layer:
    width, height = camera.size
    depth = np.full((height, width), np.inf, dtype=np.float32)
    colour = np.ones((height, width, 3), dtype=np.float32)
    part, window = camera.window(body.mesh.vertices)
    if part.size[0] > 0 and part.size[1] > 0:
        hits = _hits(body, part)
        depth[window] = hits.depth
        colour[window] = _shaded(body, hits, part)
    if body.has_lines:
        colour *= _lines(depth)[..., None]
    return _Layer(depth, colour, body.opacity)


def _hits(body: Body, camera: Camera) -> Hits:
    """What a camera sees of a body, looked up where the body keeps it."""
    if body.seen is None:
        return visible(body.mesh, camera)
    pose = _pose(camera)
    if pose not in body.seen:
        body.seen[pose] = visible(body.mesh, camera)
    return body.seen[pose]


def _pose(camera: Camera) -> bytes:
    return np.hstack([camera.forward, camera.up, camera.centre, camera.mm_per_pixel, camera.size]).tobytes()


def _shaded(body: Body, hits: Hits, camera: Camera) -> Singles:
    """Colour (h, w, 3): light, and colour where it varies, blended between the corners of each face."""
    hit = hits.face >= 0
    face, weights = hits.face[hit], hits.weights[hit]
    light = _blended(_light(body, camera)[..., None].astype(np.float32)[face], weights)
    colour = body.colour.astype(np.float32)
    if colour.ndim == 2:
        colour = _blended(colour[body.mesh.faces[face]], weights)
    shaded = np.ones((*hits.face.shape, 3), dtype=np.float32)
    shaded[hit] = light * colour
    return shaded


def _blended(corners: Singles, weights: Singles) -> Singles:
    """Values (n, k) between those of the three corners (n, 3, k)."""
    first = corners[:, 0]
    return first + weights[:, :1] * (corners[:, 1] - first) + weights[:, 1:] * (corners[:, 2] - first)


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
    """Soft light from the eye and from above its left shoulder."""
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
