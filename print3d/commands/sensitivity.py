"""`print3d sensitivity`: how surely a case fits when its measurements are a little off."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from print3d.commands.compare import KEPT, Scheduler, Workers, progress_bar, show_table
from print3d.commands.console import FAILS, HOLDS, OUTPUTS, STOPPED, AsJson, a_number
from print3d.errors import InputError
from print3d.inputs.cautions import CAUTIONS

SURE = 0.9
"""An orthosis that fits in fewer draws is worth another measurement; own choice."""


def sensitivity(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    draws: Annotated[int, typer.Option(min=16, max=1_000_000, help="Persons drawn.")] = 512,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same draws.")] = 1,
    tape_sd_mm: Annotated[
        float, typer.Option(min=0.0, max=10.0, callback=a_number, help="SD of a girth by tape.")
    ] = 1.0,
    length_sd_mm: Annotated[
        float, typer.Option(min=0.0, max=10.0, callback=a_number, help="SD of a length between creases.")
    ] = 1.0,
    swelling_sd_mm: Annotated[
        float,
        typer.Option(
            min=0.0,
            max=10.0,
            callback=a_number,
            help="SD of the PIP girth's change between measuring and wearing.",
        ),
    ] = 1.25,
    print_sd_mm: Annotated[
        float | None,
        typer.Option(
            min=0.0,
            max=5.0,
            callback=a_number,
            help="SD of a printed size; else half of the printer's tolerance.",
        ),
    ] = None,
    loosest_mm: Annotated[
        float | None,
        typer.Option(
            "--loosest",
            min=0.1,
            max=10.0,
            callback=a_number,
            help="Mean gap from which it is too loose; else 1 mm.",
        ),
    ] = None,
    clearances: Annotated[
        str | None,
        typer.Option(
            help="Clearances to try, mm, with commas between them; else some around the asked one; none: no."
        ),
    ] = None,
    scan_draws: Annotated[
        int, typer.Option(min=16, max=1_000_000, help="Persons drawn for each clearance.")
    ] = 128,
    out: Annotated[Path, typer.Option(help="Files go to a folder sensitivity-CODE in here.")] = OUTPUTS,
    workers: Workers = None,
    scheduler: Scheduler = None,
    as_json: AsJson = False,
) -> None:
    """Put the orthosis on many fingers that its measurements allow. Exit 0: it fits 9 in 10 of them, 1: fewer."""
    from print3d import flow
    from print3d.exports.fileset import file_set, refuse_unwritable
    from print3d.studies.fit import loosest_of
    from print3d.studies.parallel import Crew
    from print3d.studies.run import Run
    from print3d.studies.sensitivity import Plan, most_clearance_mm, study, usual_clearances_mm
    from print3d.studies.sensitivity_files import as_data, files_of, verdict
    from print3d.studies.store import Store
    from print3d.studies.uncertainty import spreads_of_case

    read = flow.read(case)
    asked = read.orthosis.clearance_mm
    spreads = spreads_of_case(
        read, tape_mm=tape_sd_mm, length_mm=length_sd_mm, swelling_mm=swelling_sd_mm, print_mm=print_sd_mm
    )
    tried = (
        usual_clearances_mm(asked, most_clearance_mm(read))
        if clearances is None
        else _read_clearances(clearances)
    )
    plan = Plan(spreads, loosest_of(asked, loosest_mm), draws, scan_draws, seed, tried)
    name = f"sensitivity-{read.case.code}"
    refuse_unwritable(out, name)
    try:
        with progress_bar("fingers", quiet=as_json) as on_result:
            result = study(read, plan, Run(Store(out / KEPT), Crew(scheduler, workers), on_result))
        files = files_of(result)
        with file_set(out, name) as folder:
            names = files.write(folder)
    except KeyboardInterrupt:
        print("stopped; what is measured is kept, the same command goes on from there", file=sys.stderr)
        raise typer.Exit(STOPPED) from None
    if as_json:
        print(json.dumps(as_data(result), indent=2))
    else:
        print("\n".join(verdict(result)))
        rows = [
            [
                "+" if each.share >= SURE else "x",
                what,
                f"{each.share:.1%}",
                f"{each.low:.1%} to {each.high:.1%}",
            ]
            for what, each in zip(result.measured.names, result.each, strict=True)
        ]
        show_table(["", "asked of the fit", "holds in", "95 % interval"], rows)
        print("\n".join(f"  wrote {out / name / each}" for each in names))
        print("\n".join(f"Caution: {caution}" for caution in CAUTIONS))
    raise typer.Exit(HOLDS if result.fit.share >= SURE else FAILS)


def _read_clearances(text: str) -> tuple[float, ...]:
    if text.strip() == "none":
        return ()
    try:
        return tuple(sorted({float(each) for each in text.split(",")}))
    except ValueError as error:
        raise InputError(
            f"--clearances {text!r}: write mm with commas between them, such as 0.2,0.4,0.6, or none"
        ) from error
