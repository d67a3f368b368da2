"""`print3d sensitivity`: how surely a case fits when its measurements are a little off."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from print3d.cli.compare import (
    KEPT,
    STOPPED_STUDY,
    NWorkers,
    Scheduler,
    progress_bar,
    show_table,
    show_written,
    write,
)
from print3d.cli.console import FAILS, HOLDS, AsJson, number_option, out_option, outputs_of
from print3d.cli.runner import stoppable
from print3d.errors import InputError
from print3d.inputs.problems import Problem
from print3d.language.message import message

if TYPE_CHECKING:
    from print3d.studies.sensitivity import Sensitivity


def _mm(words: str, *names: str, least: float = 0.0, most: float = 10.0) -> typer.models.OptionInfo:
    """An option that takes a length."""
    return number_option(words, *names, least=least, most=most)


TapeSd = Annotated[float, _mm("SD of a girth by tape.")]
LengthSd = Annotated[float, _mm("SD of a length between creases.")]
SwellingSd = Annotated[float, _mm("SD of the PIP girth's change between measuring and wearing.")]
PrintSd = Annotated[
    float | None, _mm("SD of a printed size; else half of the printer's tolerance.", most=5.0)
]
Loosest = Annotated[
    float | None, _mm("Mean gap from which it is too loose; else 1 mm.", "--loosest", least=0.1)
]
Clearances = Annotated[
    str | None,
    typer.Option(help="Clearances to try, mm, with commas between them; else some around the asked one; none: no."),
]  # fmt: skip
Draws = Annotated[int, typer.Option(min=16, max=1_000_000, help="Persons drawn.")]
ScanDraws = Annotated[int, typer.Option(min=16, max=1_000_000, help="Persons drawn for each clearance.")]


def sensitivity(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    draws: Draws = 512,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same draws.")] = 1,
    tape_sd_mm: TapeSd = 1.0,
    length_sd_mm: LengthSd = 1.0,
    swelling_sd_mm: SwellingSd = 1.25,
    print_sd_mm: PrintSd = None,
    loosest_mm: Loosest = None,
    clearances: Clearances = None,
    scan_draws: ScanDraws = 128,
    out: Annotated[Path | None, out_option("Files go to a folder sensitivity-CODE")] = None,
    workers: NWorkers = None,
    scheduler: Scheduler = None,
    as_json: AsJson = False,
) -> None:
    """Put the orthosis on many fingers that its measurements allow.

    Exit 0: it fits 9 in 10 of them, 1: fewer.
    """
    from print3d import flow
    from print3d.checks.limits import loosest_of
    from print3d.limb.uncertainty import spreads_of_case
    from print3d.output.fileset import refuse_unwritable
    from print3d.output.studies.sensitivity_files import as_data, files_of
    from print3d.studies.run import Run
    from print3d.studies.sensitivity import SURE, StudyPlan, most_clearance_mm, study, usual_clearances_mm
    from print3d.studies.store import Store
    from print3d.workers import Workers

    out = out or outputs_of(case)
    read = flow.read(case)
    asked = read.orthosis.clearance_mm
    spreads = spreads_of_case(
        read, tape_mm=tape_sd_mm, length_mm=length_sd_mm, swelling_mm=swelling_sd_mm, print_mm=print_sd_mm
    )
    usual = usual_clearances_mm(asked, most_clearance_mm(read))
    tried = usual if clearances is None else _read_clearances(clearances)
    plan = StudyPlan(spreads, loosest_of(asked, loosest_mm), draws, scan_draws, seed, tried)
    name = f"sensitivity-{read.header.code}"
    refuse_unwritable(out, name)
    with stoppable(STOPPED_STUDY):
        with progress_bar("fingers", quiet=as_json) as on_result:
            result = study(read, plan, Run(Store(out / KEPT), Workers(scheduler, workers), on_result))
        written = write(files_of(result), out, name)
    if as_json:
        print(json.dumps(as_data(result), indent=2))
    else:
        _show(result)
        show_written(written)
    raise typer.Exit(HOLDS if result.fit.share >= SURE else FAILS)


def _show(result: "Sensitivity") -> None:
    """Print the verdict, and how sure each thing asked of the fit is."""
    from print3d.output.studies.sensitivity_files import verdict
    from print3d.studies.sensitivity import SURE

    print("\n".join(verdict(result, result.language)))
    rows = [
        [
            "+" if each.share >= SURE else "x",
            what.said(result.language),
            f"{each.share:.1%}",
            f"{each.low:.1%} to {each.high:.1%}",
        ]
        for what, each in zip(result.measured.names, result.each, strict=True)
    ]
    show_table(["", "asked of the fit", "holds in", "95 % interval"], rows)


def _read_clearances(text: str) -> tuple[float, ...]:
    if text.strip() == "none":
        return ()
    try:
        return tuple(sorted({float(each) for each in text.split(",")}))
    except ValueError as error:
        raise InputError(Problem("--clearances", text, message("refusals.cli.clearances"))) from error
