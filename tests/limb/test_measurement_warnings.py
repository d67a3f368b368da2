"""Requests to measure again: slips are planted and seen to be found, sound numbers are left alone.

Norms: ANSUR II 2012 (adults), DINED Kima 1993 (children); see `tests/validation` for the tables.
"""

from collections.abc import Mapping

import pytest

from print3d.inputs.measured import FingerMeasured, Measured
from print3d.language.message import Message
from print3d.limb import fellows

WOMAN = {"hand_length_mm": 180.0, "hand_breadth_mm": 78.0, "wrist_girth_mm": 154.0}
RING = {
    "pip_girth_mm": 57.0, "middle_girth_mm": 51.0, "dip_girth_mm": 48.0, "nail_fold_girth_mm": 45.0,
    "web_crease_to_pip_crease_mm": 21.0, "pip_crease_to_dip_crease_mm": 20.0, "dip_crease_to_tip_mm": 28.0,
}  # fmt: skip


def measurement_warnings(
    given: Mapping[str, float], sex: str | None, fingers: Mapping[str, Mapping[str, float]] | None = None
) -> list[Message]:
    tables = {name: FingerMeasured(**table) for name, table in (fingers or {}).items()}
    return fellows.measurement_warnings(Measured(sex=sex, **given, **tables))


def said(warnings: list[Message]) -> list[str]:
    return [each.said("en") for each in warnings]


@pytest.mark.parametrize("sex", ["woman", None])
def test_sound_numbers_raise_no_warning(sex: str | None) -> None:
    assert measurement_warnings(WOMAN, sex, {"ring": RING}) == []
    assert measurement_warnings({}, sex) == []


@pytest.mark.parametrize(
    ("slip", "named"),
    [
        (
            {"hand_length_mm": 148.0},
            "hand_length_mm = 148 is rarer than one adult in a thousand; usual is 155 to 215",
        ),
        ({"wrist_girth_mm": 190.0}, "wrist_girth_mm = 190 is rarer"),
        ({"stature_mm": 1400.0}, "stature_mm = 1400 is rarer"),
        (
            {"hand_breadth_mm": 85.0, "hand_girth_mm": 172.0},
            "hand_breadth_mm = 85 does not go with the other numbers",
        ),
    ],
)
def test_a_planted_slip_at_hand_level_is_asked_for_again(slip: dict[str, float], named: str) -> None:
    warnings = said(measurement_warnings({**WOMAN, **slip}, "woman"))
    assert any(each.startswith(named) for each in warnings)
    assert all("measure" in each for each in warnings)


@pytest.mark.parametrize(
    ("slip", "named"),
    [
        ({"dip_girth_mm": 58.0}, "ring.dip_girth_mm = 58 is above ring.pip_girth_mm = 57"),
        ({"nail_fold_girth_mm": 49.0}, "ring.nail_fold_girth_mm = 49 is above ring.dip_girth_mm = 48"),
        ({"middle_girth_mm": 58.0}, "ring.middle_girth_mm = 58 is above ring.pip_girth_mm = 57"),
        ({"pip_girth_mm": 75.0}, "ring.pip_girth_mm = 75 does not go with the other numbers"),
        (
            {"web_girth_mm": 95.0},
            "ring.web_girth_mm = 95 does not go with the other numbers: 59 mm (SD 2.2) is estimated",
        ),
        ({"dip_crease_to_tip_mm": 42.0}, "ring.dip_crease_to_tip_mm = 42 does not go"),
        ({"web_crease_to_pip_crease_mm": 45.0}, "ring.web_crease_to_pip_crease_mm = 45 does not go"),
    ],
)
def test_a_planted_slip_at_a_finger_is_asked_for_again(slip: dict[str, float], named: str) -> None:
    warnings = said(measurement_warnings(WOMAN, "woman", {"ring": {**RING, **slip}}))
    assert any(each.startswith(named) for each in warnings), warnings
    assert all(each.startswith("ring.") and "measure" in each for each in warnings)


def test_children_are_held_against_children() -> None:
    """DINED Kima 1993: girls 143 at 8 years, SD 7 to 11."""
    eight = {"age_years": 8.0, "hand_length_mm": 143.0, "wrist_girth_mm": 128.0}
    assert measurement_warnings(eight, "woman") == []
    (warning,) = said(measurement_warnings({**eight, "hand_length_mm": 190.0}, "woman"))
    assert warning.startswith("hand_length_mm = 190 is rarer than one in a thousand at 8 years")
