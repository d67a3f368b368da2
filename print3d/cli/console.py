"""What all commands share: exit codes, common options, and progress on a terminal."""

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from math import isfinite
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from print3d.errors import Print3dError
from print3d.inputs.problems import printable, refused
from print3d.inputs.toml_file import read_toml
from print3d.language.catalogue import LANGUAGES, Language
from print3d.language.message import message
from print3d.output.formats import ALL, formats_among

HOLDS = 0
"""Exit code: all checks hold."""
FAILS = 1
"""Exit code: built, but a check fails."""
# guard: exit 2
REFUSED = 2
"""Exit code: it cannot be built."""
STOPPED = 130
"""What a shell reports of a program that was stopped by Ctrl-C."""


Progress = Callable[[str], None]
Cases = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case files (TOML).")]
OUTPUTS = Path("outputs")
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
    """Return the language that a case file asks for.

    English where it cannot be read, or asks for none that is known.
    """
    try:
        header = read_toml(path).get("case")
    except Print3dError:
        return "en"
    asked = header.get("language") if isinstance(header, Mapping) else None
    return asked if asked in LANGUAGES else "en"


def language_of_call(arguments: Sequence[str]) -> Language:
    """Return the language of the first case file among the arguments of a call, else English."""
    case = next((Path(each) for each in arguments if each.endswith(".toml")), None)
    return "en" if case is None else language_of(case)


def refuse_second(first_with: dict[str, Path], code: str, path: Path) -> None:
    """Raise InputError if an earlier case of this call has the same output folder; else remember this one."""
    folder = code.casefold()  # some file systems do not tell upper case from lower
    if folder in first_with:
        wanted = message("refusals.cli.same_code", other=str(first_with[folder]))
        raise refused(path, wanted, "case.code", code)
    first_with[folder] = path


def a_number(value: float | None) -> float | None:
    """Return the value of an option as it is. Raises typer.BadParameter for nan, which no range of numbers shuts out."""
    # guard: no NaN on the command line
    if value is not None and not isfinite(value):
        raise typer.BadParameter(f"{value} is no number")
    return value


def formats_of(text: str, known: Sequence[str] = ALL) -> frozenset[str]:
    """Read names of formats with commas between them. Raises InputError if one is unknown or none is given."""
    asked = [name.strip().lower() for name in text.split(",") if name.strip()]
    return formats_among(asked, known, "--formats", text)
