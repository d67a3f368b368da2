"""Every limb keeps what the protocol promises: joints turn what lies beyond them, bodies are the skin, rays stand in their limb."""

from collections.abc import Mapping

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from print3d.geometry.frames import apply, inverse, rigid
from print3d.geometry.nearest import Surface, skin_surface
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.finger import FingerPose, build_finger
from print3d.limb.four_fingers import build_four_fingers
from print3d.limb.hand import HandPose, build_hand
from print3d.limb.hand_estimates import estimate_hand_and_forearm
from print3d.limb.joint_id import JointId
from print3d.limb.limb import Limb
from tests.conftest import is_closed
from tests.limb.test_hand import MAN

POSE = FingerPose(30.0, 40.0, 15.0)
HAND = estimate_hand_and_forearm(MAN, "man", {})


def _finger() -> Limb:
    return build_finger("ring", estimate_finger("ring", {}, estimate_hand(MAN, "man")), POSE)


def _fingers() -> Limb:
    fingers = build_four_fingers(HAND.fingers, HAND.hand)
    return fingers.posed("index", mcp_flexion_deg=25.0).spread({"index": 6.0})


def _hand(ulnar_deg: float = 0.0) -> Limb:
    return build_hand(HAND, HandPose(-20.0, dict.fromkeys(FINGERS, FingerPose(40.0)), ulnar_deg))


LIMBS: Mapping[str, Limb] = {
    "finger": _finger(), "four fingers": _fingers(), "hand": _hand(), "deviated hand": _hand(8.0),
}  # fmt: skip
limbs = pytest.mark.parametrize("limb", LIMBS.values(), ids=LIMBS.keys())


def about(centre: Floats, axis: Floats, angle_deg: float) -> Floats:
    turn = Rotation.from_rotvec(np.radians(angle_deg) * axis).as_matrix()
    return rigid(turn, centre - turn @ centre)


@limbs
def test_a_joint_turns_what_lies_beyond_it_about_its_axis(limb: Limb) -> None:
    for ray, chain in limb.by_ray.items():
        for joint, at in chain.joints.items():
            if joint.ray != ray:
                continue
            turned = {joint: at.angle_deg + 12.0}
            near, far = (chain.transform(each, turned) for each in (joint.proximal, joint.distal))
            moved = chain.transform(joint.proximal) @ inverse(near) @ far
            wanted = about(at.centre, at.axis, 12.0) @ chain.transform(joint.distal)
            slack_mm = 0.5 if ray == "wrist" else 1e-9  # a swayed wrist is longer on one side
            assert np.abs(moved - wanted).max() < slack_mm, joint
            assert at.range_deg[0] <= 0.0 < at.range_deg[1]
            assert joint.joint == "deviation" or abs(at.axis @ at.dorsal) < 0.2


@limbs
def test_a_ray_stands_in_its_limb_as_its_joints_do(limb: Limb) -> None:
    joints = {joint for ray, chain in limb.by_ray.items() for joint in chain.joints if joint.ray == ray}
    assert joints == set(limb.joints)
    for ray, chain in limb.by_ray.items():
        for joint in (each for each in chain.joints if each.ray == ray):
            placed, at = chain.joints[joint].placed(limb.place(ray)), limb.joints[joint]
            assert np.allclose(placed.centre, at.centre)
            assert np.allclose(placed.axis, at.axis)
            assert placed.angle_deg == at.angle_deg


@limbs
def test_points_along_a_segment_lie_beyond_the_joints_before_it(limb: Limb) -> None:
    for ray, chain in limb.by_ray.items():
        place = limb.place(ray)
        for joint in (each for each in limb.joints if each.ray == ray):
            centre = chain.joints[joint].centre
            there = {
                each: apply(place, (centre + 8.0 * way * chain.transform(each)[:3, 0])[None])
                for each, way in ((joint.proximal, -1.0), (joint.distal, 1.0))
            }
            assert not limb.beyond(joint, there[joint.proximal]).any(), joint
            assert limb.beyond(joint, there[joint.distal]).all(), joint


@limbs
def test_a_body_is_the_skin_away_from_its_joints(limb: Limb) -> None:
    """Where a segment is rigid, its body lies on the skin."""
    own = {each.ray: each.mesh for each in limb.skin_bodies() if each.ray is not None}
    for ray, chain in limb.by_ray.items():
        skin = own.get(ray, limb.skin_mesh())
        segment = chain.segments[-2] if ray != "wrist" else "forearm"
        frame = limb.place(ray) @ chain.transform(segment)
        body = Surface(chain.body(segment))
        length = chain.length_mm(segment)
        middle = (-0.75 * length, -0.45 * length) if ray == "wrist" else (0.45 * length, 0.55 * length)
        along = skin.vertices @ frame[:3, 0] - frame[:3, 3] @ frame[:3, 0]
        local = apply(inverse(frame), skin.vertices)
        near = (along > middle[0]) & (along < middle[1])
        assert near.sum() > 100
        assert np.abs(body.signed(local[near])).max() < 0.1, ray


@limbs
def test_the_skin_is_its_bodies_and_each_is_closed(limb: Limb) -> None:
    bodies = limb.skin_bodies()
    assert sum(len(each.mesh.faces) for each in bodies) == len(limb.skin_mesh().faces)
    assert all(is_closed(each.mesh) for each in bodies)
    assert {each.ray for each in bodies} - {None} <= set(limb.by_ray)
    assert all(is_closed(chain.body(each)) for chain in limb.by_ray.values() for each in chain.segments[:1])


@limbs
def test_a_sheet_lies_on_the_skin(limb: Limb) -> None:
    sheet = limb.sheet("dorsal")
    if sheet is None:
        assert len(limb.by_ray) > 1
        return
    along = np.linspace(0.2, 0.6, 40) * sheet.tip_along_mm
    points = sheet.points(along, np.zeros(40))
    bridged = 4.0 if limb.tube is None else 0.02  # the one skin over all fingers bridges their hollows
    assert np.abs(skin_surface(limb).signed(points)).max() < bridged


@limbs
def test_a_limb_knows_what_it_was_made_from(limb: Limb) -> None:
    unmeasured = limb.measures.estimated()
    fingers = [ray for ray in limb.by_ray if ray in FINGERS]
    assert set(unmeasured) == (
        {""} if len(limb.by_ray) == 1 else {*fingers, *([""] if limb.measures.hand else [])}
    )
    assert all(each.sd > 0.0 for found in unmeasured.values() for each in found.values())


def test_only_the_mcp_moves_a_fingers_frame_in_the_hand() -> None:
    limb = LIMBS["hand"]
    still = limb.place("ring", {JointId("ring", "pip"): 70.0})
    bent = limb.place("ring", {JointId("ring", "mcp"): 70.0})
    assert np.array_equal(still, limb.place("ring"))
    assert np.array_equal(bent[:3, 3], still[:3, 3])
    assert Rotation.from_matrix(still[:3, :3].T @ bent[:3, :3]).magnitude() == pytest.approx(np.radians(30.0))


def test_knuckles_together_are_one_hinge_across_the_hand() -> None:
    limb = LIMBS["hand"]
    knuckles = [JointId(finger, "mcp") for finger in FINGERS]
    hinge = limb.together(knuckles)
    assert hinge.angle_deg == pytest.approx(40.0)
    assert np.allclose(hinge.centre, np.mean([limb.joints[each].centre for each in knuckles], axis=0))
    assert limb.together(knuckles[:1]) is limb.joints[knuckles[0]]
