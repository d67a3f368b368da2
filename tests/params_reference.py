"""The reference of all keys, `params/README.md`, made from the JSON Schemas.

    python -m tests.params_reference

A test holds the file to what the schemas say.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple, get_args

from print3d.cli.schema import SCHEMAS
from print3d.forms.protocols import Protocol
from print3d.inputs.materials import Material, Printer
from print3d.inputs.schema import NOT_USED, Schema, table_schema
from print3d.inputs.table import Section
from print3d.kinds.measures import Need
from print3d.kinds.registry import KINDS

FILE = Path(__file__).parents[1] / "params" / "README.md"

HEAD = """# All keys

Made by `python -m tests.params_reference` from the JSON Schemas (`print3d schema`, `print3d schema --of model`); a test holds it to them.
A key without a default that is not marked *required* may be left out. Numbers are in the unit of their key.
"""
FINGER_NOTE = "The same keys stand in `[measured.index]`, `[measured.middle]`, `[measured.ring]` and `[measured.little]`."
MEASURED_NOTE = "Every measure may be left out; what is missing is estimated from the rest."
KINDS_NOTE = (
    "What every kind takes, and how most do; what a kind has otherwise or beyond stands in its own table."
)
LIBRARY_NOTE = (
    "A file in `{folder}/` beside the folder of the cases holds a table `[its_name]` for each; one of a known name goes before the "
    "program's."
)

URGENCY = (*get_args(Need), NOT_USED)
"""Needs of a measure, the most urgent first."""


class KeyRow(NamedTuple):
    """One line of a table."""

    key: str
    unit: str
    accepted: str
    default: str
    meaning: str
    need: str = ""


def reference() -> str:
    """Return the whole file."""
    case, model = SCHEMAS["case"](), SCHEMAS["model"]()
    pieces = [HEAD, "## A case", *_case_tables(case), "## Kinds", *_kind_tables(case), "## A training model"]
    pieces += ["`[case]`, `[measured]` and `[print]` are those of a case."]
    pieces += [_titled("[model]", list(_rows(model, _named(model, "model")))), "## A clinic's own files"]
    pieces += list(_library_tables())
    return "\n\n".join(piece.strip() for piece in pieces) + "\n"


def _case_tables(schema: Schema) -> Iterator[str]:
    yield _titled("[case]", list(_rows(schema, _named(schema, "case"))))
    measured = _named(schema, "measured")
    yield _titled("[measured]", list(_rows(schema, measured, deep=False)), MEASURED_NOTE)
    finger = _target(schema, measured["properties"]["index"])
    yield _titled("[measured.FINGER]", list(_rows(schema, finger)), FINGER_NOTE)
    yield _titled("[print]", list(_rows(schema, _named(schema, "print"))))
    yield _titled("[override]", list(_rows(schema, _named(schema, "override"))))


def _kind_tables(schema: Schema) -> Iterator[str]:
    of_kind = {
        name: {
            row.key: row for row in _rows(schema, schema["$defs"][kind.options.__name__]) if row.key != "kind"
        }
        for name, kind in KINDS.items()
    }
    shared = _shared(of_kind)
    yield _titled("[orthosis]", list(shared.values()), KINDS_NOTE)
    for name, rows in of_kind.items():
        own = [row for key, row in rows.items() if shared.get(key) != row]
        yield _titled(f'[orthosis] of kind = "{name}"', own)


def _shared(of_kind: Mapping[str, Mapping[str, KeyRow]]) -> dict[str, KeyRow]:
    """Return the keys that every kind has, each as most kinds have it."""
    first, *others = of_kind.values()
    keys = [key for key in first if all(key in rows for rows in others)]
    return {key: Counter(rows[key] for rows in of_kind.values()).most_common(1)[0][0] for key in keys}


def _library_tables() -> Iterator[str]:
    tables: tuple[tuple[str, str, type[Section]], ...] = (
        ("materials", "A material", Material),
        ("printers", "A printer", Printer),
        ("protocols", "A regimen of the dorsal blocking orthosis", Protocol),
    )
    for folder, title, model in tables:
        schema = table_schema(model)
        yield _titled(title, list(_rows(schema, schema, deep=False)), LIBRARY_NOTE.format(folder=folder))
    figure = table_schema(Material)["$defs"]["Figure"]
    yield _titled("A figure of a material or a printer", list(_rows({}, figure)))


def _named(schema: Schema, table: str) -> Schema:
    return _target(schema, schema["properties"][table])


def _target(schema: Schema, entry: Schema) -> Schema:
    """Return the table that a key leads to."""
    parts = (entry, *entry.get("anyOf", ()))
    name = next(part["$ref"] for part in parts if "$ref" in part).rpartition("/")[2]
    found: Schema = schema["$defs"][name]
    return found


def _rows(schema: Schema, table: Schema, before: str = "", *, deep: bool = True) -> Iterator[KeyRow]:
    for key, entry in table["properties"].items():
        name = f"{before}{key}"
        if not any("$ref" in part for part in (entry, *entry.get("anyOf", ()))):
            yield _row(name, entry, is_required=key in table.get("required", ()))
        elif deep:
            own = entry.get("default", {})
            inner = _target(schema, entry)
            yield from (_with_default(row, own, name) for row in _rows(schema, inner, f"{name}."))
        else:
            meaning = entry.get("description", "").partition(" (")[0]
            required = "*required*" if key in table.get("required", ()) else ""
            yield KeyRow(name, entry.get("x-unit", ""), "a table", required, meaning)


def _with_default(row: KeyRow, own: object, table: str) -> KeyRow:
    """Return a row with the default that the table itself has for it, if it has one."""
    key = row.key.removeprefix(f"{table}.")
    return row._replace(default=_value(own[key])) if isinstance(own, dict) and key in own else row


def _row(key: str, entry: Schema, *, is_required: bool) -> KeyRow:
    unit = entry.get("x-unit", "")
    meaning = entry.get("description", "").removesuffix(f" ({unit})")
    default = "*required*" if is_required else _value(entry.get("default"))
    return KeyRow(key, unit, _accepted(entry), default, meaning, _need(entry.get("x-need", {})))


def _accepted(entry: Schema) -> str:
    parts = [each for each in (entry, *entry.get("anyOf", ())) if each.get("type") != "null"]
    for part in parts:
        if "enum" in part or "const" in part:
            return ", ".join(_value(each) for each in part.get("enum", [part.get("const")]))
    for part in parts:
        if part.get("type") in ("number", "integer"):
            return _span(part)
        if part.get("type") == "boolean":
            return "`true`, `false`"
        if part.get("type") == "array":
            return "a list"
        if part.get("type") == "string":
            longest = f", at most {part['maxLength']} letters" if "maxLength" in part else ""
            return f"text `{part['pattern']}`" if "pattern" in part else f"text{longest}"
    raise AssertionError(f"{entry} accepts nothing that is known")


def _span(part: Schema) -> str:
    low = [f"{part['minimum']:g}"] if "minimum" in part else []
    low += [f"above {part['exclusiveMinimum']:g}"] if "exclusiveMinimum" in part else []
    high = [f"{part['maximum']:g}"] if "maximum" in part else []
    return " to ".join(low + high) or ("a whole number" if part["type"] == "integer" else "a number")


def _value(value: Any) -> str:
    if value is None or value in ("", [], ()):
        return ""
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, (int, float)):
        return f"{value:g}"
    return f"`{value}`"


def _need(needs: Mapping[str, str]) -> str:
    """Return which kinds need a measure, the most urgent needs first."""
    of_need: dict[str, list[str]] = {}
    for kind, need in needs.items():
        of_need.setdefault(need, []).append(kind)
    listed = [
        f"{need}: {'every kind' if len(kinds) == len(needs) else ', '.join(kinds)}"
        for need, kinds in sorted(of_need.items(), key=lambda pair: URGENCY.index(pair[0]))
        if need != NOT_USED
    ]
    return "; ".join(listed)


def _titled(title: str, rows: list[KeyRow], note: str = "") -> str:
    columns = ["key", "unit", "accepted", "default", "meaning", "need"]
    shown = [
        place
        for place, name in enumerate(columns)
        if name in ("key", "accepted", "meaning") or any(row[place] for row in rows)
    ]
    lines = [f"### `{title}`" if title.startswith("[") else f"### {title}", ""]
    lines += [note, ""] if note else []
    lines += [f"| {' | '.join(columns[place] for place in shown)} |", "| " + "--- | " * len(shown)]
    for row in rows:
        cells = row._replace(key=f"`{row.key}`")
        lines.append(f"| {' | '.join(cells[place] for place in shown)} |")
    return "\n".join(line.rstrip() for line in lines)


if __name__ == "__main__":
    FILE.write_text(reference(), encoding="utf-8")
