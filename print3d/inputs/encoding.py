"""From the bytes of a file to its text, or to what the file is instead."""

from pathlib import Path

from print3d.inputs.problems import refused
from print3d.language.message import Message, message

_FORMATS = {
    b"\xd0\xcf\x11\xe0": "old_office",
    b"{\\rtf": "rich_text",
    b"%PDF": "pdf",
}
"""First bytes -> format that office programs write."""
_ZIPPED = {
    b"word/": "word",
    b"xl/": "spreadsheet",
    b"opendocument.text": "word",
    b"opendocument.spreadsheet": "spreadsheet",
}
"""What a zipped format names inside -> what it is."""
_ZIP = b"PK\x03\x04"
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
NULLS_OF_UTF16 = 0.4
"""Share of null bytes from which, all at odd or all at even places, a file is UTF-16: nearly half in European text; own choice."""


def decoded(path: Path, content: bytes) -> str:
    """Return the text of a file in UTF-8, with or without its mark.

    Raises InputError that says what the file is instead.
    """
    found = _of_another_program(content)
    if found is not None:
        raise refused(path, message("refusals.file.foreign", what=message(f"refusals.file.format.{found}")))
    if _is_utf16(content):
        raise refused(path, message("refusals.file.utf16"))
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refused(path, _no_utf8(content, error.start)) from error


def _of_another_program(content: bytes) -> str | None:
    if content.startswith(_ZIP):
        return next((name for sign, name in _ZIPPED.items() if sign in content), "zip")
    return next((name for sign, name in _FORMATS.items() if content.startswith(sign)), None)


def _is_utf16(content: bytes) -> bool:
    """Whether it has the mark of UTF-16, or every other byte is null as in European text without one."""
    if content.startswith(_UTF16_MARKS):
        return True
    odd, even = content[1::2].count(0), content[::2].count(0)
    return max(odd, even) > NULLS_OF_UTF16 * len(content) and min(odd, even) == 0


def _no_utf8(content: bytes, place: int) -> Message:
    line = content.count(b"\n", 0, place) + 1
    byte, letter = content[place], content[place : place + 1].decode("latin-1")
    key = "latin1" if letter.isalpha() else "not_utf8"
    return message(f"refusals.file.{key}", line=line, byte=f"0x{byte:02x}", letter=letter)
