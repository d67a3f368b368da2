"""Joints by id: every ray has its own joints, in order, each with the segments beside it and a name in every language."""

import pickle
from itertools import pairwise

import pytest

from print3d.language.catalogue import LANGUAGES
from print3d.limb.joint_id import ALL_JOINTS, JOINTS_OF, RAYS, SEGMENTS_OF, JointId, joints_of, parse_joint


def test_an_id_is_read_back_from_its_text_and_survives_another_process() -> None:
    for joint in ALL_JOINTS:
        assert parse_joint(str(joint)) == joint
        assert pickle.loads(pickle.dumps(joint)) == joint
    assert len({*ALL_JOINTS}) == len(ALL_JOINTS) == sum(len(each) for each in JOINTS_OF.values())


@pytest.mark.parametrize("words", ["thumb.dip", "index.ip", "wrist.pip", "toe.mcp", "pip", "", "Middle.PIP"])
def test_a_joint_that_no_ray_has_is_refused(words) -> None:
    with pytest.raises(ValueError, match="is no joint; there are"):
        parse_joint(words)
    ray, _, joint = words.partition(".")
    with pytest.raises(ValueError, match="is no joint; there are"):
        JointId(ray, joint)


def test_joints_are_in_order_from_proximal_to_distal_and_from_wrist_to_little_finger() -> None:
    assert sorted(ALL_JOINTS[::-1]) == list(ALL_JOINTS)
    assert (
        JointId("little", "mcp")
        > JointId("index", "dip")
        > JointId("thumb", "ip")
        > JointId("wrist", "flexion")
    )


def test_each_ray_is_a_chain_of_segments() -> None:
    """The segment beyond a joint is the one on the near side of the next; the wrist's two axes turn the same hand."""
    for ray in RAYS:
        assert len(SEGMENTS_OF[ray]) == len(JOINTS_OF[ray]) + 1
        for first, second in pairwise(joints_of(ray)):
            if ray == "wrist":
                assert (
                    (first.proximal, first.distal) == (second.proximal, second.distal) == ("forearm", "hand")
                )
            else:
                assert first.distal == second.proximal


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_joint_has_a_name_of_its_own(language) -> None:
    names = {joint.message.said(language) for joint in ALL_JOINTS}
    assert len(names) == len(ALL_JOINTS)
    assert {joint.alone.said(language) for joint in joints_of("index")} == {"MCP", "PIP", "DIP"}


def test_the_only_ray_needs_no_saying() -> None:
    joint = JointId("middle", "pip")
    assert joint.among(1).said("en") == "PIP"
    assert joint.among(4).said("en") == "middle PIP"
    assert joint.among(4).said("de") == "PIP am Mittelfinger"
    assert JointId("thumb", "ip").message.said("en") == "thumb IP"
    assert JointId("wrist", "flexion").message.said("en") == "wrist"
