"""Every file of the room is a check found by itself, and the order of reading is data of each."""

from pathlib import Path

from print3d import checks
from print3d.checks.suite import CHECKS

COMMON = {"__init__", "finding", "limits", "passive_range", "skin_limits", "suite"}
FILES = {path.stem for path in Path(checks.__path__[0]).glob("*.py")} - COMMON


def test_every_file_is_found() -> None:
    assert {each.name for each in CHECKS} == FILES


def test_each_has_a_place_of_its_own() -> None:
    order = [each.order for each in CHECKS]
    assert order == sorted(set(order))
    assert [CHECKS[0].name, CHECKS[-1].name] == ["measures", "printability"]
