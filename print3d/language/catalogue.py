"""One catalogue of text: `<language>/<topic>.toml`, the same keys and placeholders in every language.

A key is dotted: topic, tables, name. Values are templates (`"wall {wall_mm:.1f} mm"`) or lists of them. Numbers are written as the
language writes them: 2.5 in English, 2,5 in German.

    text("sheets.pattern.scale", "de", length_mm=100.0)
    lines("cautions.all", "de")
"""

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Any, Literal, get_args

Language = Literal["en", "de"]
LANGUAGES: tuple[Language, ...] = get_args(Language)
DECIMAL_MARK: Mapping[Language, str] = {"en": ".", "de": ","}
Template = str | tuple[str, ...]

_HOME = Path(__file__).parent


def text(key: str, language: Language = "en", **values: object) -> str:
    """Return one text with its values filled in. Raises KeyError if there is no such text or value."""
    template = catalogue(language)[key]
    if not isinstance(template, str):
        raise KeyError(f"{key} is a list; ask for lines()")
    return _Filled(language).vformat(template, (), values)


def lines(key: str, language: Language = "en", **values: object) -> tuple[str, ...]:
    """Return a list of texts with their values filled in. Raises KeyError if there is no such list or value."""
    templates = catalogue(language)[key]
    if isinstance(templates, str):
        raise KeyError(f"{key} is one text; ask for text()")
    return tuple(_Filled(language).vformat(each, (), values) for each in templates)


def number(value: float, language: Language = "en", *, decimals: int = 1) -> str:
    """Return a number with so many decimals, as the language writes it."""
    return _Filled(language).format_field(float(value), f".{decimals}f")


@cache
def catalogue(language: Language) -> Mapping[str, Template]:
    """Return every template of a language by its key."""
    return {
        f"{path.stem}.{key}": template
        for path in sorted((_HOME / language).glob("*.toml"))
        for key, template in _flat(tomllib.loads(path.read_text(encoding="utf-8")))
    }


def placeholders(template: Template) -> frozenset[str]:
    """Return the names of the values that a template asks for."""
    parts = (template,) if isinstance(template, str) else template
    return frozenset(name for part in parts for _, name, _, _ in Formatter().parse(part) if name)


def _flat(table: Mapping[str, Any]) -> Iterator[tuple[str, Template]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from ((f"{key}.{inner}", template) for inner, template in _flat(value))
        else:
            yield key, tuple(value) if isinstance(value, list) else value


class _Filled(Formatter):
    """Fills a template; numbers get the language's decimal mark."""

    def __init__(self, language: Language) -> None:
        self.mark = DECIMAL_MARK[language]

    def format_field(self, value: Any, format_spec: str) -> str:
        filled = format(value, format_spec)
        return filled.replace(".", self.mark) if isinstance(value, float) else filled
