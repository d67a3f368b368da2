"""JSON Schema of a case file and of a model case.

An editor completes keys by it, and a page can make a form of it.

Beside what JSON Schema says itself, each key carries

    x-order   its place in its table, from 1
    x-group   what it stands together with in a form, such as "girths"
    x-unit    unit of a number
    x-step    by how much a number is changed at a time
    x-need    of a measure: by kind of orthosis, "needed", "important" or "useful" (some only over the wrist), or "not used"
"""

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from print3d.inputs.case_file import Kinds, case_file_model
from print3d.inputs.materials import read_materials, read_printers
from print3d.inputs.measured import FingerMeasured, Measured
from print3d.inputs.model_case import ModelFile
from print3d.inputs.old_keys import NEW_KEYS
from print3d.inputs.table import Section
from print3d.inputs.units import ending_of, unit_of

Schema = dict[str, Any]
Needs = Mapping[str, Mapping[str, str]]
"""Kind -> key of a measure -> how much hangs on it; what is not named is not used."""

NOT_USED = "not used"
STEPS: Mapping[str, float] = {
    "mm": 0.1,
    "deg": 1,
    "n": 0.1,
    "nmm": 1,
    "hours_per_day": 0.5,
    "hours_at_once": 0.25,
    "years": 1,
    "per_kg": 1,
}
"""By the ending of a key; what one turn of a wheel should change. Finer than a printer or a goniometer shows is no use."""
PLAIN_STEP = 0.01
"""Of a number without a unit: shares and scales."""
TAPE_STEP_MM = 0.5
"""A tape reads to 1 mm, a careful eye to half of that."""
FORCE_KEYS = ("end_force_n", "joint_torque_nmm", "wear_hours_per_day", "wear_hours_at_once")
PERSON_KEYS = ("sex", "age_years", "stature_mm")
MEASURED = (Measured.__name__, FingerMeasured.__name__)


def case_schema(kinds: Kinds, needs: Needs) -> Schema:
    """Return the JSON Schema of a case file."""
    schema = _described(case_file_model(kinds), "print3d case", needs)
    schema["x-old-keys"] = dict(NEW_KEYS)
    return schema


def model_schema() -> Schema:
    """Return the JSON Schema of a case of a training model."""
    return _described(ModelFile, "print3d model case", {})


def table_schema(model: type[Section]) -> Schema:
    """Return the JSON Schema of a table in one of a clinic's own files, such as a material."""
    return _described(model, model.__name__, {})


def _described(model: type[Section], title: str, needs: Needs) -> Schema:
    schema = model.model_json_schema()
    for name, table in _tables(schema):
        for place, (key, entry) in enumerate(table["properties"].items(), start=1):
            _describe(name, key, entry, place)
            if name in MEASURED and needs and _is_measure(key, entry):
                entry["x-need"] = {kind: known.get(key, NOT_USED) for kind, known in needs.items()}
    choice = schema.get("$defs", {}).get("PrintChoice", {}).get("properties")
    if choice is not None:
        choice["material"]["examples"] = sorted(read_materials())
        choice["printer"]["examples"] = sorted(read_printers())
    return {"$schema": GenerateJsonSchema.schema_dialect, **schema, "title": title}


def _tables(schema: Schema) -> Iterator[tuple[str, Schema]]:
    """Yield each table of a schema by its name, the file itself without one."""
    yield "", schema
    yield from ((name, table) for name, table in schema.get("$defs", {}).items() if "properties" in table)


def _describe(table: str, key: str, entry: Schema, place: int) -> None:
    entry.pop("title", None)
    if key == "kind":
        entry["description"] = "Kind of orthosis"
    entry["x-order"] = place
    entry["x-group"] = _group(table, key, entry)
    unit = unit_of(key)
    if unit is not None:
        entry["x-unit"] = unit.said("en")
        entry["description"] = f"{entry.get('description', key)} ({entry['x-unit']})"
    step = _step(table, key, entry)
    if step is not None:
        entry["x-step"] = step


def _group(table: str, key: str, entry: Schema) -> str:
    """Return what a key stands together with: the table it leads to, or a word of its own table."""
    if _leads_to_a_table(entry):
        return "finger" if table == Measured.__name__ else key
    if table == Measured.__name__:
        return "person" if key in PERSON_KEYS else key.split("_")[0].replace("palm", "hand")
    if table == FingerMeasured.__name__:
        return "angles" if key.endswith("_deg") else "girths" if "girth" in key else "lengths"
    if key in FORCE_KEYS:
        return "force"
    return "angles" if key.endswith("_deg") else "shape" if key.endswith("_mm") else "choice"


def _step(table: str, key: str, entry: Schema) -> float | None:
    """Return by how much a number is changed at a time, or None for what is no number."""
    kinds = {each.get("type") for each in (entry, *entry.get("anyOf", ()))}
    if "integer" in kinds:
        return 1
    if "number" not in kinds:
        return None
    ending = ending_of(key)
    if ending == "mm" and table in MEASURED:
        return TAPE_STEP_MM
    return PLAIN_STEP if ending is None else STEPS[ending]


def _is_measure(key: str, entry: Schema) -> bool:
    return key not in (*PERSON_KEYS, "confirmed") and not _leads_to_a_table(entry)


def _leads_to_a_table(entry: Schema) -> bool:
    parts = (entry, *entry.get("anyOf", ()), *entry.get("oneOf", ()), *entry.get("allOf", ()))
    return any("$ref" in part for part in parts)
