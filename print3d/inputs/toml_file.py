"""Read one TOML file into a dictionary; everything that can be wrong with the file itself is said here."""

import re
import tomllib
from pathlib import Path

from print3d.inputs.encoding import decoded
from print3d.inputs.problems import nearest, printable, refused
from print3d.inputs.tables import Tables
from print3d.language.message import Message, message

LARGEST_BYTES = 1_000_000
"""A case file has about 2 kB; this much is some other file."""

MOST_DOTS = 60
"""Dots of a line: long chains of keys take the reader very long; own choice."""
MEANT = {
    "TOML": message("refusals.file.meant.case"),
    "CSV": message("refusals.file.meant.list"),
    "JSON": message("refusals.file.meant.record"),
}
"""What a file of a format is, most likely."""
_PLACE = re.compile(r"\s*\(at line (\d+), column (\d+)\)")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?\d+,\d")
_LEADING_ZERO = re.compile(r"=\s*[+-]?0+(?P<rest>\d[\d_]*(\.\d+)?)\s*([#,}\]]|$)")
_IN_QUOTES = re.compile(r"\"[^\"]*\"|'[^']*'|#.*")
_CURLY = re.compile("[\u2018-\u201f\u2039\u203a\u00ab\u00bb\u00b4`]")
"""Quotes that editors of letters put in place of straight ones, and accents typed for them."""


def read_toml(path: Path) -> Tables:
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
        raise refused(path, _syntax(text, error)) from error
    # guard: TOML: nested deeply
    except RecursionError as error:
        raise refused(path, message("refusals.file.nested")) from error
    if not data:
        raise refused(path, message("refusals.file.empty"))
    return data


def read_text(path: Path, kind: str = "TOML", largest_bytes: int = LARGEST_BYTES) -> str:
    """Read a text file in UTF-8; `kind` says in messages what is wanted.

    Raises InputError if it is no regular file, too large, unreadable or no UTF-8. A file that is too large is not read at all.
    """
    return decoded(path, _bytes(path, kind, largest_bytes))


def _refuse_dots(path: Path, text: str) -> None:
    """Raise InputError for keys of very many parts: the time to read one grows with their square."""
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") > MOST_DOTS:
            found = printable(line.strip()[:60])
            raise refused(path, message("refusals.file.dots", line=number, found=found, most=MOST_DOTS))


def _bytes(path: Path, kind: str, largest_bytes: int) -> bytes:
    try:
        # guard: a folder for a file
        if path.is_dir():
            raise refused(path, _is_folder(path, kind))
        # guard: TOML: a pipe
        if path.exists() and not path.is_file():
            raise refused(path, message("refusals.file.no_file", kind=kind))
        size = path.stat().st_size
        # guard: TOML: 50 MB
        if size > largest_bytes:
            raise refused(
                path, message("refusals.file.large", size=size, most=largest_bytes, meant=MEANT[kind])
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        raise refused(path, _not_there(path, kind)) from error
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        reason = str(getattr(error, "strerror", None) or error)
        raise refused(path, message("refusals.file.unreadable", reason=reason)) from error


def _is_folder(folder: Path, kind: str) -> Message:
    """Return that a folder is no file, with the first such file in it, if there is one."""
    first = min(folder.glob(f"*.{kind.lower()}"), default=None)
    if first is None:
        return message("refusals.file.folder")
    return message("refusals.file.folder_with", example=str(first))


def _not_there(path: Path, kind: str) -> Message:
    """Return that a file is missing, with the one beside it that is spelt most like it.

    Only one that is near enough is named.
    """
    near = nearest(path.name, (each.name for each in path.parent.glob(f"*.{kind.lower()}")))
    if near is None:
        return message("refusals.file.missing", kind=kind)
    return message("refusals.file.missing_near", kind=kind, near=str(path.with_name(near)))


def _syntax(text: str, error: ValueError) -> Message:
    """Return where and how the text stops being TOML."""
    place = _PLACE.search(str(error))
    reason = _PLACE.sub("", str(error)).removesuffix(" (at end of document)")
    lines = text.split("\n")
    number = int(place[1]) if place else len(text.rstrip("\n").split("\n"))
    whole = lines[min(number, len(lines)) - 1].strip()
    found = printable(whole[:60])
    if curly := _CURLY.search(_IN_QUOTES.sub("", whole)):
        return message("refusals.file.curly", line=number, found=found, quote=curly[0])
    if zero := _LEADING_ZERO.search(whole):
        return message("refusals.file.zero", line=number, found=found, number=zero["rest"])
    if _DECIMAL_COMMA.search(whole):
        return message("refusals.file.comma", line=number, found=found, reason=reason)
    return message("refusals.file.syntax", line=number, found=found, reason=reason)
