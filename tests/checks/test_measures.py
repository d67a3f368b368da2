"""A measure that does not go with its fellows fails until somebody took it again and says so: slips are planted and seen to be found."""

from dataclasses import replace
from typing import Any

import pytest

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.measures import check_measures
from print3d.errors import InputError
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.inputs.toml_file import read_toml
from print3d.kinds.registry import KINDS
from print3d.limb.fellows import ODD_Z, compared, measurement_warnings
from tests.conftest import CASES
from tests.shaped import shaped

OPTIONS = {name: kind.options for name, kind in KINDS.items()}
SWOLLEN = {"proximal_girth_mm": 62, "pip_girth_mm": 71, "middle_girth_mm": 60, "dip_girth_mm": 56}


def case_with(measured: dict[str, Any], name: str = "pip_extension", **hand: Any) -> Case:
    """Return a worked case with other numbers of its finger, and other tables [measured]."""
    data = read_toml(CASES / f"{name}.toml")
    data["measured"][data["case"]["finger"]] |= measured
    data["measured"] |= hand
    return case_from_data(data, OPTIONS, CASES / f"{name}.toml")


def found(case: Case) -> list[Finding]:
    return check_measures(shaped("pip_extension").modelled, limits_of_case(case))


def failing(case: Case) -> set[tuple[str, str]]:
    return {(each.key, dict(each.about.of)["measure"]) for each in found(case) if not each.holds}


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_the_numbers_of_every_worked_case_go_together(path) -> None:
    (row,) = found(case_from_data(read_toml(path), OPTIONS, path))
    assert row.key == "measures.fellows"
    assert 0.0 < row.measured <= ODD_Z


SLIPS = [
    ("proximal and PIP girth swapped", {**SWOLLEN, "proximal_girth_mm": 71, "pip_girth_mm": 62}, {}, ("measures.fellows", "middle.proximal_girth_mm")),
    ("PIP and middle girth swapped", {"pip_girth_mm": 60, "middle_girth_mm": 67}, {}, ("measures.order", "middle.middle_girth_mm")),
    ("DIP and nail fold swapped", {"dip_girth_mm": 50, "nail_fold_girth_mm": 56}, {}, ("measures.order", "middle.nail_fold_girth_mm")),
    ("a length read as another", {"web_crease_to_pip_crease_mm": 45}, {}, ("measures.fellows", "middle.web_crease_to_pip_crease_mm")),
    ("digits turned", {"pip_girth_mm": 76}, {}, ("measures.fellows", "middle.pip_girth_mm")),
    ("a hand's length of another", {}, {"hand_length_mm": 213, "hand_breadth_mm": 78}, ("measures.fellows", "hand_length_mm")),
    ("another finger's girth", {"dip_girth_mm": 42, "middle_girth_mm": 60}, {}, ("measures.fellows", "middle.dip_girth_mm")),
]  # fmt: skip


@pytest.mark.parametrize(
    ("measured", "hand", "row"), [each[1:] for each in SLIPS], ids=[each[0] for each in SLIPS]
)
def test_a_slip_fails_until_it_is_confirmed(
    measured: dict[str, Any], hand: dict[str, Any], row: tuple[str, str]
) -> None:
    case = case_with(measured, **hand)
    rows = failing(case)
    assert row in rows
    confirmed = case_with(measured, **hand, confirmed=sorted({key for _, key in rows}))
    assert not failing(confirmed)
    named = {dict(each.about.of)["measure"] for each in found(confirmed) if each.key == "measures.confirmed"}
    assert named == {key for _, key in rows}
    assert (
        not {
            dict(each.values)["key"] for each in measurement_warnings(confirmed.measured, confirmed.confirmed)
        }
        & named
    )


def test_a_forearm_girth_is_held_against_its_neighbours() -> None:
    slip = case_with({}, "dorsal_blocking", forearm_girth_at_100_mm=272, forearm_girth_at_150_mm=256)
    assert ("measures.fellows", "forearm_girth_at_100_mm") in failing(slip)


def test_the_limit_is_three_sd() -> None:
    """A number moved to either side of the limit, all else the same."""
    assert ODD_Z == 3.0
    case = case_with({})
    girth = next(each for each in compared(case.measured) if each.key == "middle.pip_girth_mm")
    for z, holds in ((ODD_Z - 0.01, True), (ODD_Z + 0.01, False)):
        rows = failing(case_with({"pip_girth_mm": girth.expected.value + z * girth.sd_mm}))
        assert (("measures.fellows", "middle.pip_girth_mm") not in rows) == holds


def test_a_finger_needs_no_name_where_it_is_the_cases_own() -> None:
    assert not failing(case_with({"pip_girth_mm": 76}, confirmed=["pip_girth_mm"])) - failing(
        case_with({"pip_girth_mm": 76}, confirmed=["middle.pip_girth_mm"])
    )
    assert case_with({}, confirmed=["pip_girth_mm", "wrist_girth_mm"]).confirmed == {
        "middle.pip_girth_mm",
        "wrist_girth_mm",
    }


@pytest.mark.parametrize(
    "name", ["ring.pip_girth_mm", "pip_girt_mm", "web_girth_mm", "middle", "mcp_max_flexion_deg"]
)
def test_what_nobody_measured_cannot_be_confirmed(name: str) -> None:
    with pytest.raises(
        InputError, match=r"measured\.confirmed\[0\] = .*not among the measures that are given"
    ):
        case_with({}, confirmed=[name])


def test_a_confirmed_measure_stands_in_record_and_fit_sheet(tmp_path) -> None:
    from print3d.output.measures import confirmed_lines

    case = case_with({"pip_girth_mm": 76}, confirmed=["pip_girth_mm"])
    (line,) = confirmed_lines(case)
    assert line.said("en") == "middle finger: PIP girth, 76 mm: taken again and confirmed"
    assert line.said("de") == "Mittelfinger: PIP-Umfang, 76 mm: nachgemessen und bestätigt"
    assert replace(case).confirmed == {"middle.pip_girth_mm"}
