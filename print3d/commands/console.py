"""What all commands share: exit codes, common options, and progress on a terminal."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from print3d.errors import InputError

HOLDS, FAILS, REFUSED = 0, 1, 2
STOPPED = 130
"""What a shell reports of a program that was stopped by Ctrl-C."""

SIGNS = {"fails": "x fails", "watch": "! watch", "holds": "+ holds"}
"""Sign and word of each verdict: told by shape and word, not by colour alone."""

Progress = Callable[[str], None]
Cases = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case files (TOML).")]
OUTPUTS = Path("outputs")
FORMATS = ("stl", "3mf", "step", "png", "json", "html", "pattern", "sheets", "record")
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for programs.")]


@contextmanager
def progress_of(title: str, *, quiet: bool) -> Iterator[Progress]:
    """Yield a function that shows the present step on a terminal, and nothing in a pipe."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield lambda step: None
        return
    with console.status(title) as status:
        yield lambda step: status.update(f"{title}: {step}")


def formats_of(text: str) -> frozenset[str]:
    """Read names of formats with commas between them. Raises InputError if one is unknown or none is given."""
    asked = [name.strip().lower() for name in text.split(",") if name.strip()]
    if not asked or any(name not in FORMATS for name in asked):
        raise InputError(f"--formats = {text!r}: accepted are {', '.join(FORMATS)}, with commas between them")
    return frozenset(asked)
