"""What all commands share: exit codes, common options, and progress on a terminal."""

import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from math import inf, isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from print3d.errors import Print3dError
from print3d.inputs.problems import printable, refused
from print3d.inputs.toml_file import LARGEST_BYTES, read_toml
from print3d.inputs.typed import number_typed
from print3d.language.catalogue import LANGUAGES, Language
from print3d.language.message import message
from print3d.output.formats import ALL, formats_among

if TYPE_CHECKING:
    from print3d.inputs.part_mark import PartMark

HOLDS = 0
"""Exit code: all checks hold."""
FAILS = 1
"""Exit code: built, but a check fails."""
# guard: exit 2
REFUSED = 2
"""Exit code: it cannot be built."""
STOPPED = 130
"""What a shell reports of a program that was stopped by Ctrl-C."""


_LANGUAGE = re.compile(rb"(?:^|[{,])\s*\"?language\"?\s*[=:]\W*([a-z]+)", re.MULTILINE)
Progress = Callable[[str], None]
Cases = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case files (TOML).")]
OUTPUTS = Path("outputs")
"""Folder for files: beside the case, or beside the folder of which the case is one of the library."""
LIBRARY = "params"
"""Folder that holds a clinic's cases, materials, printers, protocols and guidance."""
Verbose = Annotated[bool, typer.Option("--verbose", "-v", help="Tell every finding, estimate and file.")]
Replacing = Annotated[
    bool,
    typer.Option("--replace", help="A part of another shape that stands there moves to earlier/; the new one gets a revision letter."),
]  # fmt: skip
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for programs.")]


def _print_version(asked: bool) -> None:
    if asked:
        from print3d import __version__

        print(f"print3d {__version__}")
        raise typer.Exit(HOLDS)


VERSION = typer.Option("--version", is_eager=True, callback=_print_version, help="Print the version.")


@contextmanager
def progress_of(title: str, *, quiet: bool) -> Iterator[Progress]:
    """Yield a function that shows the present step on a terminal, and nothing in a pipe."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield lambda step: None
        return
    with console.status(title) as status:
        yield lambda step: status.update(f"{title}: {step}")


def complain(message: object) -> None:
    """Print a message to the error stream, with whatever moves the cursor or colours a terminal written as escapes."""
    lines = [
        # guard: a message that moves no cursor
        printable(line)
        for line in str(message).split("\n")
    ]
    print("\n".join(lines), file=sys.stderr)


def refused_case(path: Path, error: Print3dError) -> dict[str, object]:
    """Say in the language of a case why it cannot be built, and return the same for programs."""
    words = error.said(language_of(path))
    words = words if str(path) in words else f"{path}: {words}"
    complain(words)
    return {"case": str(path), "error": words, "problems": error.as_data()}


def language_of(path: Path) -> Language:
    """Return the language that a case file asks for, also where the file is not yet one.

    English where it asks for none that is known.
    """
    try:
        header = read_toml(path).get("case")
    except Print3dError:
        return _language_in(path)
    asked = header.get("language") if isinstance(header, Mapping) else None
    return asked if asked in LANGUAGES else "en"


def _language_in(path: Path) -> Language:
    """Return the language that stands in a file which cannot be read, whatever its encoding; else English."""
    try:
        size = path.stat().st_size if path.is_file() else LARGEST_BYTES + 1
        content = path.read_bytes() if size <= LARGEST_BYTES else b""
    except (OSError, ValueError):
        return "en"
    found = _LANGUAGE.search(content.replace(b"\0", b""))
    asked = found[1].decode() if found else "en"
    return asked if asked in LANGUAGES else "en"


def language_of_call(arguments: Sequence[str]) -> Language:
    """Return the language that a call asks for.

    By --language, else that of the first case file or record in it, else English.
    """
    for each, after in zip(arguments, [*arguments[1:], ""], strict=True):
        asked = after if each == "--language" else each.removeprefix("--language=")
        if asked in LANGUAGES and each.startswith("--language"):
            return asked
    case = next((Path(each) for each in arguments if each.endswith((".toml", ".json"))), None)
    return "en" if case is None else language_of(case)


def out_option(words: str) -> typer.models.OptionInfo:
    """Return the option for the folder that files go to."""
    place = f"outputs beside the case, or beside the folder {LIBRARY} that it lies in"
    option: typer.models.OptionInfo = typer.Option(help=f"{words} in here; else {place}.")
    return option


def outputs_of(file: Path) -> Path:
    """Return the folder for what is made from a file.

    It is named as seen from the present folder, where it lies in there: `outputs` beside the library in which the file lies (params/cases/a.toml), the one that it came from
    (outputs/PY-014/record.json), or the one beside it.
    """
    whole, here = file.absolute(), Path.cwd()
    place = whole.parent / OUTPUTS
    for each in whole.parents:
        if each.name in (LIBRARY, OUTPUTS.name):
            place = each if each.name == OUTPUTS.name else each.parent / OUTPUTS
            break
    return place.relative_to(here) if place.is_relative_to(here) else place


def refuse_second(first_with: dict[str, Path], mark: "PartMark", path: Path) -> None:
    """Raise InputError if an earlier case of this call has the same output folder; else remember this one."""
    folder = mark.place.casefold()  # some file systems do not tell upper case from lower
    if folder in first_with:
        wanted = message("refusals.cli.same_code", other=str(first_with[folder]))
        raise refused(path, wanted, "case.code", mark.code)
    first_with[folder] = path


def number_option(words: str, *names: str, least: float = -inf, most: float = inf) -> typer.models.OptionInfo:
    """Return an option that takes a number, with a decimal point or comma, from `least` to `most`."""

    def number(typed: object) -> float:
        return a_number(str(typed), least, most)

    option: typer.models.OptionInfo = typer.Option(*names, parser=number, help=words)
    return option


def a_number(typed: str, least: float, most: float) -> float:
    """Return the number that was typed for an option.

    Raises typer.BadParameter if it is none or out of range, and for nan where there is a range, which does not shut it out.
    """
    try:
        value = number_typed(typed)
    except ValueError as error:
        raise typer.BadParameter(f"{typed!r} is not a valid number") from error
    # guard: no NaN on the command line
    if isfinite(most) and not isfinite(value):
        raise typer.BadParameter(f"{typed} is no number")
    if value < least or value > most:
        raise typer.BadParameter(f"{value:g} is not in the range {least:g} to {most:g}")
    return value


def formats_of(text: str, known: Sequence[str] = ALL) -> frozenset[str]:
    """Read names of formats with commas between them. Raises InputError if one is unknown or none is given."""
    asked = [name.strip().lower() for name in text.split(",") if name.strip()]
    return formats_among(asked, known, "--formats", text)
