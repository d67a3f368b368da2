"""`print3d remake`: the part of a record once more, and whether it is the same."""

from pathlib import Path
from typing import Annotated

import typer

from print3d.cli.console import FAILS, HOLDS, outputs_of, progress_of


def remake(
    record: Annotated[Path, typer.Argument(metavar="RECORD", help="The record.json of an earlier build.")],
    out: Annotated[
        Path | None,
        typer.Option(help="Files go to a folder of the part's mark in here; else outputs/remade."),
    ] = None,
) -> None:
    """Build the part of a record again. Of another shape it is not written: it would carry the same letters.

    Exit 0: every part has the same shape, 1: one differs, 2: cannot be built.
    """
    from print3d import flow
    from print3d.kinds.registry import KINDS
    from print3d.output.files import write_set
    from print3d.output.fileset import refuse_unwritable
    from print3d.output.record.record import case_of_record, differing_parts, read_record, stamp_of

    data, place = read_record(record), out or outputs_of(record) / "remade"
    case = case_of_record(data, {name: kind.options for name, kind in KINDS.items()}, record)
    refuse_unwritable(place, case.mark.folder)
    with progress_of(record.name, quiet=False) as progress:
        shaped = flow.shape(case, progress)
        differing, files = differing_parts(data, stamp_of(shaped)), tuple[Path, ...]()
        if not differing:
            built = flow.check(shaped, progress)
            files = write_set(built, place, frozenset({"stl", "3mf", "record"}), progress, case.mark.folder)
    for name in data["parts"]:
        print(f"{name}: {'x differs from' if name in differing else '+ same as'} the record")
    for file in files:
        print(f"  wrote {file}")
    raise typer.Exit(FAILS if differing else HOLDS)
