"""`print3d sheet`: blank paper for measuring."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from print3d.cli.console import HOLDS, OUTPUTS
from print3d.errors import InputError
from print3d.inputs.problems import unknown_name
from print3d.language.catalogue import LANGUAGES
from print3d.language.message import message

PAPERS = ("a4", "letter")


def sheet(
    kind: Annotated[
        str | None,
        typer.Argument(metavar="[KIND]", help="Kind of orthosis to measure for; all if none is named."),
    ] = None,
    out: Annotated[Path, typer.Option(help="Sheets go to a folder in here.")] = OUTPUTS,
    language: Annotated[str, typer.Option(help=f"One of {', '.join(LANGUAGES)}.")] = "en",
    paper: Annotated[str, typer.Option(help=f"One of {', '.join(PAPERS)}.")] = "a4",
) -> None:
    """Write blank measuring forms with drawings, girth strips and ring gauges as PDF, to print at 100 %."""
    from print3d.output.fileset import file_set
    from print3d.output.place import no_part

    name = "measuring" if kind is None else f"measuring_{kind}"
    writers = _writers(kind, language, paper)
    with file_set(out, name, no_part) as folder:
        for file, write in writers.items():
            write(folder / file)
    for file in writers:
        print(f"wrote {out / name / file}")
    raise typer.Exit(HOLDS)


def _writers(kind: str | None, language: str, paper: str) -> dict[str, Callable[[Path], None]]:
    """File name -> writer. Raises InputError if kind, language or paper is unknown."""
    from print3d.kinds.registry import KINDS
    from print3d.output.paper.measuring_sheet import write_measuring_form
    from print3d.output.paper.paper import Size
    from print3d.output.paper.tape_sheets import write_girth_strips, write_ring_gauges

    if kind is not None and kind not in KINDS:
        raise InputError(unknown_name("KIND", kind, message("refusals.no_such.kind"), KINDS))
    if language not in LANGUAGES:
        raise InputError(
            unknown_name("--language", language, message("refusals.no_such.language"), LANGUAGES)
        )
    if paper not in PAPERS:
        raise InputError(unknown_name("--paper", paper, message("refusals.no_such.paper"), PAPERS))
    size: Size = "letter" if paper == "letter" else "a4"
    kinds = list(KINDS) if kind is None else [kind]
    forms = {
        f"measuring_form_{each}.pdf": partial(write_measuring_form, kind=each, language=language, size=size)
        for each in kinds
    }
    return {
        **forms,
        "girth_strips.pdf": partial(write_girth_strips, language=language, size=size),
        "ring_gauges.pdf": partial(write_ring_gauges, language=language, size=size),
    }
