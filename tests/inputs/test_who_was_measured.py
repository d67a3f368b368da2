"""A finger that nobody measured is refused, and so is one whose neighbour was measured in its place: every kind, and models."""

import json
from pathlib import Path
from typing import Any

import pytest

from print3d.errors import InputError
from print3d.inputs.case_file import case_from_data
from print3d.inputs.measured import FINGERS
from print3d.inputs.model_case import model_case_from_data
from print3d.inputs.toml_file import read_toml
from print3d.kinds.registry import KINDS
from tests.conftest import CASES

OPTIONS = {name: kind.options for name, kind in KINDS.items()}
MODELS = CASES.parent / "models"


def worked(kind: str) -> dict[str, Any]:
    """Return the tables of a worked case of a kind."""
    return next(
        data for path in sorted(CASES.glob("*.toml")) if (data := read_toml(path))["orthosis"]["kind"] == kind
    )


def refusal_of(data: dict[str, Any], make: Any = case_from_data) -> str:
    with pytest.raises(InputError) as found:
        make(data, OPTIONS, Path("case.toml")) if make is case_from_data else make(data, Path("case.toml"))
    return str(found.value)


@pytest.mark.parametrize("kind", KINDS)
def test_only_the_sex_is_refused(kind: str) -> None:
    data = worked(kind)
    data["measured"] = {"sex": "man"}
    assert f"measured.{data['case']['finger']} is missing" in refusal_of(data)


@pytest.mark.parametrize("kind", KINDS)
def test_a_finger_with_nothing_but_angles_is_refused(kind: str) -> None:
    data = worked(kind)
    finger = data["case"]["finger"]
    data["measured"][finger] = {"pip_max_flexion_deg": 100}
    assert f"measured.{finger} is missing" in refusal_of(data)


@pytest.mark.parametrize("kind", KINDS)
def test_the_measures_of_another_finger_are_named(kind: str) -> None:
    data = worked(kind)
    finger = data["case"]["finger"]
    other = next(name for name in FINGERS if name not in {finger, *data["measured"]} or name == "little")
    sizes = data["measured"].pop(finger)
    data["measured"] = {"sex": "man", "hand_length_mm": 190, other: sizes}
    told = refusal_of(data)
    if kind != "relative_motion":
        assert f'case.finger = "{finger}": [measured.{other}] found, case.finger is {finger}' in told
        assert len(told.splitlines()) == 1
    else:
        assert f"measured.{finger} is missing" in told or f"[measured.{other}] found" in told


def test_a_yoke_wants_every_finger_that_it_takes() -> None:
    data = worked("relative_motion")
    assert data["orthosis"]["fingers"] == "three"
    del data["measured"]["index"], data["measured"]["ring"]
    told = refusal_of(data)
    assert [name for name in FINGERS if f"measured.{name} is missing" in told] == ["index", "ring"]


@pytest.mark.parametrize("table", ["[]", "3", '{"pip_girht_mm": 60}', '{"pip_girth_mm": -1}'])
def test_what_is_wrong_with_a_table_is_said_and_not_that_it_lacks(table: str) -> None:
    data = worked("mallet")
    data["measured"][data["case"]["finger"]] = json.loads(table)
    assert "is missing" not in refusal_of(data)


@pytest.mark.parametrize("body", ["finger", "hand"])
def test_a_model_of_a_finger_is_not_made_to_another_fingers_numbers(body: str) -> None:
    data = read_toml(MODELS / "mallet.toml")
    data["measured"]["index"] = data["measured"].pop("ring")
    data["model"] = {"body": body, "pose": "neutral"}
    if body == "finger":
        assert "[measured.index] found, case.finger is ring" in refusal_of(data, model_case_from_data)
    else:
        model_case_from_data(data, Path("model.toml"))  # a hand takes the numbers of every finger


def test_a_model_of_an_average_finger_is_made() -> None:
    data = read_toml(MODELS / "mallet.toml")
    del data["measured"]["ring"]
    model_case_from_data(data, Path("model.toml"))
