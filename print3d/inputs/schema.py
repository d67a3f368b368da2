"""JSON Schema of a case file, so that an editor completes keys and shows what they mean."""

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from print3d.inputs.case_file import Kinds, case_file_model
from print3d.inputs.materials import read_materials, read_printers
from print3d.inputs.units import unit_of


def case_schema(kinds: Kinds) -> dict[str, Any]:
    """Return the JSON Schema of a case file, with descriptions and units."""
    schema = case_file_model(kinds).model_json_schema()
    for table in _tables(schema):
        for key, entry in table["properties"].items():
            _name_unit(key, entry)
    choice = schema["$defs"]["PrintChoice"]["properties"]
    choice["material"]["examples"] = sorted(read_materials())
    choice["printer"]["examples"] = sorted(read_printers())
    return {"$schema": GenerateJsonSchema.schema_dialect, **schema, "title": "print3d case"}


def _tables(schema: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for table in (schema, *schema["$defs"].values()):
        if "properties" in table:
            yield dict(table)


def _name_unit(key: str, entry: dict[str, Any]) -> None:
    entry.pop("title", None)
    unit = unit_of(key)
    if unit is not None:
        entry["description"] = f"{entry.get('description', key)} ({unit.said('en')})"
