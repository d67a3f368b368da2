"""The skin side of a finished orthosis and its straps, cut into patches that can press.

patches of the shell     triangles that look at the skin and lie as near to it as the shell does where it bears: that leaves out
                         flares and reliefs
patches of a strap       strips across it, as broad as its slots lie apart
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from print3d.forms.orthosis import Orthosis, Part
from print3d.forms.straps import slot_pairs, wrap_places
from print3d.geometry.nearest import skin_surface
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept
from print3d.limb.joint_id import JointId
from print3d.limb.limb import Limb, Tube
from print3d.limb.tube import stations_of
from print3d.mechanics.wedges import LEAST_SPACINGS, Wedges, wedges_of

Bools = NDArray[np.bool_]

SPACING_MM = {"ring": 1.2, "finger": 1.8, "hand": 5.0}
"""Width of wedges: with half of it the degrees lost by a worked finger case change by up to 6 percent (measured)."""
WITHIN_MM = 0.4
"""The shell bears where it lies no farther off than this beyond its nearest tenth; own choice, half a flare's height."""
FACING = 0.5
"""A face looks at the skin if its normal lies within 60 degrees of the way to it."""
STRIPS = 6
"""Patches across the width of a strap; own choice."""
UNDER_SHARE = 0.25
"""Opposite a strap lies what is within this share of its breadth from its middle: not the edges, which stand above the slots."""
SLIT_SHARE = 0.3
"""Lips that lie within this share of the width from the middle are those of a slit; own choice."""
LEAST_ON_LIP = 2
"""Points that make a lip at least; own choice."""


@dataclass(frozen=True, eq=False)
class Patches:
    """Pieces of skin on which an orthosis can press.

    points, normals : (n, 3) mm; normals out of the skin
    areas : (n,) mm2
    part : (n,) number of the part
    corners : (n, k) points of the part's wedges that share the force, padded with the first of them
    strap : (n,) number of the strap, -1 for the shell
    """

    points: Floats
    normals: Floats
    areas: Floats
    part: Ints
    corners: tuple[Ints, ...]
    strap: Ints


@dataclass(frozen=True, eq=False)
class Band:
    """A strap across the open side.

    middle : (3,) mm, between its ends
    along, out : (3,) along the limb, and out of the skin
    width_mm, breadth_mm : along the limb, and from end to end
    corners : (k,) the wedges' points that it pulls at
    """

    middle: Floats
    along: Floats
    out: Floats
    width_mm: float
    breadth_mm: float
    corners: Ints


@kept
def coarse(part: Part, is_finger: bool) -> Wedges:
    """Return a part as wedges of the size that its kind takes.

    Several checks of one orthosis ask for the same ones.
    """
    kind = "hand" if not is_finger else "ring" if part.rings else "finger"
    return wedges_of(part, max(SPACING_MM[kind], LEAST_SPACINGS * part.definition.facets.spacing_mm))


def wedges_by_part(orthosis: Orthosis) -> tuple[Wedges, ...]:
    """Return all parts as wedges."""
    is_finger = "wrist" not in orthosis.limb.by_ray
    return tuple(coarse(part, is_finger) for part in orthosis.parts)


def bearing(orthosis: Orthosis, number: int) -> Patches:
    """The faces of a part that look at the skin and lie as near to it as it bears."""
    wedges = wedges_by_part(orthosis)[number]
    n = len(wedges.inner)
    faces = np.vstack([wedges.triangles[:, ::-1], wedges.triangles + n])
    a, b, c = np.moveaxis(wedges.points[faces], 1, 0)
    vectors, middles = np.cross(b - a, c - a) / 2.0, (a + b + c) / 3.0
    areas = np.linalg.norm(vectors, axis=1)
    normals = -vectors / areas[:, None]
    gap, near = skin_surface(orthosis.limb).signed_and_nearest(middles)
    away = (middles - near) / np.maximum(np.linalg.norm(middles - near, axis=1, keepdims=True), 1e-9)
    faces_skin = np.einsum("ij,ij->i", normals, away) * np.where(gap < 0.0, -1.0, 1.0) > FACING
    bears = faces_skin & (gap < _even_gap(gap, areas, faces_skin) + WITHIN_MM)
    count = int(bears.sum())
    return Patches(
        middles[bears],
        normals[bears],
        areas[bears],
        np.full(count, number),
        tuple(faces[bears]),
        np.full(count, -1),
    )


def _even_gap(gap: Floats, areas: Floats, faces_skin: Bools) -> float:
    """The gap that a tenth of the skin side stays below."""
    order = np.argsort(gap[faces_skin])
    grown = np.cumsum(areas[faces_skin][order])
    return float(gap[faces_skin][order][np.searchsorted(grown, 0.1 * grown[-1])])


def straps_through(orthosis: Orthosis, number: int) -> Iterator[Patches]:
    """The straps through a part's slots, two slots each, radial and ulnar."""
    part, wedges = orthosis.parts[number], wedges_by_part(orthosis)[number]
    for strap, pair in zip(part.straps, slot_pairs(part), strict=True):
        one, other = pair.loops
        middle, along = (pair.middles[0] + pair.middles[1]) / 2.0, pair.along
        across = pair.middles[1] - pair.middles[0]
        out = np.cross(along, across)
        out /= np.linalg.norm(out)
        width = strap.width_mm
        breadth = float(np.linalg.norm(across))
        from_middle = wedges.inner - middle
        is_under = np.abs(from_middle @ along) < width / 2.0
        is_under &= np.abs(from_middle @ across) < UNDER_SHARE * breadth**2
        out *= -np.sign(float((from_middle[is_under] @ out).mean()))
        corners = np.concatenate([_lip(part, wedges, *pair) for pair in ((one, other), (other, one))])
        yield _strips(number, Band(middle, along, out, width, breadth, corners))


def _lip(part: Part, wedges: Wedges, slot: int, other: int) -> Ints:
    """The wedges' points on the side of a slot that its strap pulls at.

    That is the bar between slot and trim line.
    """
    flat, far = (part.definition.pattern.rimmed[k].points for k in (slot, other))
    rim = part.shell.mesh.vertices[part.shell.rims[slot][0]]
    outer_half = (flat - flat.mean(axis=0)) @ (flat.mean(axis=0) - far.mean(axis=0)) > 0.0
    towards_bar = rim[outer_half].mean(axis=0) - rim[~outer_half].mean(axis=0)
    mine = np.flatnonzero(np.tile(wedges.on_loop == slot, 2))
    place = wedges.points[mine] @ towards_bar
    return mine[place > (place.min() + place.max()) / 2.0]


def _strips(number: int, band: Band) -> Patches:
    """A strap as strips across it."""
    places = band.width_mm * ((np.arange(STRIPS) + 0.5) / STRIPS - 0.5)
    return Patches(
        band.middle + places[:, None] * band.along,
        np.tile(band.out, (STRIPS, 1)),
        np.full(STRIPS, band.width_mm * band.breadth_mm / STRIPS),
        np.full(STRIPS, number),
        tuple([band.corners] * STRIPS),
        np.zeros(STRIPS, dtype=np.int64),
    )


def wrapped(orthosis: Orthosis, number: int, tube: Tube, joint: JointId, width: float) -> Iterator[Patches]:
    """Straps wrapped around shell and finger where they hold best."""
    wedges = wedges_by_part(orthosis)[number]
    stations = stations_of(tube, wedges.outer)
    axis, dorsal = tube.spine.at(stations)
    shell_height = float(np.einsum("ij,ij->i", wedges.outer - axis, dorsal).mean())
    places = wrap_places(tube, joint, stations, width, is_volar=shell_height < 0.0)
    for place in places:
        under = np.abs(stations - place) < width / 2.0
        (middle,), (back,) = tube.spine.at(np.array([place]))
        out = -np.sign(shell_height) * back
        corners = len(wedges.inner) + np.flatnonzero(under & ((wedges.outer - middle) @ out < 0.0))
        if len(corners):
            breadth = 2.0 * float(tube.half_axes(np.array([place]))[0][0])
            along = np.cross(np.array([0.0, 1.0, 0.0]), back)
            yield _strips(number, Band(middle, along, out, width, breadth, corners))


def joined(pieces: Sequence[Patches]) -> Patches:
    """All patches as one, straps numbered on."""
    straps, count = [], 0
    for each in pieces:
        is_strap = bool(len(each.strap)) and each.strap[0] >= 0
        straps.append(each.strap + count if is_strap else each.strap)
        count += is_strap
    return Patches(
        np.vstack([each.points for each in pieces]),
        np.vstack([each.normals for each in pieces]),
        np.concatenate([each.areas for each in pieces]),
        np.concatenate([each.part for each in pieces]),
        tuple(corner for each in pieces for corner in each.corners),
        np.concatenate(straps),
    )


def ties_of(part: Part, wedges: Wedges, limb: Limb) -> tuple[Floats, ...]:
    """Return the forces of 1 N that pull the two ends of each strap across a sleeve's slit apart.

    Straps of slots tie the slots. A sleeve without slots is tied along its slit, where straps are wrapped around.
    """
    mouth = _slit(part, wedges, limb)
    if mouth is None:
        return ()
    slots = [k for k, loop in enumerate(part.definition.pattern.rimmed) if loop.kind == "slot"]
    pairs = [[wedges.on_loop == k for k in pair] for pair in zip(slots[::2], slots[1::2], strict=True)]
    ties = []
    for one, other in pairs or mouth:
        apart = wedges.inner[other].mean(axis=0) - wedges.inner[one].mean(axis=0)
        forces = np.zeros_like(wedges.points)
        for lip, sign in ((one, -1.0), (other, 1.0)):
            forces[np.tile(lip, 2)] = sign * apart / np.linalg.norm(apart) / (2.0 * lip.sum())
        ties.append(forces)
    return tuple(ties)


def _slit(part: Part, wedges: Wedges, limb: Limb) -> list[list[Bools]] | None:
    """The lips of a sleeve, in halves along it; None for all that is no sleeve."""
    tube = limb.tube
    if tube is None or part.definition.pattern.period_mm is not None:
        return None
    radial = wedges.inner[:, 1]
    width = float(np.ptp(radial))
    stations = stations_of(tube, wedges.inner)
    axis, dorsal = tube.spine.at(stations)
    height = np.einsum("ij,ij->i", wedges.inner - axis, dorsal) - tube.section_middle(stations)
    ends = np.quantile(stations, [0.1, 0.5, 0.9])
    near_slit = (wedges.on_loop == 0) & (np.abs(radial) < SLIT_SHARE * width)
    halves = []
    for low, high in pairwise(ends):
        for back in (1.0, -1.0):
            lips = [
                near_slit
                & (side * radial > 0.0)
                & (back * height > 0.0)
                & (stations > low)
                & (stations < high)
                for side in (-1.0, 1.0)
            ]
            if all(lip.sum() >= LEAST_ON_LIP for lip in lips):
                halves.append(lips)
    return halves or None
