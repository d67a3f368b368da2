"""Straps over the palm: behind the distal palmar crease, measured or estimated; a crease nearer to the wrist is found."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.palm import check_palm
from print3d.forms.hand_of_case import hand_measures_of_case
from print3d.forms.orthosis import Orthosis
from print3d.inputs.measured import FINGERS
from print3d.kinds.registry import KINDS
from print3d.limb.estimates import measured

MakeCase = Callable[..., Any]
OPTIONS = {"kind": "dorsal_blocking", "form": "hand", "marking": {"style": "none"}, "vents": {"grid": "none"}}
PRINT = {"material": "petg", "printer": "extrusion_large"}


@pytest.fixture(scope="module")
def case(make_case: MakeCase) -> Any:
    return make_case(OPTIONS, print=PRINT)


@pytest.fixture(scope="module")
def orthosis(case: Any) -> Orthosis:
    return KINDS["dorsal_blocking"].build(case)


def with_creases(orthosis: Orthosis, **crease_mm: float) -> Orthosis:
    """The orthosis on a hand whose crease was measured there."""
    limb: Any = orthosis.limb
    creases = {**limb.made_from.palmar_creases, **{name: measured(at) for name, at in crease_mm.items()}}
    return replace(orthosis, limb=replace(limb, made_from=replace(limb.made_from, palmar_creases=creases)))


def palm(orthosis: Orthosis, case: Any) -> Finding:
    return next(each for each in check_palm(orthosis, limits_of_case(case)) if each.key == "palm.crease")


def test_a_fist_closes_and_a_strap_as_thick_as_a_finger_stops_it(
    orthosis: Orthosis, case: Any, make_case: MakeCase
) -> None:
    """The fingertips come to the palm where the strap lies; planted: a strap of 6 mm."""
    (fist,) = [each for each in check_palm(orthosis, limits_of_case(case)) if each.key == "palm.fist"]
    assert fist.holds
    thick = make_case({**OPTIONS, "straps": {"thickness_mm": 6.0, "slot_gap_mm": 7.0}}, print=PRINT)
    (found,) = [each for each in check_palm(orthosis, limits_of_case(thick)) if each.key == "palm.fist"]
    assert not found.holds
    assert fist.measured - found.measured > 2.0


def test_an_estimated_crease_leaves_more_room_and_is_watched(orthosis: Orthosis, case: Any) -> None:
    found = palm(orthosis, case)
    assert (found.verdict, found.limit) == ("watch", 8.0)


def test_a_measured_crease_needs_3_mm_and_is_not_watched(orthosis: Orthosis, case: Any) -> None:
    known = {name: each.value for name, each in hand_measures_of_case(case).palmar_creases.items()}
    found = palm(with_creases(orthosis, **known), case)
    assert (found.verdict, found.limit) == ("holds", 3.0)
    assert found.measured == pytest.approx(palm(orthosis, case).measured)


@pytest.mark.parametrize("finger", FINGERS)
def test_a_crease_before_the_strap_is_found_at_its_finger(finger: str, orthosis: Orthosis, case: Any) -> None:
    far = dict.fromkeys(FINGERS, 90.0)
    found = palm(with_creases(orthosis, **{**far, finger: 45.0}), case)
    assert not found.holds
    assert finger in found.said("en")


def test_both_ends_measured_give_the_crease_at_every_finger(make_case: MakeCase) -> None:
    given = {"sex": "man", "hand_length_mm": 193.0}
    usual = hand_measures_of_case(make_case(OPTIONS, measured=given)).palmar_creases
    ends = {
        "palmar_crease_index_mm": usual["index"].value + 6.0,
        "palmar_crease_little_mm": usual["little"].value,
    }
    seen = hand_measures_of_case(make_case(OPTIONS, measured={**given, **ends})).palmar_creases
    moved = [seen[name].value - usual[name].value for name in FINGERS]
    assert moved == pytest.approx(np.linspace(6.0, 0.0, 4))
    assert all(each.is_measured for each in seen.values())
    one = hand_measures_of_case(
        make_case(OPTIONS, measured={**given, "palmar_crease_index_mm": 80.0})
    ).palmar_creases
    assert [one[name].is_measured for name in FINGERS] == [True, False, False, False]
