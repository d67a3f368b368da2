"""Motion: an arc blocked from its first angle, and the sweep's own numbers against a search of every vertex."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from print3d.checks.limits import limits_of_case
from print3d.checks.motion import check_motion, sweep
from print3d.forms.orthosis import FreeArc, Orthosis, ray_views
from print3d.geometry.frames import apply
from print3d.geometry.nearest import Surface
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.limb.joint_id import JointId
from print3d.mechanics.contact import Contact, contact_at

DIP = JointId("middle", "dip")

OPTIONS = {"kind": "pip_extension", "marking": {"style": "none"}}


@pytest.fixture(scope="module")
def case(make_case: Callable[..., Any]) -> Any:
    return make_case(OPTIONS)


@pytest.fixture(scope="module")
def orthosis(case: Any) -> Orthosis:
    return pip_extension.KIND.build(case)


def dip_of(orthosis: Orthosis) -> Contact:
    return contact_at(ray_views(orthosis)[0], orthosis, DIP)


def test_an_arc_blocked_from_its_start_is_told_with_its_depth(orthosis: Orthosis, case: Any) -> None:
    blocked = replace(orthosis, freed=(FreeArc(DIP, 130.0, 150.0),))
    (finding,) = check_motion(blocked, limits_of_case(case))
    assert (finding.holds, finding.measured) == (False, 130.0)
    assert "inf" not in finding.method("en")
    assert sweep(dip_of(orthosis), FreeArc(DIP, 130.0, 150.0), 1.0).least_gap_mm < -1.0
    assert finding.where is not None


def test_the_least_gap_is_that_of_the_whole_mesh(orthosis: Orthosis) -> None:
    """At one angle the distal phalanx, moved by hand, is as far from all vertices as the sweep says."""
    angle = 60.0
    found = sweep(dip_of(orthosis), FreeArc(DIP, angle, angle), 1.0)
    limb = orthosis.limb.posed(dip_flexion_deg=angle)
    distal_from_limb = np.linalg.inv(limb.segment_transform("distal"))
    body = Surface(limb.body("distal"))
    gap = body.signed(apply(distal_from_limb, orthosis.parts[0].shell.mesh.vertices)).min()
    assert found.least_gap_mm == pytest.approx(gap, abs=1e-9)


def test_a_step_never_jumps_over_what_a_finer_sweep_finds(orthosis: Orthosis) -> None:
    """The angle of first contact does not depend on where the steps fall."""
    ends = [sweep(dip_of(orthosis), FreeArc(DIP, 0.0, end), 1.0).free_to_deg for end in (134.0, 141.0, 150.0)]
    assert ends == pytest.approx([np.mean(ends)] * 3, abs=1.0)
