"""One problem of a file, in one line: the key, the value found, and what would be accepted."""

import difflib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from print3d.errors import InputError

CONTRADICTION = "contradiction"
"""Type name of the validation error that carries contradictions between values."""

LONGEST_SHOWN = 60
MOST_SHOWN = 60
"""A file with more problems is some other file."""
NEAR_ENOUGH = 0.6
"""Share of equal letters from which a key counts as a misspelling of another; difflib's own default."""

MISSING = object()
"""Stands for a value that is not in the file."""

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True)
class Problem:
    """What is wrong with one key.

    key : dotted key, as a reader would look for it in the file
    found : the value there, or MISSING
    wanted : what would be accepted
    """

    key: str
    found: object
    wanted: str

    def text(self) -> str:
        """Return the problem as one line."""
        if self.found is MISSING:
            return f"{self.key} is missing: {self.wanted}"
        return f"{self.key} = {in_words(self.found)}: {self.wanted}"


def refusal(source: Path, problems: Iterable[Problem]) -> InputError:
    """Return one error that lists the problems of a file, a line each; of a flood of them the first ones."""
    lines = [f"{source}: {problem.text()}" for problem in problems]
    # guard: a flood of problems
    if len(lines) > MOST_SHOWN:
        lines[MOST_SHOWN:] = [
            f"{source}: and {len(lines) - MOST_SHOWN} more problems; is it the file that was meant?"
        ]
    return InputError("\n".join(lines))


def in_words(value: object) -> str:
    """Return a value as it would stand in a TOML file, shortened."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        text = printable(json.dumps(value, ensure_ascii=False))
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(in_words(item) for item in value) + "]"
    elif isinstance(value, float):
        text = f"{value:g}" if float(f"{value:g}") == value else repr(value)
    else:
        text = str(value)
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."


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


def unknown_name(key: str, name: str, what: str, known: Iterable[str]) -> Problem:
    """Return the problem of a value that names something there is not."""
    names = sorted(known)
    near = nearest(name.lower(), names)
    hint = f"the nearest is {in_words(near)}; " if near else ""
    listed = ", ".join(in_words(each) for each in names) or "none"
    return Problem(key, name, f"not a known {what}; {hint}known are {listed}")
