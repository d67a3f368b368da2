"""The joints that an orthosis holds, each with the bed of patches that bear about it.

Patches come from `contact_patches.py`; with each bed come the motions that it allows.

finger, hand     two bones meet at a hinge and press on the orthosis from inside; the joint tends one way
yoke             one finger turns about its MCP into the band, which sinks and tilts on its neighbours
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from print3d.forms.orthosis import Orthosis
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept
from print3d.language.message import Message, message
from print3d.limb.finger import DISTAL_OF, SEGMENTS, FingerJoint, FingerLimb
from print3d.limb.four_fingers import FourFingers
from print3d.limb.hand import HandLimb
from print3d.limb.joint_id import JointId
from print3d.limb.tube import stations_of
from print3d.mechanics.bearing import Bed
from print3d.mechanics.contact_patches import Patches, bearing, joined, straps_through, wrapped
from print3d.mechanics.loads import MCP, WRIST
from print3d.mechanics.names import ZoneName, bone_name, sides_of, straps_apart

Bools = NDArray[np.bool_]
Tends = Literal["flexion", "extension"]

OVER_JOINT_MM = 2.0
"""A strap whose middle lies no farther along the limb from a joint lies over it."""


@dataclass(frozen=True, eq=False)
class Joint:
    """A joint between two bones.

    id : "middle.pip", "wrist.flexion", or "mcp" of all fingers
    bones : ids of the proximal and of the distal one
    hinge : (3,) mm
    dorsal : (3,) out of the back at the joint
    """

    id: str
    name: Message
    tends: Tends
    bones: tuple[str, str]
    hinge: Floats
    dorsal: Floats


@dataclass(frozen=True, eq=False)
class Hold:
    """A joint with what bears about it.

    joint, name : id and name of the joint
    tends : which way the joint would go without the orthosis
    load : (m,) on the motions of `bed.rows`, of a joint moment of 1 N mm
    names : of each zone of `bed`
    is_distal : (n,) which patches lie beyond the joint
    hinge : (3,) mm
    dorsal : (3,) out of the back at the joint
    """

    joint: str
    name: Message
    tends: Tends
    bed: Bed
    load: Floats
    names: tuple[ZoneName, ...]
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
        fingers = _hand_hold(orthosis, limb, MCP)
        return (fingers, _hand_hold(orthosis, limb, WRIST)) if _is_long(orthosis, limb) else (fingers,)
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
    which = JointId(limb.finger, joint)
    bones = (proximal, distal)
    return _hinged(Joint(str(which), which.alone, tends, bones, hinge, dorsal), patches, is_distal)


def _hand_hold(orthosis: Orthosis, limb: HandLimb, joint: str) -> Hold:
    """The fingers against the hand, or the hand against the forearm: fingers press into the block, the hand's weight hangs."""
    parts = range(len(orthosis.parts))
    patches = joined(
        [
            *(bearing(orthosis, k) for k in parts),
            *(each for k in parts for each in straps_through(orthosis, k)),
        ]
    )
    centres, tends = np.array([ray.mcp_centre for ray in limb.rays.values()]), _tends(joint)
    if joint == WRIST:
        hinge, names, is_distal = np.zeros(3), ("forearm", "hand"), patches.points[:, 0] > 0.0
        flexed = limb.wrist_flexion_deg
    else:
        hinge, names = (
            centres.mean(axis=0),
            ("forearm_and_hand" if _is_long(orthosis, limb) else "hand", "fingers"),
        )
        order = np.argsort(centres[:, 1])
        is_distal = patches.points[:, 0] > np.interp(patches.points[:, 1], *centres[order][:, [1, 0]].T)
        flexed = float(np.mean([ray.limb.pose.mcp_flexion_deg for ray in limb.rays.values()]))
    half = np.radians(flexed) / 2.0 * (1.0 if joint == MCP else -1.0)
    dorsal = np.array([np.sin(half), 0.0, np.cos(half)])
    name = JointId("wrist", "flexion").alone if joint == WRIST else message("common.joint.mcp")
    return _hinged(Joint(joint, name, tends, names, hinge, dorsal), patches, is_distal)


def _tends(joint: str) -> Tends:
    return "flexion" if joint == WRIST else "extension"


def _hinged(joint: Joint, patches: Patches, is_distal: Bools) -> Hold:
    """Two bones that turn about a hinge, which moves dorsally or volarly as the skin yields."""
    dorsal, turning = joint.dorsal, _turning(patches.points - joint.hinge, patches.normals)
    rows = np.column_stack([patches.normals @ dorsal, turning * ~is_distal, turning * is_distal])
    sign = 1.0 if joint.tends == "flexion" else -1.0
    load = sign * np.array([0.0, -1.0, 1.0])
    side = np.where(patches.normals @ dorsal > 0.0, 1, 0)
    zones = np.where(patches.strap < 0, 2 * is_distal + side, 4 + patches.strap)
    names = (*sides_of([(bone, bone_name(bone)) for bone in joint.bones]), *_straps(patches, joint))
    bed = Bed(patches.points, patches.normals, patches.areas, rows, zones)
    return Hold(joint.id, joint.name, joint.tends, bed, load, names, is_distal, joint.hinge, dorsal, patches)


def _straps(patches: Patches, joint: Joint) -> tuple[ZoneName, ...]:
    """Names of the straps: over which side of which bone, or of the joint, each lies."""
    names, away_mm = [], []
    for number in range(int(patches.strap.max(initial=-1)) + 1):
        mine = patches.strap == number
        points = patches.points[mine]
        side = "back" if float((patches.normals[mine] @ joint.dorsal).mean()) > 0.0 else "palm"
        to_joint = _to_joint(points, joint.hinge, joint.dorsal)
        is_over = abs(to_joint) < OVER_JOINT_MM
        under = joint.name if is_over else bone_name(joint.bones[int(to_joint < 0.0)])
        names.append(message(f"mechanics.strap.{side}", under=under))
        away_mm.append(float(np.linalg.norm(points.mean(axis=0) - joint.hinge)))
    return straps_apart(names, away_mm)


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
    zones = sides_of([(name, message(f"common.finger.{name}")) for name in names])
    bed = Bed(patches.points, patches.normals, patches.areas, rows, 2 * owner + side)
    joint, back = JointId(difference.finger, "mcp"), np.array([0.0, 0.0, 1.0])
    return Hold(str(joint), joint.message, tends, bed, load, zones, mine, hinge, back, patches)


def _nearest_finger(limb: FourFingers, points: Floats, names: Sequence[str]) -> Ints:
    """Number (n,) of the finger whose axis is nearest to each point, seen from above."""
    across = []
    for name in names:
        ray = next(each for key, each in limb.rays.items() if key == name)
        along = ray.hand_from_finger()[:3, 0]
        arm = points - ray.mcp_centre
        across.append(np.abs(arm[:, 1] - arm[:, 0] * along[1] / along[0]))
    return np.argmin(np.array(across), axis=0)
