"""The joints that an orthosis holds, each with the bed of patches that bear about it.

Patches come from `contact_patches.py`; with each bed come the motions that it allows.

finger, hand     two bones meet at a hinge and press on the orthosis from inside; the joint tends one way
yoke             one finger turns about its MCP into the band, which sinks and tilts on its neighbours
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from print3d.forms.orthosis import Orthosis
from print3d.forms.straps import OVER_JOINT_MM, Strapping
from print3d.geometry.frames import DORSAL, RADIAL
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept
from print3d.language.message import Message, message
from print3d.limb.joint_id import JointId, RayName
from print3d.limb.limb import Limb, LimbJoint
from print3d.mechanics.bearing import Bed
from print3d.mechanics.contact_patches import Patches, bearing, joined, straps_through, wrapped
from print3d.mechanics.loads import WRIST
from print3d.mechanics.names import ZoneName, bone_name, sides_of, straps_apart

Bools = NDArray[np.bool_]
Tends = Literal["flexion", "extension"]


@dataclass(frozen=True, eq=False)
class BorneJoint:
    """A joint whose moment an orthosis takes, or several side by side as one.

    joints : which
    tends : which way it would go without the orthosis
    bones : ids of what lies on the near and on the far side
    at : the hinge
    """

    joints: tuple[JointId, ...]
    name: Message
    tends: Tends
    bones: tuple[str, str]
    at: LimbJoint


@dataclass(frozen=True, eq=False)
class Hold:
    """A joint with what bears about it.

    joints : which; several side by side are one hinge
    name : of the joint
    tends : which way the joint would go without the orthosis
    load : (m,) on the motions of `bed.rows`, of a joint moment of 1 N mm
    names : of each zone of `bed`
    is_distal : (n,) which patches lie beyond the joint
    hinge : (3,) mm
    axis, dorsal : (3,) about which it flexes, and out of the back at the joint
    """

    joints: tuple[JointId, ...]
    name: Message
    tends: Tends
    bed: Bed
    load: Floats
    names: tuple[ZoneName, ...]
    is_distal: Bools
    hinge: Floats
    axis: Floats
    dorsal: Floats
    patches: Patches

    @property
    def id(self) -> str:
        """Id of the joint; that of several is what they have in common ("mcp")."""
        return str(self.joints[0]) if len(self.joints) == 1 else self.joints[0].joint


@kept
def holds_of(orthosis: Orthosis, strapping: Strapping) -> tuple[Hold, ...]:
    """Return every joint that the orthosis holds or stops, with its bed.

    Two checks of one orthosis ask for the same ones.
    """
    if orthosis.differences:
        return (_yoke_hold(orthosis),)
    return tuple(_hold(orthosis, borne, strapping) for borne in borne_joints(orthosis))


def borne_joints(orthosis: Orthosis) -> list[BorneJoint]:
    """Return the joints whose moment an orthosis takes, distal ones first.

    Of rays that are stopped side by side, each presses on the shell as one stiff chain: at the first joint that is stopped.
    """
    tends: dict[tuple[JointId, ...], Tends] = {
        (joint,): "flexion" for joint in orthosis.held if joint.joint != "deviation"
    }
    for blocked in get_args(Tends):
        stopped = sorted(stop.joint for stop in orthosis.stops if stop.blocked == blocked)
        first = {joint.ray: joint for joint in reversed(stopped)}
        if len(first) > 1:
            tends[tuple(sorted(first.values()))] = blocked
        else:
            tends |= {(joint,): blocked for joint in stopped}
    return [_borne(orthosis, each, tends[each]) for each in sorted(tends, reverse=True)]


def _borne(orthosis: Orthosis, joints: tuple[JointId, ...], tends: Tends) -> BorneJoint:
    limb, at = orthosis.limb, orthosis.limb.together(joints)
    first = joints[0]
    if len(joints) == 1:
        bones = (str(first.proximal), str(first.distal))
        return BorneJoint(joints, first.among(len(limb.by_ray)), tends, bones, at)
    near = "forearm_and_hand" if WRIST in orthosis.held else str(first.proximal)
    return BorneJoint(joints, first.alone, tends, (near, "fingers"), at)


# --- one joint between two bones ------------------------------------------------------------------------------------


def _hold(orthosis: Orthosis, borne: BorneJoint, strapping: Strapping) -> Hold:
    """Bones press on the parts that float across the joint, or else on all that are strapped on."""
    joint, tube = borne.joints[0], orthosis.limb.tube
    numbers = [k for k, part in enumerate(orthosis.parts) if part.floats_across == joint] or [
        k for k, part in enumerate(orthosis.parts) if part.floats_across is None
    ]
    straps = [each for k in numbers for each in straps_through(orthosis, k)]
    if strapping.style == "wrap" and tube is not None and not any(orthosis.parts[k].rings for k in numbers):
        strapped = next(iter(orthosis.held), joint)
        straps += [each for k in numbers for each in wrapped(orthosis, k, tube, strapped, strapping.width_mm)]
    patches = joined([*(bearing(orthosis, k) for k in numbers), *straps])
    return _hinged(borne, patches, orthosis.limb.beyond(joint, patches.points))


def _hinged(borne: BorneJoint, patches: Patches, is_distal: Bools) -> Hold:
    """Two bones that turn about a hinge, which moves dorsally or volarly as the skin yields."""
    at = borne.at
    dorsal, turning = at.dorsal, _turning(patches.points - at.centre, patches.normals, at.axis)
    rows = np.column_stack([patches.normals @ dorsal, turning * ~is_distal, turning * is_distal])
    sign = 1.0 if borne.tends == "flexion" else -1.0
    load = sign * np.array([0.0, -1.0, 1.0])
    side = np.where(patches.normals @ dorsal > 0.0, 1, 0)
    zones = np.where(patches.strap < 0, 2 * is_distal + side, 4 + patches.strap)
    names = (*sides_of([(bone, bone_name(bone)) for bone in borne.bones]), *_straps(patches, borne))
    bed = Bed(patches.points, patches.normals, patches.areas, rows, zones)
    return Hold(
        borne.joints,
        borne.name,
        borne.tends,
        bed,
        load,
        names,
        is_distal,
        at.centre,
        at.axis,
        dorsal,
        patches,
    )


def _straps(patches: Patches, borne: BorneJoint) -> tuple[ZoneName, ...]:
    """Names of the straps: over which side of which bone, or of the joint, each lies."""
    names, away_mm = [], []
    for number in range(int(patches.strap.max(initial=-1)) + 1):
        mine = patches.strap == number
        points = patches.points[mine]
        side = "back" if float((patches.normals[mine] @ borne.at.dorsal).mean()) > 0.0 else "palm"
        to_joint = _to_joint(points, borne.at.centre, _along(borne.at.axis, borne.at.dorsal))
        is_over = abs(to_joint) < OVER_JOINT_MM
        under = borne.name if is_over else bone_name(borne.bones[int(to_joint < 0.0)])
        names.append(message(f"mechanics.strap.{side}", under=under))
        away_mm.append(float(np.linalg.norm(points.mean(axis=0) - borne.at.centre)))
    return straps_apart(names, away_mm)


def strap_to_joint(hold: Hold, number: int) -> float:
    """Return how far distal of the middle of a strap, the zone `number`, its joint lies (mm along the limb)."""
    return _to_joint(hold.bed.points[hold.bed.zones == number], hold.hinge, _along(hold.axis, hold.dorsal))


def _along(axis: Floats, dorsal: Floats) -> Floats:
    """The direction (3,) along the limb at a joint, distal."""
    return np.cross(axis, dorsal)


def _to_joint(strap: Floats, hinge: Floats, along: Floats) -> float:
    return float((hinge - strap.mean(axis=0)) @ along)


def with_strap(hold: Hold, number: int, *, over_joint: bool, wider: float) -> Hold:
    """Return the same hold with the strap of one zone moved over the joint, or made wider."""
    bed, mine = hold.bed, hold.bed.zones == number
    along = _along(hold.axis, hold.dorsal)
    middle = bed.points[mine].mean(axis=0)
    shift = strap_to_joint(hold, number) if over_joint else 0.0
    points = bed.points.copy()
    points[mine] = middle + wider * (bed.points[mine] - middle) + shift * along
    is_distal = np.where(mine, (points - hold.hinge) @ along > 0.0, hold.is_distal)
    turning = _turning(points - hold.hinge, bed.normals, hold.axis)
    rows = np.column_stack([bed.normals @ hold.dorsal, turning * ~is_distal, turning * is_distal])
    areas = np.where(mine, wider * bed.areas, bed.areas)
    return replace(hold, bed=Bed(points, bed.normals, areas, rows, bed.zones), is_distal=is_distal)


def _turning(arm: Floats, normals: Floats, axis: Floats) -> Floats:
    """How far each patch (n,) goes outwards per radian of flexion.

    axis : (3,) through the origin of `arm` (n, 3)
    """
    x, y, z = (normals * np.cross(axis, arm)).T
    return np.asarray(x + y + z)


# --- one finger against its neighbours -------------------------------------------------------------------------------


def _yoke_hold(orthosis: Orthosis) -> Hold:
    """The injured finger turns about its MCP into the yoke, which rests on its neighbours.

    The yoke may sink and tilt both ways.
    """
    (difference, *_) = orthosis.differences
    patches = joined([bearing(orthosis, k) for k in range(len(orthosis.parts))])
    rays = tuple(joint.ray for joint in (difference.joint, *difference.neighbours))
    owner = _nearest_ray(orthosis.limb, patches.points, rays)
    mine = owner == 0
    hinge = orthosis.limb.joints[difference.joint].centre
    arm = patches.points - hinge
    turning = _turning(arm, patches.normals, RADIAL)
    rolling = patches.normals[:, 2] * arm[:, 1] - patches.normals[:, 1] * arm[:, 2]
    rows = np.column_stack([turning * mine, -patches.normals[:, 2], -turning, -rolling])
    tends: Tends = "flexion" if difference.more_extended_deg > 0.0 else "extension"
    load = np.array([1.0 if tends == "flexion" else -1.0, 0.0, 0.0, 0.0])
    side = np.where(patches.normals[:, 2] > 0.0, 1, 0)
    zones = sides_of([(ray, message(f"common.finger.{ray}")) for ray in rays])
    bed = Bed(patches.points, patches.normals, patches.areas, rows, 2 * owner + side)
    joint = difference.joint
    return Hold((joint,), joint.message, tends, bed, load, zones, mine, hinge, RADIAL, DORSAL, patches)


def _nearest_ray(limb: Limb, points: Floats, rays: Sequence[RayName]) -> Ints:
    """Number (n,) of the ray whose axis is nearest to each point, seen from above."""
    across = []
    for ray in rays:
        place = limb.place(ray)
        along = place[:3, 0]
        arm = points - place[:3, 3]
        across.append(np.abs(arm[:, 1] - arm[:, 0] * along[1] / along[0]))
    return np.argmin(np.array(across), axis=0)
