"""The held angle is that of the shell, whatever pose and prescription it is held against."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from print3d.checks.joints import check_joints, measure_held_angle
from print3d.checks.limits import limits_of_case
from print3d.kinds.mallet import kind as mallet
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.limb.joint_id import JointId

KINDS = {
    "pip_extension": (pip_extension, "pip", "pip_flexion_deg", 1.0),
    "mallet": (mallet, "dip", "dip_hyperextension_deg", -1.0),
}


@pytest.mark.parametrize("form", ["volar", "dorsal", "sleeve"])
@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize(("built", "asked"), [(6.0, 0.0), (0.0, 6.0)])
def test_a_shell_six_degrees_off_reads_the_angle_it_was_built_for(
    make_case: Callable[..., Any], kind: str, form: str, built: float, asked: float
) -> None:
    """Limb and prescription say one thing, the inner face another: the inner face is believed."""
    module, joint, option, sign = KINDS[kind]
    case = make_case({"kind": kind, "form": form, option: built, "marking": {"style": "none"}})
    right = module.KIND.build(case)
    limb = right.limb.posed(**{f"{joint}_flexion_deg": sign * asked})
    held = JointId(limb.finger, joint)
    wrong = replace(right, limb=limb, held={held: sign * asked})
    assert sign * measure_held_angle(wrong.limb, wrong.parts[0], held, wrong.held[held]) == pytest.approx(
        built, abs=0.3
    )
    assert not check_joints(wrong, limits_of_case(case))[0].holds
    assert check_joints(right, limits_of_case(case))[0].holds


@pytest.mark.parametrize(
    ("asked", "holds"), [(4.0, True), (5.0, True), (5.3, False), (6.0, False), (6.9, False)]
)
def test_skin_that_was_seen_to_turn_pale_is_never_taken_so_far_again(
    make_case: Callable[..., Any], asked: float, holds: bool
) -> None:
    """At or past the angle found on this finger it fails; the goniometer shows whole degrees."""
    finger = {"pip_girth_mm": 66.0, "dip_girth_mm": 56.0, "dip_blanch_hyperextension_deg": 6.0}
    case = make_case(
        {"kind": "mallet", "dip_hyperextension_deg": asked},
        measured={"sex": "man", "hand_length_mm": 193.0, "middle": finger},
    )
    blanching = check_joints(mallet.KIND.build(case), limits_of_case(case))[-1]
    assert blanching.key == "joints.blanching"
    assert blanching.holds is holds
