r"""Where an orthosis can bear: the skin side of its finished mesh and its straps, as a bed of patches for every joint it holds.

Two bones that meet at a joint press on it from inside; the joint tends one way. For a yoke one finger presses against its neighbours.

         strap                 patches of the shell: triangles that face the skin and lie as near to it as the shell does
    ______[===]_____           where it bears, which leaves out flares and reliefs
    -------o--------           patches of a strap: strips across it, as broad as its slots lie apart
    \___shell______/
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from print3d.checks.bearing import Bed
from print3d.checks.nearest import Surface
from print3d.checks.sections import stations_of
from print3d.checks.wedges import Wedges, wedges_of
from print3d.limb.finger import DISTAL_OF, SEGMENTS, FingerJoint, FingerLimb
from print3d.limb.four_fingers import FourFingers
from print3d.limb.hand import HandLimb
from print3d.orthoses.built import Orthosis, Part
from print3d.shell.slots import STRAP_PLAY_MM

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Tends = Literal["flexion", "extension"]

SPACING_MM = {"finger": 2.2, "hand": 5.0}
"""Width of wedges: with half of it the stiffness of a vented shell changes by less than 3 percent (measured)."""
WITHIN_MM = 0.4
"""The shell bears where it lies no farther off than this beyond its nearest tenth; own choice, half a flare's height."""
FACING = 0.5
"""A face looks at the skin if its normal lies within 60 degrees of the way to it."""
STRIPS = 6
LEAST_SHARE = 0.02
"""A part acts on a joint if this share of what bears lies on either side of it."""
WORDS = {"hand": "hand", "proximal": "proximal phalanx", "middle": "middle phalanx", "distal": "distal phalanx"}


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
class Hold:
    """A joint with what bears about it.

    joint : "PIP", "wrist", "middle MCP" ...
    tends : which way the joint would go without the orthosis
    load : (m,) on the motions of `bed.rows`, of a joint moment of 1 N mm
    names : what each zone of `bed` is called
    is_distal : (n,) which patches lie beyond the joint
    hinge : (3,) mm
    dorsal : (3,) out of the back at the joint
    """

    joint: str
    tends: Tends
    bed: Bed
    load: Floats
    names: tuple[str, ...]
    is_distal: Bools
    hinge: Floats
    dorsal: Floats
    patches: Patches


@dataclass(frozen=True)
class Strapping:
    """How the case is strapped where the mesh does not say: a strap wrapped around lies just proximal of the joint."""

    style: str = "slots"
    width_mm: float = 10.0


def holds_of(orthosis: Orthosis, strapping: Strapping) -> list[Hold]:
    """Return every joint that the orthosis holds or stops, with its bed."""
    limb = orthosis.limb
    if isinstance(limb, FingerLimb):
        tends: dict[FingerJoint, Tends] = {joint: "flexion" for joint in orthosis.held}
        tends |= {stop.joint: stop.blocked for stop in orthosis.stops}
        return [_finger_hold(orthosis, limb, joint, way, strapping) for joint, way in tends.items()]
    if isinstance(limb, HandLimb):
        fingers = _hand_hold(orthosis, limb, "MCP")
        return [fingers, _hand_hold(orthosis, limb, "wrist")] if _is_long(orthosis, limb) else [fingers]
    return [_yoke_hold(orthosis, limb)] if orthosis.differences else []


@lru_cache(maxsize=16)
def coarse(part: Part, is_finger: bool) -> Wedges:
    """Return a part as wedges of the size that its kind takes; several checks of one orthosis ask for the same ones."""
    return wedges_of(part, SPACING_MM["finger" if is_finger else "hand"])


def wedges_by_part(orthosis: Orthosis) -> tuple[Wedges, ...]:
    """Return all parts as wedges."""
    is_finger = not isinstance(orthosis.limb, HandLimb)
    return tuple(coarse(part, is_finger) for part in orthosis.parts)


def _is_long(orthosis: Orthosis, limb: HandLimb) -> bool:
    """Whether the orthosis reaches up the forearm."""
    return any(part.mesh.mesh.vertices[:, 0].min() < -2.0 * limb.wrist_tape_mm for part in orthosis.parts)


# --- one joint between two bones ------------------------------------------------------------------------------------


def _finger_hold(
    orthosis: Orthosis, limb: FingerLimb, joint: FingerJoint, tends: Tends, strapping: Strapping
) -> Hold:
    distal = DISTAL_OF[joint]
    proximal = SEGMENTS[SEGMENTS.index(distal) - 1]
    hinge = limb.segment_transform(distal)[:3, 3]
    dorsal = limb.spine.at(np.array([limb.landmarks[joint]]))[1][0]
    at_joint = limb.landmarks[joint]
    numbers = [k for k, part in enumerate(orthosis.parts) if part.floats_across == joint] or [
        k for k, part in enumerate(orthosis.parts) if part.floats_across is None
    ]
    straps = [each for k in numbers for each in _straps(orthosis, k)]
    if strapping.style == "wrap" and not any(orthosis.parts[k].rings for k in numbers):
        straps += [each for k in numbers for each in _wrapped(orthosis, k, limb, joint, strapping.width_mm)]
    patches = _joined([*(_bearing(orthosis, k) for k in numbers), *straps])
    is_distal = stations_of(limb, patches.points) > at_joint
    return _hinged(joint.upper(), tends, (WORDS[proximal], WORDS[distal]), patches, is_distal, hinge, dorsal)


def _hand_hold(orthosis: Orthosis, limb: HandLimb, joint: Literal["MCP", "wrist"]) -> Hold:
    """The fingers against the hand, or the hand against the forearm: fingers press into the block, the hand's weight hangs."""
    parts = range(len(orthosis.parts))
    patches = _joined(
        [*(_bearing(orthosis, k) for k in parts), *(each for k in parts for each in _straps(orthosis, k))]
    )
    centres = np.array([ray.mcp_centre for ray in limb.rays.values()])
    if joint == "wrist":
        hinge, names, is_distal = np.zeros(3), ("forearm", "hand"), patches.points[:, 0] > 0.0
        flexed, tends = limb.wrist_flexion_deg, "flexion"
    else:
        hinge, names = centres.mean(axis=0), ("forearm and hand" if _is_long(orthosis, limb) else "hand", "fingers")
        order = np.argsort(centres[:, 1])
        is_distal = patches.points[:, 0] > np.interp(patches.points[:, 1], *centres[order][:, [1, 0]].T)
        flexed = float(np.mean([ray.limb.pose.mcp_flexion_deg for ray in limb.rays.values()]))
        tends = "extension"
    half = np.radians(flexed) / 2.0 * (1.0 if joint == "MCP" else -1.0)
    dorsal = np.array([np.sin(half), 0.0, np.cos(half)])
    return _hinged(joint, tends, names, patches, is_distal, hinge, dorsal)


def _hinged(
    joint: str, tends: Tends, names: tuple[str, str], patches: Patches, is_distal: Bools, hinge: Floats, dorsal: Floats
) -> Hold:
    """Two bones that turn about a hinge, which moves dorsally or volarly as the skin yields."""
    arm = patches.points - hinge
    turning = _turning(arm, patches.normals)
    rows = np.column_stack([patches.normals @ dorsal, turning * ~is_distal, turning * is_distal])
    sign = 1.0 if tends == "flexion" else -1.0
    load = sign * np.array([0.0, -1.0, 1.0])
    side = np.where(patches.normals @ dorsal > 0.0, 1, 0)
    zones = np.where(patches.strap < 0, 2 * is_distal + side, 4 + patches.strap)
    shell = [f"{bone}, {which} side" for bone in names for which in ("volar", "dorsal")]
    straps = []
    for number in range(int(patches.strap.max(initial=-1)) + 1):
        mine = patches.strap == number
        over = "back" if float((patches.normals[mine] @ dorsal).mean()) > 0.0 else "palm side"
        straps.append(f"strap over the {over} of the {names[int(is_distal[mine].mean() > 0.5)]}")
    bed = Bed(patches.points, patches.normals, patches.areas, rows, zones)
    return Hold(joint, tends, bed, load, (*shell, *straps), is_distal, hinge, dorsal, patches)


def with_strap(hold: Hold, number: int, *, over_joint: bool, wider: float) -> Hold:
    """Return the same hold with the strap of one zone moved over the joint, or made wider."""
    bed, mine = hold.bed, hold.bed.zones == number
    along = np.cross(np.array([0.0, 1.0, 0.0]), hold.dorsal)
    middle = bed.points[mine].mean(axis=0)
    shift = float((hold.hinge - middle) @ along) if over_joint else 0.0
    points = bed.points.copy()
    points[mine] = middle + wider * (bed.points[mine] - middle) + shift * along
    is_distal = np.where(mine, (points - hold.hinge) @ along > 0.0, hold.is_distal)
    turning = _turning(points - hold.hinge, bed.normals)
    rows = np.column_stack([bed.normals @ hold.dorsal, turning * ~is_distal, turning * is_distal])
    areas = np.where(mine, wider * bed.areas, bed.areas)
    return replace(hold, bed=Bed(points, bed.normals, areas, rows, bed.zones), is_distal=is_distal)


def _turning(arm: Floats, normals: Floats) -> Floats:
    """How far each patch (n,) goes outwards per radian of flexion about the origin of `arm` (n, 3)."""
    return np.asarray(normals[:, 0] * arm[:, 2] - normals[:, 2] * arm[:, 0])


# --- one finger against its neighbours -------------------------------------------------------------------------------


def _yoke_hold(orthosis: Orthosis, limb: FourFingers) -> Hold:
    """The injured finger turns about its MCP into the yoke, which rests on its neighbours: it may sink and tilt both ways."""
    (difference, *_) = orthosis.differences
    patches = _joined([_bearing(orthosis, k) for k in range(len(orthosis.parts))])
    names = (difference.finger, *difference.neighbours)
    owner = _nearest_finger(limb, patches.points, names)
    mine = owner == 0
    hinge = limb.rays[difference.finger].mcp_centre
    arm = patches.points - hinge
    turning = _turning(arm, patches.normals)
    rolling = patches.normals[:, 2] * arm[:, 1] - patches.normals[:, 1] * arm[:, 2]
    rows = np.column_stack([turning * mine, -patches.normals[:, 2], -turning, -rolling])
    tends: Tends = "flexion" if difference.more_extended_deg > 0.0 else "extension"
    load = np.array([1.0 if tends == "flexion" else -1.0, 0.0, 0.0, 0.0])
    side = np.where(patches.normals[:, 2] > 0.0, 1, 0)
    words = tuple(f"{name} finger, {which} side" for name in names for which in ("volar", "dorsal"))
    bed = Bed(patches.points, patches.normals, patches.areas, rows, 2 * owner + side)
    return Hold(
        f"{difference.finger} MCP", tends, bed, load, words, mine, hinge, np.array([0.0, 0.0, 1.0]), patches
    )


def _nearest_finger(limb: FourFingers, points: Floats, names: Sequence[str]) -> Ints:
    """Number (n,) of the finger whose axis is nearest to each point, seen from above."""
    across = []
    for name in names:
        ray = next(each for key, each in limb.rays.items() if key == name)
        along = ray.hand_from_finger()[:3, 0]
        arm = points - ray.mcp_centre
        across.append(np.abs(arm[:, 1] - arm[:, 0] * along[1] / along[0]))
    return np.argmin(np.array(across), axis=0)


# --- patches ---------------------------------------------------------------------------------------------------------


def _bearing(orthosis: Orthosis, number: int) -> Patches:
    """The faces of a part that look at the skin and lie as near to it as it bears."""
    wedges = wedges_by_part(orthosis)[number]
    n = len(wedges.inner)
    faces = np.vstack([wedges.triangles[:, ::-1], wedges.triangles + n])
    a, b, c = np.moveaxis(wedges.points[faces], 1, 0)
    vectors, middles = np.cross(b - a, c - a) / 2.0, (a + b + c) / 3.0
    areas = np.linalg.norm(vectors, axis=1)
    normals = -vectors / areas[:, None]
    gap, near = _skin(orthosis.limb).signed(middles), _skin(orthosis.limb).nearest(middles)[2]
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


@lru_cache(maxsize=4)
def _skin(limb: FingerLimb | FourFingers | HandLimb) -> Surface:
    return Surface(limb.skin_mesh())


def _straps(orthosis: Orthosis, number: int) -> Iterator[Patches]:
    """The straps through a part's slots, two slots each, radial and ulnar."""
    part, wedges = orthosis.parts[number], wedges_by_part(orthosis)[number]
    pattern, vertices = part.definition.pattern, part.mesh.mesh.vertices
    slots = [k for k, loop in enumerate(pattern.rimmed) if loop.kind == "slot"]
    for one, other in zip(slots[::2], slots[1::2], strict=True):
        rims = [vertices[part.mesh.rims[k][0]] for k in (one, other)]
        middles = [rim.mean(axis=0) for rim in rims]
        middle = (middles[0] + middles[1]) / 2.0
        along = _long_way(rims[0]) + _long_way(rims[1])
        along /= np.linalg.norm(along)
        across = middles[1] - middles[0]
        out = np.cross(along, across)
        out /= np.linalg.norm(out)
        width = float(np.mean([np.ptp(rim @ along) for rim in rims])) - STRAP_PLAY_MM
        under = wedges.inner[np.abs((wedges.inner - middle) @ along) < width / 2.0]
        out *= -np.sign((under.mean(axis=0) - middle) @ out)
        corners = np.flatnonzero(np.isin(np.tile(wedges.on_loop, 2), (one, other)))
        yield _strips(number, middle, along, out, (width, float(np.linalg.norm(across))), corners)


def _long_way(rim: Floats) -> Floats:
    """The direction (3,) of a slot, distal."""
    direction = np.linalg.svd(rim - rim.mean(axis=0), full_matrices=False)[2][0]
    return direction * np.sign(direction[0])


def _strips(
    number: int, middle: Floats, along: Floats, out: Floats, size: tuple[float, float], corners: Ints
) -> Patches:
    """A strap as strips across it."""
    width, breadth = size
    places = width * ((np.arange(STRIPS) + 0.5) / STRIPS - 0.5)
    return Patches(
        middle + places[:, None] * along,
        np.tile(out, (STRIPS, 1)),
        np.full(STRIPS, width * breadth / STRIPS),
        np.full(STRIPS, number),
        tuple([corners] * STRIPS),
        np.zeros(STRIPS, dtype=np.int64),
    )


def _wrapped(
    orthosis: Orthosis, number: int, limb: FingerLimb, joint: FingerJoint, width: float
) -> Iterator[Patches]:
    """A strap wrapped around shell and finger, its distal edge at the joint."""
    wedges = wedges_by_part(orthosis)[number]
    station = np.array([limb.landmarks[joint] - width / 2.0])
    axis, dorsal = limb.spine.at(station)
    outer = wedges.outer
    under = np.abs(stations_of(limb, outer) - station[0]) < width / 2.0
    if not under.any():
        return
    heights = (outer[under] - axis[0]) @ dorsal[0]
    out = -np.sign(heights.mean()) * dorsal[0]
    breadth = 2.0 * float(limb.half_axes(station)[0][0])
    along = np.cross(np.array([0.0, 1.0, 0.0]), dorsal[0])
    corners = len(wedges.inner) + np.flatnonzero(under & ((outer - axis[0]) @ out < 0.0))
    yield _strips(number, axis[0] + out * 0.0, along, out, (width, breadth), corners)


def _joined(pieces: Sequence[Patches]) -> Patches:
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
