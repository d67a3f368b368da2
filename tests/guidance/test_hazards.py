"""The table of hazards names only what exists, and leaves out no check, no lifted limit and no caution."""

import ast
from functools import cache
from pathlib import Path

import pytest

from print3d.checks.finding import Finding
from print3d.checks.suite import CHECKS
from print3d.guidance.hazards import Control, Hazard, hazards
from print3d.language.catalogue import LANGUAGES, catalogue, text
from print3d.language.message import as_it_stands

TESTS = Path(__file__).parents[1]
WANTED = {
    "pressure", "blanching", "swelling", "unprotected", "forced", "breakage", "sharp", "heat", "wrong_side", "wrong_person",
    "wrong_visit", "skin_reaction", "small_parts", "unmeasured",
}  # fmt: skip
"""What can hurt with any orthosis; common practice, no single source."""
PROVE_OTHERS = {"ribs", "reach", "slots", "relative_motion"}
"""Checks of how well it does its work, or of parts of one kind; what they serve is shown by the others."""


@cache
def names_in(file: str) -> frozenset[str]:
    tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
    return frozenset(each.name for each in ast.walk(tree) if isinstance(each, ast.FunctionDef))


def missing(hazard: Hazard) -> list[str]:
    """What a row of the table names that is not there."""
    found = []
    for control in hazard.controls:
        file, _, name = control.test.partition("::")
        if not (TESTS / file).is_file() or name not in names_in(file):
            found.append(control.test)
        key = f"checks.{control.key}.what" if control.sort == "finding" else control.key
        if any(key not in catalogue(language) for language in LANGUAGES):
            found.append(control.key)
        if control.sort == "refusal" and not control.key.startswith("refusals."):
            found.append(control.key)
    return found


@pytest.mark.parametrize("hazard", hazards(), ids=lambda each: each.name)
def test_a_hazard_names_what_exists(hazard: Hazard) -> None:
    assert missing(hazard) == []
    done = [control.done([]) for control in hazard.controls]
    for language in LANGUAGES:
        assert all(each.said(language) for each in (hazard.what, hazard.left, *done, *hazard.done([])))


@pytest.mark.parametrize(
    "control",
    [
        Control("finding", "pressure.nowhere", "checks/test_rims.py::test_a_spike_on_the_skin_side"),
        Control("text", "sheets.wear.nothing", "checks/test_rims.py::test_a_spike_on_the_skin_side"),
        Control("refusal", "sheets.wear.title", "checks/test_rims.py::test_a_spike_on_the_skin_side"),
        Control("text", "sheets.wear.title", "checks/test_rims.py::test_that_is_not_there"),
        Control("text", "sheets.wear.title", "checks/test_not_there.py::test_a_spike"),
    ],
)  # fmt: skip
def test_a_row_that_names_nothing_is_seen(control: Control) -> None:
    assert len(missing(Hazard("sharp", (control,)))) == 1


def test_no_hazard_is_left_out() -> None:
    names = [each.name for each in hazards()]
    assert len(names) == len(set(names))
    assert WANTED - set(names) == set()


def test_every_check_and_every_limit_that_may_be_lifted_controls_a_hazard() -> None:
    named = {control.key for hazard in hazards() for control in hazard.controls}
    checks = {key.split(".")[0] for key in named}
    assert {each.name for each in CHECKS} - checks == PROVE_OTHERS
    guards = {key for key in catalogue("en") if key.startswith("refusals.guard.")}
    assert guards - named == set()
    assert {"cautions.all", "cautions.fresh_tendon", "cautions.heat"} <= named


def test_what_was_done_follows_the_findings() -> None:
    control = Control("finding", "rims.edge", "checks/test_rims.py::test_a_spike_on_the_skin_side")
    holds, fails = (
        Finding("rims.edge", each, 0.5, "mm", "at least", as_it_stands("test")) for each in (0.6, 0.4)
    )
    assert "not asked" in control.done([]).said("en")
    assert "2 measured, all hold" in control.done([holds, holds]).said("en")
    assert "2 measured, 1 do not hold" in control.done([holds, fails]).said("en")


def test_a_hazard_without_a_control_is_named_as_such() -> None:
    assert [each.said("en") for each in Hazard("sharp", ()).done([])] == [text("hazards.done.nothing")]
