"""The published layout of findings.json is what a build writes, and a file that breaks it is seen."""

import json
from collections.abc import Iterator
from typing import Any

import pytest

from print3d import flow
from print3d.built import shape_and_check
from print3d.output.findings_schema import findings_schema
from tests.conftest import CASES

TYPES = {
    "string": str,
    "number": (int, float),
    "boolean": bool,
    "object": dict,
    "array": list,
    "null": type(None),
}


def breaks(data: Any, schema: dict[str, Any], root: dict[str, Any], at: str = "") -> Iterator[str]:
    """Yield where data break a schema; of JSON Schema as much as the layout uses."""
    if "$ref" in schema:
        schema = root["$defs"][schema["$ref"].rpartition("/")[2]]
    if ("const" in schema and data != schema["const"]) or ("enum" in schema and data not in schema["enum"]):
        yield f"{at}: {data!r}"
    kinds = schema.get("type", [])
    if kinds and not any(_is(data, kind) for kind in ([kinds] if isinstance(kinds, str) else kinds)):
        yield f"{at}: {data!r} is no {kinds}"
    if isinstance(data, dict):
        known, others = schema.get("properties", {}), schema.get("additionalProperties", {})
        yield from (f"{at}.{name} is missing" for name in schema.get("required", []) if name not in data)
        for name, value in data.items():
            if name not in known and others is False:
                yield f"{at}.{name} is not described"
            yield from breaks(value, known.get(name) or others or {}, root, f"{at}.{name}")
    if isinstance(data, list):
        if not schema.get("minItems", 0) <= len(data) <= schema.get("maxItems", len(data)):
            yield f"{at}: {len(data)} items"
        for number, each in enumerate(data):
            yield from breaks(each, schema.get("items", {}), root, f"{at}[{number}]")


def _is(data: Any, kind: str) -> bool:
    return isinstance(data, TYPES[kind]) and not (kind == "number" and isinstance(data, bool))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A file of a case that fails, so that it has advice."""
    folder = tmp_path_factory.mktemp("written")
    text = (CASES / "mallet.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[orthosis]")
    case = folder / "case.toml"
    case.write_text(
        f"{head}[orthosis]\nrim_radius_mm = 0.35\n" + _without(rest, "rim_radius_mm"), encoding="utf-8"
    )
    built = shape_and_check(flow.read(case))
    (path,) = flow.write(built, folder / "out", frozenset({"json"}), lambda step: None)
    assert not built.holds
    return json.loads(path.read_text(encoding="utf-8"))


def _without(text: str, key: str) -> str:
    return "\n".join(line for line in text.splitlines() if not line.startswith(key))


def test_a_written_file_keeps_to_the_layout(written: Any) -> None:
    schema = findings_schema()
    assert list(breaks(written, schema, schema)) == []
    assert written["advice"]


@pytest.mark.parametrize(
    ("change", "seen"),
    [
        ({"layout": "print3d findings 1"}, ".layout"),
        ({"holds": "yes"}, ".holds"),
        ({"extra": 1}, ".extra is not described"),
        ({"findings": [{"key": "wall.thinnest"}]}, ".findings[0].measured is missing"),
    ],
)
def test_what_breaks_the_layout_is_seen(written: Any, change: dict[str, Any], seen: str) -> None:
    schema = findings_schema()
    assert any(each.startswith(seen) for each in breaks({**written, **change}, schema, schema))
