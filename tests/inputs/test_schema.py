"""The JSON Schemas: they say what the models say, and what a form needs beside; the reference of all keys follows them."""

import json
from collections.abc import Iterator
from typing import Any, get_args

import pytest

from print3d.cli.main import main
from print3d.cli.schema import SCHEMAS
from print3d.inputs.case_file import CaseFile, case_file_model
from print3d.inputs.old_keys import NEW_KEYS
from print3d.inputs.schema import NOT_USED, Schema
from print3d.inputs.units import unit_of
from print3d.inputs.validation import all_keys
from print3d.kinds.measures import ALL_KEYS, Need
from print3d.kinds.registry import KINDS
from tests.params_reference import FILE, reference

OPTIONS = {name: kind.options for name, kind in KINDS.items()}
CASE, MODEL = SCHEMAS["case"](), SCHEMAS["model"]()


def tables(schema: Schema) -> list[Schema]:
    return [each for each in (schema, *schema["$defs"].values()) if "properties" in each]


def entries(schema: Schema) -> Iterator[tuple[str, Schema]]:
    for table in tables(schema):
        yield from table["properties"].items()


def types_of(entry: Schema) -> set[Any]:
    return {each.get("type") for each in (entry, *entry.get("anyOf", ()))}


def test_the_schema_says_what_the_models_say() -> None:
    assert all(table["additionalProperties"] is False for table in tables(CASE))
    assert set(CASE["properties"]["orthosis"]["discriminator"]["mapping"]) == set(KINDS)
    assert set(CASE["properties"]) == set(CaseFile.model_fields)
    wall = CASE["$defs"][OPTIONS["mallet"].__name__]["properties"]["wall_mm"]
    assert (wall["minimum"], wall["maximum"], wall["default"]) == (0.8, 6, 2.0)
    assert CASE["$defs"]["StrapOptions"]["properties"]["width_mm"]["enum"] == [10, 13, 16, 20, 25, 38, 50]
    assert "petg" in CASE["$defs"]["PrintChoice"]["properties"]["material"]["examples"]
    assert CASE["x-old-keys"] == dict(NEW_KEYS)


@pytest.mark.parametrize("schema", [CASE, MODEL], ids=["case", "model"])
def test_each_key_says_how_a_form_shows_it(schema: Schema) -> None:
    for table in tables(schema):
        places = [entry["x-order"] for entry in table["properties"].values()]
        assert places == list(range(1, len(places) + 1))
    for key, entry in entries(schema):
        assert entry["description"], key
        assert entry["x-group"], key
        unit = unit_of(key)
        assert entry.get("x-unit") == (None if unit is None else unit.said("en")), key
        assert unit is None or entry["description"].endswith(f"({entry['x-unit']})"), key
        is_number = bool({"number", "integer"} & types_of(entry))
        assert ("x-step" in entry) == is_number, key
        if is_number and "minimum" in entry and "maximum" in entry:
            assert 0 < entry["x-step"] <= (entry["maximum"] - entry["minimum"]) / 2, key
        if "integer" in types_of(entry):
            assert entry["x-step"] == 1, key


def test_each_measure_says_which_kind_needs_it() -> None:
    measures = {
        key: entry["x-need"]
        for name in ("Measured", "FingerMeasured")
        for key, entry in CASE["$defs"][name]["properties"].items()
        if "x-need" in entry
    }
    assert set(measures) == set(ALL_KEYS) - {"stature_mm"}
    for kind in KINDS.values():
        needs = {measure.key: measure.need for measure in kind.measures}
        assert {
            key: each[kind.name] for key, each in measures.items() if each[kind.name] != NOT_USED
        } == needs
    assert {need for each in measures.values() for need in each.values()} <= {*get_args(Need), NOT_USED}
    assert measures["pip_girth_mm"]["pip_extension"] == "needed"
    assert measures["forearm_length_mm"]["mallet"] == NOT_USED


def test_keys_of_a_group_stand_together() -> None:
    for schema in (CASE, MODEL):
        finger = schema["$defs"]["FingerMeasured"]["properties"]
        groups = [entry["x-group"] for entry in finger.values()]
        assert list(dict.fromkeys(groups)) == ["girths", "lengths", "angles"]
        assert groups == sorted(groups, key=["girths", "lengths", "angles"].index)


@pytest.mark.parametrize("of", list(SCHEMAS))
def test_every_schema_is_printed(of: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main(["schema", "--of", of])
    assert end.value.code == 0
    assert json.loads(capsys.readouterr().out) == SCHEMAS[of]()


def test_the_reference_of_all_keys_is_what_the_schemas_say() -> None:
    assert FILE.read_text(encoding="utf-8") == reference(), "run: python -m tests.params_reference"


def test_the_reference_names_every_key_of_a_case() -> None:
    text = reference()
    fingers = ("index.", "middle.", "ring.", "little.")
    leaves = [
        key.partition(".")[2].removeprefix(
            next((each for each in fingers if key.startswith(f"measured.{each}")), "")
        )
        for key in all_keys(case_file_model(OPTIONS))
        if "." in key
    ]
    tables_of_keys = {each.rpartition(".")[0] for each in leaves} | {"vents", "straps", "flare", "marking"}
    wanting = [
        key for key in leaves if f"`{key}`" not in text and key not in tables_of_keys and key != "kind"
    ]
    assert not wanting
