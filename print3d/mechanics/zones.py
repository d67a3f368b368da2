"""The joints that an orthosis holds, each with the bed of patches that bear about it.

Patches come from `contact_patches.py`; with each bed come the motions that it allows.

finger, hand     two bones meet at a hinge and press on the orthosis from inside; the joint tends one way
yoke             one finger turns about its MCP into the band, which sinks and tilts on its neighbours
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from print3d.forms.orthosis import Orthosis
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept
from print3d.limb.finger import DISTAL_OF, SEGMENTS, FingerJoint, FingerLimb
from print3d.limb.four_fingers import FourFingers
from print3d.limb.hand import HandLimb
from print3d.limb.tube import stations_of
from print3d.mechanics.bearing import Bed
from print3d.mechanics.contact_patches import Patches, bearing, joined, straps_through, wrapped

Bools = NDArray[np.bool_]
Tends = Literal["flexion", "extension"]

OVER_JOINT_MM = 2.0
"""A strap whose middle lies no farther along the limb from a joint lies over it."""
WORDS = {
    "hand": "hand",
    "proximal": "proximal phalanx",
    "middle": "middle phalanx",
    "distal": "distal phalanx",
}


@dataclass(frozen=True, eq=False)
class Joint:
    """A joint between two bones.

    bones : names of the proximal and of the distal one
    hinge : (3,) mm
    dorsal : (3,) out of the back at the joint
    """

    name: str
    tends: Tends
    bones: tuple[str, str]
    hinge: Floats
    dorsal: Floats


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
    """How the case is strapped where the mesh does not say: straps wrapped around lie where they hold best."""

    style: str = "slots"
    width_mm: float = 10.0


@kept
def holds_of(orthosis: Orthosis, strapping: Strapping) -> tuple[Hold, ...]:
    """Return every joint that the orthosis holds or stops, with its bed.

    Two checks of one orthosis ask for the same ones.
    """
    limb = orthosis.limb
    if isinstance(limb, FingerLimb):
        tends: dict[FingerJoint, Tends] = {joint: "flexion" for joint in orthosis.held}
        tends |= {stop.joint: stop.blocked for stop in orthosis.stops}
        return tuple(_finger_hold(orthosis, limb, joint, way, strapping) for joint, way in tends.items())
    if isinstance(limb, HandLimb):
        fingers = _hand_hold(orthosis, limb, "MCP")
        return (fingers, _hand_hold(orthosis, limb, "wrist")) if _is_long(orthosis, limb) else (fingers,)
    return (_yoke_hold(orthosis, limb),) if orthosis.differences else ()


def _is_long(orthosis: Orthosis, limb: HandLimb) -> bool:
    """Whether the orthosis reaches up the forearm."""
    return any(part.shell.mesh.vertices[:, 0].min() < -2.0 * limb.wrist_tape_mm for part in orthosis.parts)


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
    straps = [each for k in numbers for each in straps_through(orthosis, k)]
    strapped = next(iter(orthosis.held), joint)
    if strapping.style == "wrap" and not any(orthosis.parts[k].rings for k in numbers):
        straps += [each for k in numbers for each in wrapped(orthosis, k, limb, strapped, strapping.width_mm)]
    patches = joined([*(bearing(orthosis, k) for k in numbers), *straps])
    is_distal = stations_of(limb, patches.points) > at_joint
    bones = (WORDS[proximal], WORDS[distal])
    return _hinged(Joint(joint.upper(), tends, bones, hinge, dorsal), patches, is_distal)


def _hand_hold(orthosis: Orthosis, limb: HandLimb, joint: Literal["MCP", "wrist"]) -> Hold:
    """The fingers against the hand, or the hand against the forearm: fingers press into the block, the hand's weight hangs."""
    parts = range(len(orthosis.parts))
    patches = joined(
        [
            *(bearing(orthosis, k) for k in parts),
            *(each for k in parts for each in straps_through(orthosis, k)),
        ]
    )
    centres, tends = np.array([ray.mcp_centre for ray in limb.rays.values()]), _tends(joint)
    if joint == "wrist":
        hinge, names, is_distal = np.zeros(3), ("forearm", "hand"), patches.points[:, 0] > 0.0
        flexed = limb.wrist_flexion_deg
    else:
        hinge, names = (
            centres.mean(axis=0),
            ("forearm and hand" if _is_long(orthosis, limb) else "hand", "fingers"),
        )
        order = np.argsort(centres[:, 1])
        is_distal = patches.points[:, 0] > np.interp(patches.points[:, 1], *centres[order][:, [1, 0]].T)
        flexed = float(np.mean([ray.limb.pose.mcp_flexion_deg for ray in limb.rays.values()]))
    half = np.radians(flexed) / 2.0 * (1.0 if joint == "MCP" else -1.0)
    dorsal = np.array([np.sin(half), 0.0, np.cos(half)])
    return _hinged(Joint(joint, tends, names, hinge, dorsal), patches, is_distal)


def _tends(joint: Literal["MCP", "wrist"]) -> Tends:
    return "flexion" if joint == "wrist" else "extension"


def _hinged(joint: Joint, patches: Patches, is_distal: Bools) -> Hold:
    """Two bones that turn about a hinge, which moves dorsally or volarly as the skin yields."""
    dorsal, turning = joint.dorsal, _turning(patches.points - joint.hinge, patches.normals)
    rows = np.column_stack([patches.normals @ dorsal, turning * ~is_distal, turning * is_distal])
    sign = 1.0 if joint.tends == "flexion" else -1.0
    load = sign * np.array([0.0, -1.0, 1.0])
    side = np.where(patches.normals @ dorsal > 0.0, 1, 0)
    zones = np.where(patches.strap < 0, 2 * is_distal + side, 4 + patches.strap)
    shell = [f"{bone}, {which} side" for bone in joint.bones for which in ("volar", "dorsal")]
    straps = []
    for number in range(int(patches.strap.max(initial=-1)) + 1):
        mine = patches.strap == number
        side_of = "back" if float((patches.normals[mine] @ dorsal).mean()) > 0.0 else "palm side"
        to_joint = _to_joint(patches.points[mine], joint.hinge, dorsal)
        over = joint.name if abs(to_joint) < OVER_JOINT_MM else joint.bones[int(to_joint < 0.0)]
        straps.append(f"strap over the {side_of} of the {over}")
    bed = Bed(patches.points, patches.normals, patches.areas, rows, zones)
    names = (*shell, *_told_apart(straps, patches, joint))
    return Hold(joint.name, joint.tends, bed, load, names, is_distal, joint.hinge, dorsal, patches)


def _told_apart(straps: Sequence[str], patches: Patches, joint: Joint) -> Iterator[str]:
    """Names of straps; two of one name say how far from the joint they lie."""
    for number, name in enumerate(straps):
        if straps.count(name) == 1:
            yield name
        else:
            middle = patches.points[patches.strap == number].mean(axis=0)
            yield f"{name} {np.linalg.norm(middle - joint.hinge):.0f} mm away"


def strap_to_joint(hold: Hold, number: int) -> float:
    """Return how far distal of the middle of a strap, the zone `number`, its joint lies (mm along the limb)."""
    return _to_joint(hold.bed.points[hold.bed.zones == number], hold.hinge, hold.dorsal)


def _to_joint(strap: Floats, hinge: Floats, dorsal: Floats) -> float:
    along = np.cross(np.array([0.0, 1.0, 0.0]), dorsal)
    return float((hinge - strap.mean(axis=0)) @ along)


def with_strap(hold: Hold, number: int, *, over_joint: bool, wider: float) -> Hold:
    """Return the same hold with the strap of one zone moved over the joint, or made wider."""
    bed, mine = hold.bed, hold.bed.zones == number
    along = np.cross(np.array([0.0, 1.0, 0.0]), hold.dorsal)
    middle = bed.points[mine].mean(axis=0)
    shift = strap_to_joint(hold, number) if over_joint else 0.0
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
    """The injured finger turns about its MCP into the yoke, which rests on its neighbours.

    The yoke may sink and tilt both ways.
    """
    (difference, *_) = orthosis.differences
    patches = joined([bearing(orthosis, k) for k in range(len(orthosis.parts))])
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
