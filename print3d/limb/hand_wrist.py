"""The wrist of a posed hand: forearm and hand as two rigid bodies that it joins.

The hand keeps the limb's frame, so that a bent wrist turns the forearm: flexed first, then swayed sideways.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Protocol

import numpy as np

from print3d.geometry.frames import DORSAL, RADIAL, flexion_rotation, rigid
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.types import Floats
from print3d.limb.bodies import cap_rows, closed_tube
from print3d.limb.hand_skin import GroupSkin
from print3d.limb.joint_id import RANGE_DEG, JointId
from print3d.limb.limb import Angles, LimbJoint, SkinBody

FLEXION, DEVIATION = JointId("wrist", "flexion"), JointId("wrist", "deviation")
FAR_MM = 1000.0
"""A place this far up the forearm moves with it as a rigid body, whatever the wrist's skin does."""
ROW_MM = 2.0
"""Spacing of the rows of the two bodies: facets lie within 0.05 mm of the skin."""
AROUND = 128
"""Points of a row, for the same."""


class Wrist(Protocol):
    """What is asked of a hand on its forearm."""

    @property
    def wrist_flexion_deg(self) -> float:
        """Flexion."""

    @property
    def wrist_ulnar_deviation_deg(self) -> float:
        """Ulnar deviation."""

    @property
    def skin(self) -> GroupSkin:
        """The one smooth skin over everything."""

    def skin_bodies(self) -> tuple[SkinBody, ...]:
        """Return the closed bodies of the skin."""


def wrist_joints(hand: Wrist) -> Mapping[JointId, LimbJoint]:
    """Return the two axes of the wrist."""
    flexion, deviation = hand.wrist_flexion_deg, hand.wrist_ulnar_deviation_deg
    half, aside = np.radians(flexion) / 2.0, np.radians(deviation)
    fold = hand.skin.wrist
    joint = LimbJoint(
        np.zeros(3),
        np.array([-np.sin(aside), np.cos(aside), 0.0]) if deviation else RADIAL,
        np.array([np.sin(-half), 0.0, np.cos(-half)]),
        flexion,
        RANGE_DEG["flexion"],
        2.0 * fold.height_mm,
        max(fold.reach_mm, hand.skin.sway.reach_mm),
    )
    sideways = replace(joint, axis=-DORSAL, angle_deg=deviation, range_deg=RANGE_DEG["deviation"])
    return {FLEXION: joint, DEVIATION: sideways}


def hand_from_forearm(hand: Wrist, turned: Angles) -> Floats:
    """Return the placement (4, 4) of the forearm, with the wrist turned."""
    flexion = np.radians(turned.get(FLEXION, hand.wrist_flexion_deg))
    aside = np.radians(turned.get(DEVIATION, hand.wrist_ulnar_deviation_deg))
    ahead = np.array([np.cos(aside), np.sin(aside), 0.0])
    turn = np.column_stack([ahead, [-np.sin(aside), np.cos(aside), 0.0], DORSAL]) @ flexion_rotation(-flexion)
    far = replace(hand.skin.sway, turn_rad=float(aside)).bent(np.array([[-FAR_MM, 0.0, 0.0]]))[0]
    return rigid(turn, far + FAR_MM * ahead)


def wrist_body(hand: Wrist, segment: str) -> Mesh:
    """Return forearm or hand as a closed body in its own frame.

    It has the skin of a straight wrist and is rounded off there.
    """
    skin = hand.skin
    straight = replace(skin, wrist=replace(skin.wrist, turn_rad=0.0), sway=replace(skin.sway, turn_rad=0.0))
    if segment == "forearm":
        return _trunk(straight, straight.ends_mm[0], 0.0)
    to_knuckles = min(straight.station_of(ray.name, 0.0) for ray in straight.rays)
    beyond = [each.mesh for each in hand.skin_bodies() if each.ray is not None]
    return joined([_trunk(straight, to_knuckles, 0.0), *(ray.root() for ray in skin.rays), *beyond])


def _trunk(skin: GroupSkin, far_mm: float, joint_mm: float) -> Mesh:
    """The skin (closed) from a place far from the joint to the joint, where it is rounded off."""
    stations = np.linspace(far_mm, joint_mm, int(abs(joint_mm - far_mm) / ROW_MM) + 2)
    fraction = np.arange(AROUND) / AROUND
    grid = np.repeat(stations, AROUND), np.tile(fraction, len(stations))
    rows = skin.points(*grid).reshape(len(stations), AROUND, 3)
    middle = rows[-1].mean(axis=0)
    reach = float(np.ptp(rows[-1][:, 2])) / 2.0
    ahead, scale = cap_rows(reach)
    way = np.array([np.sign(joint_mm - far_mm), 0.0, 0.0])
    cap = middle + scale[:, None, None] * (rows[-1] - middle) + ahead[:, None, None] * way
    rows, ends = np.concatenate([rows, cap]), (rows[0].mean(axis=0), middle + reach * way)
    if way[0] > 0.0:
        return closed_tube(rows, *ends)
    return closed_tube(rows[::-1], *ends[::-1])
