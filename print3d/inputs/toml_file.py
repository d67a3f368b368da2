"""Read one TOML file into a dictionary; everything that can be wrong with the file itself is said here."""

import re
import tomllib
from pathlib import Path
from typing import Any

from print3d.errors import InputError
from print3d.inputs.problems import nearest, printable

LARGEST_BYTES = 1_000_000
"""A case file has about 2 kB; this much is some other file."""

MOST_DOTS = 60
_MEANT = {"TOML": "a case file", "CSV": "a list of models", "JSON": "a record"}
_PLACE = re.compile(r"\s*\(at line (\d+), column (\d+)\)")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?\d+,\d")


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file.

    Raises InputError if the file cannot be read, is no text or no TOML, or holds nothing.
    """
    text = read_text(path)
    # guard: TOML: keys of very many parts
    _refuse_dots(path, text)
    try:
        data = tomllib.loads(text)
    # guard: TOML: huge numbers
    except ValueError as error:  # TOMLDecodeError, and Python's own on a number of thousands of digits
        raise InputError(_syntax(path, text, error)) from error
    # guard: TOML: nested deeply
    except RecursionError as error:
        raise InputError(
            f"{path}: lists or tables are nested too deeply; a case file needs three levels"
        ) from error
    if not data:
        raise InputError(
            f"{path}: the file is empty; a case needs at least the tables [case], [orthosis] and [print]"
        )
    return data


def read_text(path: Path, kind: str = "TOML", largest_bytes: int = LARGEST_BYTES) -> str:
    """Read a text file in UTF-8; `kind` says in messages what is wanted.

    Raises InputError if it is no regular file, too large, unreadable or no UTF-8. A file that is too large is not read at all.
    """
    return _text(path, _bytes(path, kind, largest_bytes))


def _refuse_dots(path: Path, text: str) -> None:
    """Raise InputError for keys of very many parts: the time to read one grows with their square."""
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") > MOST_DOTS:
            found = printable(line.strip()[:60])
            raise InputError(
                f"{path}: line {number}: {found}: more than {MOST_DOTS} dots in a line; a key has a few parts, such as measured.ring"
            )


def _bytes(path: Path, kind: str, largest_bytes: int) -> bytes:
    try:
        # guard: a folder for a file
        if path.is_dir():
            raise InputError(f"{path}: is a folder; give one file{_example_in(path, kind)}")
        # guard: TOML: a pipe
        if path.exists() and not path.is_file():
            raise InputError(f"{path}: is not a regular file; give a text file in {kind}")
        size = path.stat().st_size
        # guard: TOML: 50 MB
        if size > largest_bytes:
            raise InputError(
                f"{path}: has {size} bytes, at most {largest_bytes} are accepted; is it {_MEANT[kind]}?"
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        raise InputError(
            f"{path}: there is no such file{_near(path, kind)}; give the path of a {kind} file"
        ) from error
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{path}: cannot be read ({reason}); give a text file that you may read") from error


def _example_in(folder: Path, kind: str) -> str:
    """Return a hint to the first such file of a folder, if there is one."""
    first = min(folder.glob(f"*.{kind.lower()}"), default=None)
    return f", for example {first}" if first is not None else ""


def _near(path: Path, kind: str) -> str:
    """Return a hint to the file beside a missing one that is spelt most like it, if any is near enough."""
    near = nearest(path.name, (each.name for each in path.parent.glob(f"*.{kind.lower()}")))
    return f"; the nearest is {path.with_name(near)}" if near is not None else ""


def _text(path: Path, content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{path}: line {line}: byte 0x{content[error.start]:02x} is not UTF-8; save the file as UTF-8 text"
        ) from error


def _syntax(path: Path, text: str, error: ValueError) -> str:
    """Return where and how the text stops being TOML."""
    place = _PLACE.search(str(error))
    reason = _PLACE.sub("", str(error)).removesuffix(" (at end of document)")
    lines = text.split("\n")
    number = int(place[1]) if place else len(text.rstrip("\n").split("\n"))
    found = printable(lines[min(number, len(lines)) - 1].strip()[:60])
    comma = "with a decimal point, not a comma, " if _DECIMAL_COMMA.search(found) else ""
    return f"{path}: line {number}: {found}: not TOML ({reason}); write {comma}key = value"
