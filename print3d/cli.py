"""Command line: parse, call, print. The only place that prints or exits."""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console

from print3d.errors import InputError, Print3dError
from print3d.inputs.cautions import CAUTIONS

if TYPE_CHECKING:
    from print3d.checks.finding import Finding
    from print3d.flow import Result

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Custom-fitted, checked, printable finger and forearm orthoses from tape measures and joint angles.",
)
FORMATS = ("stl", "3mf", "step", "png", "json")
HOLDS, FAILS, REFUSED = 0, 1, 2

Cases = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case files (TOML).")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for programs.")]


@app.command()
def build(
    cases: Cases,
    out: Annotated[Path, typer.Option(help="Files go to a folder of the case's code in here.")] = Path("outputs"),
    formats: Annotated[str, typer.Option(help="Which files, with commas: " + ",".join(FORMATS))] = ",".join(FORMATS),
    as_json: AsJson = False,
) -> None:
    """Build, check and write all files. Exit 0: all checks hold, 1: a check fails, 2: cannot be built."""
    from print3d import flow

    def one(path: Path, progress: Callable[[str], None]) -> "Result":
        return flow.build(flow.read(path), out, _formats(formats), progress)

    _run(cases, one, as_json=as_json)


@app.command()
def check(cases: Cases, as_json: AsJson = False) -> None:
    """Run the checks alone, writing nothing. Exit codes as for build."""
    from print3d import flow

    _run(cases, lambda path, progress: flow.check(flow.read(path), progress), as_json=as_json)


@app.command()
def schema() -> None:
    """Print the JSON Schema of a case file."""
    from print3d.inputs.schema import case_schema
    from print3d.orthoses.registry import KINDS

    print(json.dumps(case_schema({name: kind.options for name, kind in KINDS.items()}), indent=2))


def main() -> None:
    """Run the command line."""
    try:
        app()
    except Print3dError as error:
        print(error, file=sys.stderr)
        sys.exit(REFUSED)


def _formats(text: str) -> frozenset[str]:
    asked = [name.strip().lower() for name in text.split(",") if name.strip()]
    unknown = [name for name in asked if name not in FORMATS]
    if unknown or not asked:
        raise InputError(f"--formats = {text!r}: known formats are {', '.join(FORMATS)}, with commas between them")
    return frozenset(asked)


def _run(cases: list[Path], one: Callable[[Path, Callable[[str], None]], "Result"], *, as_json: bool) -> None:
    """Do `one` for each case, report each, and exit with the worst code."""
    worst, reports = HOLDS, []
    for path in cases:
        try:
            with _progress(path, quiet=as_json) as progress:
                result = one(path, progress)
        except Print3dError as error:
            print(error, file=sys.stderr)
            worst = REFUSED
            continue
        worst = max(worst, HOLDS if result.holds else FAILS)
        if as_json:
            reports.append(_report(path, result))
        else:
            _show(path, result)
    if as_json:
        print(json.dumps({"cases": reports, "cautions": CAUTIONS}, indent=2))
    elif worst < REFUSED or len(cases) > 1:
        print("\n".join(f"Caution: {caution}" for caution in CAUTIONS))
    raise typer.Exit(worst)


@contextmanager
def _progress(path: Path, *, quiet: bool) -> Iterator[Callable[[str], None]]:
    """Yield a function that shows the present step on a terminal, and nothing in a pipe."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield lambda step: None
        return
    with console.status(f"{path.name}") as status:
        yield lambda step: status.update(f"{path.name}: {step}")


def _show(path: Path, result: "Result") -> None:
    """Print the findings of one case, worst first."""
    failed = [finding for finding in result.findings if not finding.holds]
    print(f"{path}: {len(result.findings)} checks, " + (f"{len(failed)} fail" if failed else "all hold"))
    for warning in result.warnings:
        print(f"  measure again: {warning}")
    rows = [_row(finding) for finding in sorted(result.findings, key=_urgency)]
    if Console().is_terminal:
        _print_table(rows)
    else:
        for row in rows:
            print("  " + " | ".join(row))
    for file in result.files:
        print(f"  wrote {file}")


def _print_table(rows: list[tuple[str, ...]]) -> None:
    from rich.table import Table

    table = Table("", "measured on the finished mesh", "value", "limit", "how")
    for row in rows:
        table.add_row(*row, style=None if row[0].startswith("+") else "bold red")
    Console().print(table)


def _row(finding: "Finding") -> tuple[str, ...]:
    sign = "+ holds" if finding.holds else "x fails"
    if isinstance(finding.limit, tuple):
        limit = f"{finding.limit[0]:g} to {finding.limit[1]:g} {finding.unit}"
    else:
        limit = f"{finding.sense} {finding.limit:g} {finding.unit}"
    return sign, finding.what, f"{finding.measured:.2f} {finding.unit}", limit.strip(), finding.method


def _urgency(finding: "Finding") -> tuple[bool, float]:
    """Sort key: failing first, then by margin relative to the limit."""
    limit = finding.limit if not isinstance(finding.limit, tuple) else max(map(abs, finding.limit))
    return finding.holds, finding.margin / max(abs(limit), 1e-9)


def _report(path: Path, result: "Result") -> dict[str, object]:
    from print3d.exports.findings_json import finding_as_json

    return {
        "case": str(path),
        "code": result.case.case.code,
        "holds": result.holds,
        "warnings": result.warnings,
        "findings": [finding_as_json(finding) for finding in result.findings],
        "files": [str(file) for file in result.files],
    }
