"""One problem of a file or an option, as data: the key, the value found, and what would be accepted."""

import difflib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from math import isfinite
from pathlib import Path
from typing import Any

from print3d.errors import InputError, Print3dError, Sayable
from print3d.inputs.units import unit_of
from print3d.language.catalogue import Language, text
from print3d.language.message import Message, message

CONTRADICTION = "contradiction"
"""Type name of the validation error that carries contradictions between values."""

LONGEST_SHOWN = 60
"""Letters of a value that a message shows; own choice."""
MOST_SHOWN = 60
"""A file with more problems is some other file."""
NEAR_ENOUGH = 0.6
"""Share of equal letters from which a key counts as a misspelling of another; difflib's own default."""

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


class NoValue(Enum):
    """Stands for the value of a key where there is none to show."""

    MISSING = "missing"
    OPEN = "open"


MISSING = NoValue.MISSING
"""The value is not in the file."""
OPEN = NoValue.OPEN
"""No one value is to blame."""


@dataclass(frozen=True)
class Problem:
    """What is wrong with one key.

    key : dotted key, as a reader would look for it in the file; an option of the command line as it is typed; "" if no key is to blame
    found : the value there, MISSING, or OPEN
    wanted : what would be accepted. Among its values `least` and `most` are limits in the unit of the key, `one_of` are choices
    source : the file
    """

    key: str
    found: object
    wanted: Message
    source: str = ""

    def said(self, language: Language = "en") -> str:
        """Return the problem as one line."""
        line = self._line(self.wanted.said(language), language)
        return f"{self.source}: {line}" if self.source else line

    def _line(self, wanted: str, language: Language) -> str:
        if not self.key:
            return wanted
        if self.found is OPEN:
            return text("refusals.at", language, key=self.key, wanted=wanted)
        if self.found is MISSING:
            return text("refusals.missing", language, key=self.key, wanted=wanted)
        if self.key.startswith("--"):
            typed = _as_typed(self.found, language)
            return text("refusals.option", language, key=self.key, found=typed, wanted=wanted)
        found = in_words(self.found, language)
        return text("refusals.found", language, key=self.key, found=found, wanted=wanted)

    def as_data(self) -> dict[str, object]:
        """Return the problem as plain data: what a page needs to stand it beside its field."""
        unit = unit_of(self.key)
        return {
            "file": self.source or None,
            "key": self.key or None,
            "found": _plain(self.found),
            "shown": None if isinstance(self.found, NoValue) else in_words(self.found),
            "is_missing": self.found is MISSING,
            "least": self.accepted("least"),
            "most": self.accepted("most"),
            "one_of": self.accepted("one_of"),
            "unit": None if unit is None else unit.said("en"),
            "wanted": self.wanted.as_data(),
        }

    def accepted(self, name: str) -> object:
        """Return a value of what is wanted by its name ("least", "most", "one_of"), or None."""
        return _value_in(self.wanted, name)

    def at(self, prefix: str) -> "Problem":
        """Return the same problem of a table that lies at `prefix`."""
        return replace(self, key=f"{prefix}.{self.key}")

    def of(self, source: Path | str) -> "Problem":
        """Return the same problem of a file."""
        return replace(self, source=str(source))


@dataclass(frozen=True)
class _Odd:
    """Stands for a value that JSON cannot hold: how it is shown."""

    shown: str

    def __str__(self) -> str:
        return self.shown


def sayable_from(data: Mapping[str, Any]) -> Sayable:
    """Return the problem or the message that `as_data` made plain."""
    if "wanted" not in data:
        return _message_from(data)
    found, shown = data["found"], data["shown"]
    if data["is_missing"]:
        found = MISSING
    elif shown is None:
        found = OPEN
    elif found is None:
        found = {} if shown == in_words({}) else _Odd(shown)
    return Problem(data["key"] or "", found, _message_from(data["wanted"]), data["file"] or "")


def _message_from(data: Mapping[str, Any]) -> Message:
    return message(data["key"], **{name: _value_from(value) for name, value in data["values"].items()})


def _value_from(value: Any) -> Any:
    if isinstance(value, Mapping):
        return sayable_from(value)
    return [_value_from(each) for each in value] if isinstance(value, list) else value


def refusal(source: Path, problems: Iterable[Problem]) -> InputError:
    """Return one error that lists the problems of a file; of a flood of them the first ones."""
    found: list[Sayable] = [problem.of(source) for problem in problems]
    # guard: a flood of problems
    if len(found) > MOST_SHOWN:
        more = message("refusals.more", count=len(found) - MOST_SHOWN)
        found[MOST_SHOWN:] = [Problem("", OPEN, more, str(source))]
    return InputError(*found)


def without_file(error: Print3dError) -> tuple[Sayable, ...]:
    """Return the problems of an error without the file that they are of, for where it is known."""
    return tuple(each.of("") if isinstance(each, Problem) else each for each in error.problems)


def refused(source: Path | str, wanted: Message, key: str = "", found: object = OPEN) -> InputError:
    """Return the error of one problem of a file."""
    return InputError(Problem(key, found, wanted, str(source)))


def in_words(value: object, language: Language = "en") -> str:
    """Return a value as it would stand in a TOML file, shortened."""
    if isinstance(value, Mapping):
        return text("refusals.a_table", language)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        shown = printable(json.dumps(value, ensure_ascii=False))
    elif isinstance(value, list | tuple):
        shown = "[" + ", ".join(in_words(item, language) for item in value[:LONGEST_SHOWN]) + "]"
    elif isinstance(value, float):
        shown = f"{value:g}" if float(f"{value:g}") == value else repr(value)
    else:
        shown = str(value)
    return shown if len(shown) <= LONGEST_SHOWN else shown[: LONGEST_SHOWN - 3] + "..."


def _as_typed(value: object, language: Language) -> str:
    """Return the value of an option as it was typed, in quotes only where it would not be seen else."""
    shown = in_words(value, language)
    return shown[1:-1] if isinstance(value, str) and shown == f'"{value}"' and value.strip() else shown


def printable(text: str) -> str:
    """Return a text with characters that move the cursor or break the line written as escapes."""
    return "".join(each if each.isprintable() else each.encode("unicode_escape").decode() for each in text)


def dotted(loc: Sequence[str | int]) -> str:
    """Return a path into a file as a dotted key; `allow[1]` for the second item of a list."""
    text = ""
    for part in loc:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            bare = part if _BARE_KEY.fullmatch(part) and len(part) <= LONGEST_SHOWN else in_words(part)
            text += f".{bare}" if text else bare
    return text


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that is spelt most like `name`, if any is near enough."""
    found = difflib.get_close_matches(name, list(known), n=1, cutoff=NEAR_ENOUGH)
    return found[0] if found else None


def unknown_name(key: str, name: str, what: Message, known: Iterable[str]) -> Problem:
    """Return the problem of a value that names something there is not; `what` says that there is no such thing."""
    names = sorted(known)
    near = nearest(name.lower(), names)
    listed = ", ".join(in_words(each) for each in names)
    if not listed:
        return Problem(key, name, message("refusals.unknown_of_none", what=what))
    if near:
        wanted = message("refusals.unknown_near", what=what, near=in_words(near), known=listed, one_of=names)
    else:
        wanted = message("refusals.unknown", what=what, known=listed, one_of=names)
    return Problem(key, name, wanted)


def either(names: Sequence[Message | str]) -> Message | str:
    """Return names as alternatives: "a or b"."""
    first, *more = names
    return message("refusals.or", first=either(names[:-1]), last=names[-1]) if more else first


def _value_in(wanted: Message, name: str) -> object:
    for own, value in wanted.values:
        if own == name:
            return list(value) if isinstance(value, tuple) else value
        found = _value_in(value, name) if isinstance(value, Message) else None
        if found is not None:
            return found
    return None


def _plain(found: object) -> object:
    """Return a value of a file as JSON takes it.

    None for dates, numbers without end, tables and what holds them.
    """
    if isinstance(found, str | bool | int) or (isinstance(found, float) and isfinite(found)):
        return found
    if not isinstance(found, list | tuple):
        return None
    items = [_plain(each) for each in found]
    return None if None in items else items
