"""Old names of keys: taken for one version with a line that says the new one, refused beside the new one."""

from collections.abc import Callable, Mapping
from copy import deepcopy
from typing import Any

import pytest

from print3d.inputs.case import Case
from print3d.inputs.case_file import case_file_model
from print3d.inputs.old_keys import NEW_KEYS, renewed
from print3d.inputs.validation import all_keys
from print3d.kinds.registry import KINDS

MakeCase = Callable[..., Case]
OLD = {"squeeze": {"motion_mm": 0.7, "stop_mm": 0.2}}
KEYS = set(all_keys(case_file_model({name: kind.options for name, kind in KINDS.items()})))


def test_an_old_key_is_taken_and_its_new_name_said(make_case: MakeCase) -> None:
    case = make_case({"kind": "figure_of_eight", **OLD})
    compression = case.orthosis.soft_tissue_compression
    assert (compression.motion_mm, compression.stop_mm) == (0.7, 0.2)
    said = [each.said("en") for each in KINDS["figure_of_eight"].remarks(case)]
    assert said == [
        "orthosis.squeeze.motion_mm is now orthosis.soft_tissue_compression.motion_mm; the old key is taken in this version only",
        "orthosis.squeeze.stop_mm is now orthosis.soft_tissue_compression.stop_mm; the old key is taken in this version only",
    ]


def test_a_new_key_says_nothing(make_case: MakeCase) -> None:
    case = make_case({"kind": "figure_of_eight", "soft_tissue_compression": {"motion_mm": 0.7}})
    assert case.notes == ()
    assert KINDS["figure_of_eight"].remarks(case) == []


def test_old_and_new_together_are_a_problem() -> None:
    both = {"orthosis": {**OLD, "soft_tissue_compression": {"motion_mm": 1.0}}}
    today = renewed(both)
    (problem,) = today.problems
    assert problem.key == "orthosis.squeeze"
    assert "orthosis.soft_tissue_compression" in problem.said()
    assert today.data["orthosis"] == {"soft_tissue_compression": {"motion_mm": 1.0}}


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ({"a": {"old": 3, "other": 1}}, {"a": {"new": 3, "other": 1}}),
        ({"a": {"other": 1}}, {"a": {"other": 1}}),
        ({"a": 5}, {"a": 5}),
        ({}, {}),
    ],
)
def test_a_plain_value_moves_and_nothing_else(given: Mapping[str, Any], wanted: Mapping[str, Any]) -> None:
    before = deepcopy(given)
    today = renewed(given, {"a.old": "a.new"})
    assert today.data == wanted
    assert given == before
    assert [note.said("en").split(";")[0] for note in today.notes] == ["a.old is now a.new"] * (
        wanted != given
    )


def test_new_names_are_keys_of_today_and_old_ones_are_not() -> None:
    assert set(NEW_KEYS.values()) <= KEYS
    assert not set(NEW_KEYS) & KEYS
