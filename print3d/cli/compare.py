"""`print3d compare`: variants of a case side by side."""

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from print3d.cli.console import FAILS, HOLDS, AsJson, Cases, out_option, outputs_of
from print3d.cli.runner import stoppable
from print3d.inputs.cautions import CAUTIONS
from print3d.language.message import listed

if TYPE_CHECKING:
    from print3d.studies.compare import ComparedVariant, Comparison
    from print3d.studies.files import Files

MOST_PRINTED = 40
"""Rows of a table on the terminal; the others are in the files; own choice."""
KEPT = ".print3d-results"
"""Folder, in the output folder, of results that a stopped study goes on from."""

Scheduler = Annotated[
    str | None,
    typer.Option(help="Address of a dask.distributed scheduler (extra: cluster); else all cores here."),
]
NWorkers = Annotated[int | None, typer.Option(min=1, help="Processes on this machine; else one a core.")]


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
    out: Annotated[Path | None, out_option("Files go to a folder compare-CODE")] = None,
    workers: NWorkers = None,
    scheduler: Scheduler = None,
    as_json: AsJson = False,
) -> None:
    """Build and check variants on all cores: table, plots and a page.

    Exit 0: one passes every check, 1: none does.
    """
    from print3d.built import shape_and_check, shape_case
    from print3d.kinds.registry import KINDS
    from print3d.output.fileset import refuse_unwritable
    from print3d.output.studies.compare_files import as_data, files_of
    from print3d.studies.compare import compare as compare_variants
    from print3d.studies.run import Run
    from print3d.studies.store import Store
    from print3d.studies.variants import read_variants, read_vary
    from print3d.workers import Workers

    out = out or outputs_of(cases[0])
    kinds = {name: kind.options for name, kind in KINDS.items()}
    variants = read_variants(cases, [read_vary(each) for each in vary or []], kinds, paired=paired)
    codes = list(dict.fromkeys(each.code for each in variants))
    name = f"compare-{codes[0]}" + (f"-and-{len(codes) - 1}-more" if len(codes) > 1 else "")
    refuse_unwritable(out, name)
    with stoppable(STOPPED_STUDY):
        with progress_bar("variants", quiet=as_json) as on_result:
            run = Run(Store(out / KEPT), Workers(scheduler, workers), on_result)
            comparison = compare_variants(variants, shape_and_check, run, best_by=best_by)
        written = write(files_of(comparison, shape_case), out, name)
    if as_json:
        print(json.dumps(as_data(comparison), indent=2))
    else:
        _show(comparison)
        show_written(written)
    raise typer.Exit(HOLDS if comparison.best is not None else FAILS)


STOPPED_STUDY = "stopped; what is measured is kept, the same command goes on from there"


def write(files: "Files", out: Path, name: str) -> list[Path]:
    """Write the files of a study into a folder of the output folder, all or none.

    Return where they are.
    """
    from print3d.output.fileset import file_set
    from print3d.output.place import no_part

    with file_set(out, name, no_part) as folder:
        names = files.write(folder)
    return [out / name / each for each in names]


def show_written(paths: Sequence[Path]) -> None:
    """Print where files were written, and the cautions."""
    print("\n".join(f"  wrote {path}" for path in paths))
    print("\n".join(f"Caution: {caution}" for caution in CAUTIONS))


@contextmanager
def progress_bar(what: str, *, quiet: bool) -> Iterator[Callable[[int, int], None]]:
    """Yield a function that takes how many are done, and of how many.

    It shows a bar on a terminal.
    """
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
    from print3d.output.studies.words import figure_title

    best = comparison.best
    failed = sum(not row.outcome.holds for row in comparison.rows)
    print(
        f"{len(comparison.rows)} variants, {failed} fail or cannot be built; {comparison.n_reused} kept from an earlier run"
    )
    print(f"order: {comparison.rule()}")
    print(
        "best: none passes every check"
        if best is None
        else f"best: variant {best.number}, {best.variant.title}"
    )
    titles = [figure_title(each, "en") for each in comparison.figures]
    rows = [_row(row, comparison) for row in comparison.rows[:MOST_PRINTED]]
    head = ["", "variant", "case", "set to", *titles, "decides"]
    show_table(head, rows)
    if len(comparison.rows) > MOST_PRINTED:
        print(f"  and {len(comparison.rows) - MOST_PRINTED} more, in compare.csv")


def _row(row: "ComparedVariant", comparison: "Comparison") -> list[str]:
    from print3d.output.studies.words import figure_value

    outcome = row.outcome
    sign = "+ best" if row is comparison.best else "+ holds" if outcome.holds else "x fails"
    shown = [figure_value(each, outcome.figure(each.name), "en") for each in comparison.figures]
    deciding = outcome.failing or ([outcome.tightest[1]] if outcome.tightest else [])
    language = comparison.language
    decides = listed(outcome.refused, language) or "; ".join(each.said(language) for each in deciding)
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
