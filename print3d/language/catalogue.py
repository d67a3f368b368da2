"""One catalogue of text: the same keys and placeholders in every language.

Words lie in `language/<language>/<topic>.toml`, those of a kind in `kinds/<name>/words.<language>.toml`, those of a check in
`checks/<name>.<language>.toml`. A key is dotted: topic, tables, name; `kinds.<name>` and `checks.<name>` are topics of their own, and a
language's folder may hold any of them too (`language/fr/checks.rims.toml`). What a kind says of its parts and options joins what all
kinds share: `[options.key]` of its file is `options.key` everywhere. Values are templates (`"wall {wall_mm:.1f} mm"`) or lists of them.
Numbers are written as the language writes them: 2.5 in English, 2,5 in German.

    text("sheets.pattern.scale", "de", length_mm=100.0)
    lines("cautions.all", "de")
"""

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from string import Formatter
from typing import TYPE_CHECKING, Any, Literal

from print3d.errors import CatalogueError, MissingWordError

_HOME = Path(__file__).parent
LANGUAGES: tuple[str, ...] = (
    "en",
    *sorted({path.parent.name for path in _HOME.glob("*/common.toml")} - {"en"}),
)
"""Every folder here with a `common.toml` is one; the program's own comes first."""
if TYPE_CHECKING:
    Language = str
else:
    Language = Literal[LANGUAGES]
"""One of them, so that a file or a command with another is refused."""
Template = str | tuple[str, ...]

_ROOMS = {"kinds": "*/words.{language}.toml", "checks": "*.{language}.toml"}
"""Rooms whose occupants bring words of their own, and how the files are named."""
_JOINED = {"part.": "common.part.", "options.": "options."}
"""Tables in a kind's words that join the words of all kinds."""


def text(key: str, /, language: Language = "en", **values: object) -> str:
    """Return one text with its values filled in. Raises MissingWordError if there is no such text or value."""
    template = _template(key, language)
    if not isinstance(template, str):
        raise MissingWordError(f"{_file_of(key, language)}: {key} is a list, one text is asked for")
    return _filled(template, key, language, values)


def lines(key: str, /, language: Language = "en", **values: object) -> tuple[str, ...]:
    """Return a list of texts with their values filled in. Raises MissingWordError if there is no such list or value."""
    templates = _template(key, language)
    if isinstance(templates, str):
        raise MissingWordError(f"{_file_of(key, language)}: {key} is one text, a list is asked for")
    return tuple(_filled(each, key, language, values) for each in templates)


def number(value: float, language: Language = "en", *, decimals: int = 1) -> str:
    """Return a number with some decimals, as the language writes it."""
    return _Filled(language).format_field(float(value), f".{decimals}f")


def decimal_mark(language: Language) -> str:
    """Return what stands before the decimals of a number."""
    return str(_template("common.decimal_mark", language))


@cache
def catalogue(language: Language) -> Mapping[str, Template]:
    """Return every template of a language by its key."""
    found: dict[str, Template] = {}
    for topic, path in _files(language):
        for name, template in _flat(tomllib.loads(path.read_text(encoding="utf-8"))):
            key = _joined(topic, name)
            if found.setdefault(key, template) != template:
                raise CatalogueError(f"{path}: {key} is said otherwise elsewhere; choose another name")
    return found


def _joined(topic: str, name: str) -> str:
    """Return the key of a text by the topic of its file and its name in there."""
    if topic.startswith("kinds."):
        for table, shared in _JOINED.items():
            if name.startswith(table):
                return shared + name.removeprefix(table)
    return f"{topic}.{name}"


def _files(language: Language) -> Iterator[tuple[str, Path]]:
    """Yield each topic and its file."""
    for room, names in _ROOMS.items():
        for path in sorted((_HOME.parent / room).glob(names.format(language=language))):
            yield f"{room}.{path.parent.name if room == 'kinds' else path.name.split('.')[0]}", path
    for path in sorted((_HOME / language).glob("*.toml")):
        yield path.name.removesuffix(".toml"), path


def _template(key: str, language: Language) -> Template:
    try:
        return catalogue(language)[key]
    except KeyError:
        raise MissingWordError(f"{_file_of(key, language)}: there is no {key}") from None


def _file_of(key: str, language: Language) -> str:
    """Return where a key is at home, for messages."""
    topic, name, *_ = [*key.split("."), ""]
    if any(key.startswith(shared) for shared in _JOINED.values()):
        return f"language/{language}/{topic}.toml, or words.{language}.toml of the kind"
    home = {"kinds": f"kinds/{name}/words.{language}.toml", "checks": f"checks/{name}.{language}.toml"}
    return home.get(topic, f"language/{language}/{topic}.toml")


def _filled(template: str, key: str, language: Language, values: Mapping[str, object]) -> str:
    try:
        return _Filled(language).vformat(template, (), values)
    except KeyError as error:
        raise MissingWordError(
            f"{_file_of(key, language)}: {key} asks for {error}, which was not given"
        ) from None


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
        self.mark = decimal_mark(language)

    def format_field(self, value: Any, format_spec: str) -> str:
        filled = format(value, format_spec)
        return filled.replace(".", self.mark) if isinstance(value, float) else filled
