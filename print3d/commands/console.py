"""What all commands share: exit codes, common options, and progress on a terminal."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

HOLDS, FAILS, REFUSED = 0, 1, 2
STOPPED = 130
"""What a shell reports of a program that was stopped by Ctrl-C."""

Progress = Callable[[str], None]
Cases = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case files (TOML).")]
OUTPUTS = Path("outputs")
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
