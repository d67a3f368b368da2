"""Advice: every change is built and checked again here, and a little less of it must not hold."""

from collections.abc import Callable
from typing import Any

import pytest

from print3d.checks.finding import RowId
from print3d.checks.flare import check_flare
from print3d.checks.limits import limits_of_case
from print3d.checks.marking import check_marking
from print3d.checks.openings import check_openings
from print3d.checks.rims import check_rims
from print3d.checks.suite import run_suite
from print3d.cli.rows import change_line
from print3d.design.advice import Advice, changes_that_hold
from print3d.kinds.pip_extension import kind as pip_extension

FAULTS = {
    "rim_radius_mm": 0.35,
    "flare": {"height_mm": 0.2},
    "vents": {"diameter_mm": 1.6, "pitch_mm": 3.5},
    "marking": {"letter_height_mm": 2.0, "depth_mm": 0.2},
}
KEYS = {
    "orthosis.rim_radius_mm": 0.05,
    "orthosis.flare.height_mm": 0.1,
    "orthosis.vents.pitch_mm": 0.1,
    "orthosis.vents.diameter_mm": 0.1,
    "orthosis.marking.letter_height_mm": 0.5,
    "orthosis.marking.depth_mm": 0.05,
}


@pytest.fixture(scope="module")
def advice(make_case: Callable[..., Any]) -> list[Advice]:
    case = make_case({"kind": "pip_extension", **FAULTS})
    return changes_that_hold(case, list(run_suite(pip_extension.KIND.build(case), limits_of_case(case))))


def holds(make_case: Callable[..., Any], key: str, value: float, row: RowId) -> bool:
    options: dict[str, Any] = {
        "kind": "pip_extension",
        **{k: v if not isinstance(v, dict) else dict(v) for k, v in FAULTS.items()},
    }
    *tables, last = key.removeprefix("orthosis.").split(".")
    table = options
    for name in tables:
        table = table[name]
    table[last] = value
    case = make_case(options)
    orthosis, limits = pip_extension.KIND.build(case), limits_of_case(case)
    findings = [
        found
        for check in (check_openings, check_rims, check_flare, check_marking)
        for found in check(orthosis, limits)
    ]
    return next(each.holds for each in findings if each.row == row)


@pytest.mark.slow(in_ci=True)
def test_every_fault_gets_its_own_option(advice: list[Advice]) -> None:
    assert {each.option for each in advice} == set(KEYS)


@pytest.mark.parametrize("key", KEYS)
def test_the_change_holds_and_less_of_it_does_not(
    advice: list[Advice], make_case: Callable[..., Any], key: str
) -> None:
    found = next(each for each in advice if each.option == key)
    assert holds(make_case, key, float(found.then), found.finding.row)
    assert not holds(make_case, key, float(found.then) - 2 * KEYS[key], found.finding.row)
    assert f"{key} {found.now:g} -> {found.then:g} would hold" in change_line(found, "en")


def test_nothing_to_change_where_all_holds(make_case: Callable[..., Any]) -> None:
    case = make_case({"kind": "pip_extension"})
    assert (
        changes_that_hold(case, list(run_suite(pip_extension.KIND.build(case), limits_of_case(case)))) == []
    )
