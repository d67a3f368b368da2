"""`print3d series`: from today's measured angle to the goal in steps, every orthosis built and checked."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from print3d.cli.compare import NWorkers, progress_bar
from print3d.cli.console import (
    FAILS,
    HOLDS,
    REFUSED,
    AsJson,
    formats_of,
    number_option,
    out_option,
    outputs_of,
)
from print3d.cli.runner import stoppable
from print3d.errors import InputError
from print3d.inputs.problems import Problem
from print3d.language.message import message
from print3d.output.formats import ALL

if TYPE_CHECKING:
    from print3d.studies.series import StepOutcome
    from print3d.studies.series_plan import SeriesPlan

PART = "series"


def series(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML) with today's measured angle.")],
    goal: Annotated[float | None, number_option("PIP flexion of the last orthosis, degrees; else straight.")] = None,
    step: Annotated[float | None, number_option("Largest step between two orthoses, degrees; else as usual.")] = None,
    margin: Annotated[float, number_option("Stay so many degrees short of what the joint gives.")] = 0.0,
    remeasured: Annotated[str | None, typer.Option(help="What was measured again: pip_flexion_deg=30,pip_girth_mm=66.")] = None,
    worn: Annotated[float | None, number_option("With --remeasured: angle of the orthosis worn until now; else the case's.")] = None,
    plan_only: Annotated[bool, typer.Option("--plan-only", help="Show the angles, build nothing.")] = False,
    out: Annotated[Path | None, out_option("Files go to series in the folder of code and visit")] = None,
    formats: Annotated[str, typer.Option(help="Which files of each step, with commas between them.")] = ",".join(ALL),
    is_replacing: Annotated[bool, typer.Option("--replace", help="Plan anew where another plan stands; numbers go on.")] = False,
    workers: NWorkers = None,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """Plan, build and check a series on all cores.

    Exit 0: all checks hold, 1: a check fails, 2: a step cannot be built.
    """
    from print3d.kinds.registry import KINDS
    from print3d.output.studies.numbering import first_number
    from print3d.output.studies.plan_sheet import plan_data, plan_text
    from print3d.studies.series import StepOutcome
    from print3d.studies.series_plan import Request, read_plan, read_remeasured

    chosen = formats_of(formats)
    if worn is not None and remeasured is None:
        raise InputError(Problem("--worn", worn, message("refusals.cli.worn")))
    out = out or outputs_of(case)
    again = None if remeasured is None else read_remeasured(remeasured)
    kinds = {name: kind.options for name, kind in KINDS.items()}
    goes_on = plan_only or is_replacing or again is not None
    plan = read_plan(case, kinds, Request(goal, step, margin, worn, again))
    place = out / plan.case.mark.place / PART
    plan = plan.numbered_from(first_number(place, plan, goes_on=goes_on))
    outcomes = [StepOutcome() for _ in plan.steps]
    if not plan_only:
        _build(plan, outcomes, (out, chosen, workers), quiet=as_json)
    if as_json:
        print(json.dumps(plan_data(plan, outcomes), indent=2, ensure_ascii=False))
    else:
        print("\n".join(plan_text(plan, outcomes)))
        if not plan_only:
            print("\n".join(f"  wrote {place / each}" for each in _places(plan, outcomes)))
    for outcome in outcomes:
        print(outcome.trace, end="", file=sys.stderr)
    raise typer.Exit(HOLDS if plan_only else _exit_code(outcomes))


def _build(
    plan: "SeriesPlan",
    outcomes: "list[StepOutcome]",
    where: tuple[Path, frozenset[str], int | None],
    *,
    quiet: bool,
) -> None:
    """Build all steps and write them with their plan as one set; fill in the outcomes."""
    from print3d.built import shape_and_check
    from print3d.output.files import write_files
    from print3d.output.fileset import part_of_file_set, refuse_unwritable
    from print3d.output.studies.numbering import keep_earlier
    from print3d.output.studies.plan_sheet import write_plan
    from print3d.studies.series import build_series

    (out, formats, workers), home, total = where, plan.case.mark.place, len(outcomes)
    refuse_unwritable(out / home, PART)
    with (
        stoppable(f"{plan.case.source}: stopped; no file of this series was changed"),
        progress_bar("steps", quiet=quiet) as on_result,
        part_of_file_set(out, home, PART) as folder,
    ):
        on_result(0, total)
        built = build_series(plan, folder, formats, (shape_and_check, write_files), workers)
        for done, (place, outcome) in enumerate(built, 1):
            outcomes[place] = outcome
            on_result(done, total)
        write_plan(folder, plan, outcomes)
        keep_earlier(out / home / PART, folder, plan)


def _places(plan: "SeriesPlan", outcomes: "list[StepOutcome]") -> list[str]:
    from print3d.output.studies.plan_sheet import NAMES
    from print3d.studies.series import folder_of, rows_of

    return [*NAMES, *(folder_of(step) for step, outcome in rows_of(plan, outcomes) if outcome.is_built)]


def _exit_code(outcomes: "list[StepOutcome]") -> int:
    if not all(each.is_built for each in outcomes):
        return REFUSED
    return FAILS if any(each.failing for each in outcomes) else HOLDS
