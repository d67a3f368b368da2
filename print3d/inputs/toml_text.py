"""Tables as the text of a TOML file: what `read_toml` reads back as the same tables."""

import json
from collections.abc import Iterator, Mapping


def toml_text(tables: Mapping[str, object]) -> str:
    """Return nested tables of texts, numbers, true/false and lists as TOML; plain values of a table come before its tables."""
    return "\n".join(_lines(tables, "")).lstrip("\n") + "\n"


def _lines(table: Mapping[str, object], name: str) -> Iterator[str]:
    plain = {key: value for key, value in table.items() if not isinstance(value, Mapping)}
    if name and (plain or not table):
        yield ""
        yield f"[{name}]"
    yield from (f"{_key(key)} = {toml_value(value)}" for key, value in plain.items())
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _lines(value, f"{name}.{_key(key)}" if name else _key(key))


def _key(key: str) -> str:
    return key if key.isascii() and key.replace("_", "").replace("-", "").isalnum() else toml_value(key)


def toml_value(value: object) -> str:
    """Return one value as TOML writes it. Raises TypeError for what a case file cannot hold."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(float(value))
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    raise TypeError(f"{value!r} has no place in a case file")
