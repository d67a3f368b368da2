"""Command line: parse, call, print. With `commands/` the only place that prints or exits."""

import io
import json
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from print3d.cli.build import build_case
from print3d.cli.class_set import class_set
from print3d.cli.compare import compare
from print3d.cli.console import (
    FAILS,
    HOLDS,
    OUTPUTS,
    REFUSED,
    STOPPED,
    AsJson,
    Cases,
    Progress,
    complain,
    formats_of,
    language_of_call,
    progress_of,
    refuse_second,
    refused_case,
)
from print3d.cli.installation import missing_library
from print3d.cli.model import model
from print3d.cli.remake import remake
from print3d.cli.rows import change_line, heads, plan_line, row_of, summary
from print3d.cli.schema import schema
from print3d.cli.sensitivity import sensitivity
from print3d.cli.series import series
from print3d.cli.sheet import sheet
from print3d.cli.suggest import suggest
from print3d.errors import Print3dError
from print3d.inputs.cautions import heat_caution
from print3d.language.catalogue import Language, lines, text
from print3d.output.formats import ALL

if TYPE_CHECKING:
    from print3d.built import Built
    from print3d.checks.finding import Finding

Made = tuple["Built", Sequence[Path]]

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # help without boxes, so that it reads well in a pipe too
    help="Custom-fitted, checked, printable finger and forearm orthoses from tape measures and joint angles.",
)


def _print_version(asked: bool) -> None:
    if asked:
        from print3d import __version__

        print(f"print3d {__version__}")
        raise typer.Exit(HOLDS)


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", is_eager=True, callback=_print_version, help="Print the version.")
    ] = False,
) -> None:
    pass


app.command()(suggest)
app.command()(series)
app.command()(compare)
app.command()(sensitivity)


@app.command()
def build(
    cases: Cases,
    out: Annotated[Path, typer.Option(help="Files go to a folder of the case's code in here.")] = OUTPUTS,
    formats: Annotated[str, typer.Option(help="Which files, with commas between them.")] = ",".join(ALL),
    as_json: AsJson = False,
) -> None:
    """Build, check and write all files. Exit 0: all checks hold, 1: a check fails, 2: cannot be built."""
    chosen = formats_of(formats)
    first_with: dict[str, Path] = {}

    def one(path: Path, progress: Progress) -> Made:
        from print3d import flow

        case = flow.read(path)
        # guard: two cases of one code
        refuse_second(first_with, case.header.code, path)
        return build_case(case, out, chosen, progress)

    _run(cases, one, as_json=as_json)


@app.command()
def check(cases: Cases, as_json: AsJson = False) -> None:
    """Run the checks alone, writing nothing. Exit codes as for build."""

    def one(path: Path, progress: Progress) -> Made:
        from print3d import flow

        return flow.check(flow.shape(flow.read(path), progress), progress), ()

    _run(cases, one, as_json=as_json)


app.command()(schema)
app.command()(remake)
app.command()(sheet)
app.command()(model)
app.command()(class_set)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line; it ends the process with the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # guard: a pipe in an old code page
            stream.reconfigure(errors="replace")  # a pipe in an old code page must not stop a build
    try:
        app(args=arguments)
    # guard: a refusal is no traceback
    except Print3dError as error:
        complain(error.said(language_of_call(sys.argv[1:] if arguments is None else arguments)))
        sys.exit(REFUSED)
    except ImportError as error:
        # guard: library: missing
        message = missing_library(error)
        if message is None:
            raise
        complain(message)
        sys.exit(REFUSED)


def _run(cases: list[Path], one: Callable[[Path, Progress], Made], *, as_json: bool) -> None:
    """Do `one` for each case, report each, and exit with the worst code."""
    worst, reports = HOLDS, list[dict[str, object]]()
    languages = dict[Language, None]()  # of the cases, in their order
    for path in cases:
        try:
            with progress_of(path.name, quiet=as_json) as progress:
                result, files = one(path, progress)
        # guard: a refusal of one case
        except Print3dError as error:
            worst = REFUSED
            reports.append(refused_case(path, error))
            continue
        except KeyboardInterrupt:
            complain(f"{path}: stopped; no file of this case was changed")
            raise typer.Exit(STOPPED) from None
        worst = max(worst, HOLDS if result.holds else FAILS)
        languages[result.case.header.language] = None
        reports.append(_report(path, result, files))
        if not as_json:
            _show(path, result, files)
    if as_json:
        print(json.dumps({"cases": reports, "cautions": _cautions(languages or ["en"])}, indent=2))
    else:
        for language in languages:
            head = text("cautions.head", language)
            print("\n".join(f"{head}: {caution}" for caution in _cautions([language])))
    raise typer.Exit(worst)


def _cautions(languages: Iterable[Language]) -> list[str]:
    return [caution for language in languages for caution in lines("cautions.all", language)]


def _show(path: Path, result: "Built", files: Sequence[Path]) -> None:
    """Print the findings of one case, worst first."""
    from print3d.output.estimates import together

    language = result.case.header.language
    print(f"{path}: {summary(result.findings, language)}")
    for topic, said in (
        ("measure_again", result.warnings),
        ("look_twice", result.remarks),
        ("not_measured", together(result.estimates)),
    ):
        for what in said:
            _say(f"terminal.{topic}", language, what=what)
    if result.case.override is not None:
        limits, reason = ", ".join(result.case.override.allow), result.case.override.reason
        _say("terminal.override", language, limits=limits, reason=reason)
    _print_rows(sorted(result.findings, key=lambda each: each.urgency), language)
    for advice in result.advice:
        print(f"  {change_line(advice, language)}")
    for plan in result.plans:
        _say("terminal.print", language, plan=plan_line(plan, result.case.print.price_per_kg, language))
    _say("terminal.heat", language, caution=_heat(result, language))
    for file in files:
        _say("terminal.wrote", language, file=file)


def _say(key: str, language: Language, **values: object) -> None:
    print(f"  {text(key, language, **values)}")


def _heat(result: "Built", language: Language) -> str:
    return heat_caution(result.case.material, result.case.material_name, language)


STYLES = {"fails": "bold red", "watch": "bold yellow"}


def _print_rows(findings: "list[Finding]", language: Language) -> None:
    """Print a table on a terminal, a line for each finding in a pipe."""
    rows = {finding.row: row_of(finding, language) for finding in findings}
    if not Console().is_terminal:
        for row in rows.values():
            print("  " + " | ".join(row))
        return
    from rich.table import Table

    table = Table(*heads(language))
    for finding in findings:
        table.add_row(*rows[finding.row], style=STYLES.get(finding.verdict))
    Console().print(table)


def _report(path: Path, result: "Built", files: Sequence[Path]) -> dict[str, object]:
    from print3d.checks.finding import finding_as_data
    from print3d.output.estimates import one_by_one
    from print3d.output.findings_json import advice_as_data

    language = result.case.header.language
    return {
        "case": str(path),
        "code": result.case.header.code,
        "holds": result.holds,
        "watched": sum(finding.is_watched for finding in result.findings),
        "warnings": list(result.warnings),
        "remarks": list(result.remarks),
        "estimates": one_by_one(result.estimates),
        "override": None if result.case.override is None else result.case.override.model_dump(mode="json"),
        "findings": [finding_as_data(finding, language) for finding in result.findings],
        "advice": advice_as_data(result),
        "print": [plan.as_data(result.case.print.price_per_kg) for plan in result.plans],
        "heat": _heat(result, language),
        "files": [str(file) for file in files],
    }
