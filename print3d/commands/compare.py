"""`print3d compare`: variants of a case side by side."""

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console

from print3d.commands.console import FAILS, HOLDS, OUTPUTS, STOPPED, AsJson, Cases
from print3d.inputs.cautions import CAUTIONS

if TYPE_CHECKING:
    from print3d.studies.compare import Comparison

MOST_PRINTED = 40
KEPT = ".print3d-results"
"""Folder, in the output folder, of results that a stopped study goes on from."""

Scheduler = Annotated[
    str | None,
    typer.Option(help="Address of a dask.distributed scheduler (extra: cluster); else all cores here."),
]
Workers = Annotated[int | None, typer.Option(min=1, help="Processes on this machine; else one a core.")]


def compare(
    cases: Cases,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KEY=A,B,...", help="A key of the case and its values; may be given several times."
        ),
    ] = None,
    paired: Annotated[
        bool, typer.Option("--paired", help="First values together, second together, ...; else a grid.")
    ] = False,
    best_by: Annotated[
        str, typer.Option(help="Figure that orders variants whose checks all hold.")
    ] = "margin",
    out: Annotated[Path, typer.Option(help="Files go to a folder compare-CODE in here.")] = OUTPUTS,
    workers: Workers = None,
    scheduler: Scheduler = None,
    as_json: AsJson = False,
) -> None:
    """Build and check variants on all cores: table, plots and a page. Exit 0: one passes every check, 1: none does."""
    from print3d import flow
    from print3d.exports.fileset import file_set, refuse_unwritable
    from print3d.orthoses.registry import KINDS
    from print3d.studies.compare import compare as compare_variants
    from print3d.studies.compare_files import as_data, files_of
    from print3d.studies.parallel import Crew
    from print3d.studies.run import Run
    from print3d.studies.store import Store
    from print3d.studies.variants import read_variants, read_vary

    kinds = {name: kind.options for name, kind in KINDS.items()}
    variants = read_variants(cases, [read_vary(text) for text in vary or []], kinds, paired=paired)
    codes = list(dict.fromkeys(each.code for each in variants))
    name = f"compare-{codes[0]}" + (f"-and-{len(codes) - 1}-more" if len(codes) > 1 else "")
    refuse_unwritable(out, name)
    try:
        with progress_bar("variants", quiet=as_json) as on_result:
            run = Run(Store(out / KEPT), Crew(scheduler, workers), on_result)
            comparison = compare_variants(variants, flow.check, run, best_by=best_by)
        files = files_of(comparison, lambda case: KINDS[case.orthosis.kind].build(case))
        with file_set(out, name) as folder:
            names = files.write(folder)
    except KeyboardInterrupt:
        print("stopped; what is measured is kept, the same command goes on from there", file=sys.stderr)
        raise typer.Exit(STOPPED) from None
    if as_json:
        print(json.dumps(as_data(comparison), indent=2))
    else:
        _show(comparison)
        print("\n".join(f"  wrote {out / name / each}" for each in names))
        print("\n".join(f"Caution: {caution}" for caution in CAUTIONS))
    raise typer.Exit(HOLDS if comparison.best is not None else FAILS)


@contextmanager
def progress_bar(what: str, *, quiet: bool) -> Iterator[Callable[[int, int], None]]:
    """Yield a function that is told how many are done, and of how many; it shows a bar on a terminal."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield lambda done, of: None
        return
    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)


def _show(comparison: "Comparison") -> None:
    """Print the table, best first."""
    best = comparison.best
    failed = sum(not row.outcome.holds for row in comparison.rows)
    print(
        f"{len(comparison.rows)} variants, {failed} fail or cannot be built; {comparison.n_reused} kept from an earlier run"
    )
    print(f"order: {comparison.rule}")
    print(
        "best: none passes every check"
        if best is None
        else f"best: variant {best.number}, {best.variant.title}"
    )
    figures = comparison.figures
    head = ["", "variant", "case", "set to", *(each.title for each in figures), "decides"]
    rows = [_row(row, figures, is_best=row is best) for row in comparison.rows[:MOST_PRINTED]]
    show_table(head, rows)
    if len(comparison.rows) > MOST_PRINTED:
        print(f"  and {len(comparison.rows) - MOST_PRINTED} more, in compare.csv")


def _row(row: Any, figures: Sequence[Any], *, is_best: bool) -> list[str]:
    outcome = row.outcome
    sign = "+ best" if is_best else "+ holds" if outcome.holds else "x fails"
    numbers = [outcome.figure(each.name) for each in figures]
    shown = [
        "" if value is None else f"{value:.{each.decimals}f}"
        for value, each in zip(numbers, figures, strict=True)
    ]
    decides = (
        outcome.message or "; ".join(outcome.failing) or (outcome.tightest[1] if outcome.tightest else "")
    )
    return [sign, str(row.number), row.variant.code, row.variant.title, *shown, decides]


def show_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table on a terminal, lines in a pipe; rows whose first cell begins with x stand out."""
    if Console().is_terminal:
        from rich.table import Table

        table = Table(*head)
        for row in rows:
            table.add_row(*row, style="bold red" if row[0].startswith("x") else None)
        Console().print(table)
        return
    for row in [head, *rows]:
        print("  " + " | ".join(row))
