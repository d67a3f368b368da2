"""Command `model`: training models of fingers and hands."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from print3d.cli.console import (
    FAILS,
    HOLDS,
    OUTPUTS,
    REFUSED,
    AsJson,
    formats_of,
    progress_of,
    refuse_second,
    refused_case,
)
from print3d.cli.rows import row_of, summary
from print3d.errors import Print3dError
from print3d.language.catalogue import text

if TYPE_CHECKING:
    from print3d.training.build import Model

ModelCases = Annotated[
    list[Path], typer.Argument(metavar="CASE...", help="Model cases (TOML, see params/models).")
]
FORMATS = ("stl", "3mf", "step", "png", "json")


def model(
    cases: ModelCases,
    out: Annotated[Path, typer.Option(help="Files go to a folder of the case's code in here.")] = OUTPUTS,
    formats: Annotated[str, typer.Option(help="Which files, with commas between them.")] = ",".join(FORMATS),
    with_orthosis: Annotated[
        bool,
        typer.Option(
            "--with-orthosis", help="Also the orthosis that answers the pose, and proof that both fit."
        ),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Build training models: a finger or hand in a pose, on a labelled stand. Exit codes as for build."""
    from print3d.inputs.model_case import read_model_case
    from print3d.output.fileset import file_set, refuse_unwritable
    from print3d.output.training.model_files import model_writers
    from print3d.training.make import build_case

    chosen = formats_of(formats, FORMATS)
    worst, reports, first_with = HOLDS, list[dict[str, object]](), dict[str, Path]()
    for path in cases:
        try:
            with progress_of(path.name, quiet=as_json) as progress:
                case = read_model_case(path)
                refuse_second(first_with, case.header.code, path)
                refuse_unwritable(out, case.header.code)
                built = build_case(case, progress, with_orthosis=with_orthosis)
                with file_set(out, case.header.code) as folder:
                    files = model_writers(built, chosen)
                    for name, write in files.items():
                        progress(f"write {name}")
                        write(folder / name)
        except Print3dError as error:
            reports.append(refused_case(path, error))
            worst = REFUSED
            continue
        worst = max(worst, HOLDS if built.holds else FAILS)
        written = [str(out / case.header.code / name) for name in files]
        reports.append(_report(path, built, written))
        if not as_json:
            _show(path, built, written)
    if as_json:
        print(json.dumps({"models": reports}, indent=2))
    raise typer.Exit(worst)


def _show(path: Path, built: "Model", files: list[str]) -> None:
    language = built.case.header.language
    print(f"{path}: {summary(built.findings, language)}")
    for finding in sorted(built.findings, key=lambda each: each.urgency):
        sign, what, value, _, how = row_of(finding, language)
        print(f"  {sign} | {what} | {value} | {how}")
    for remark in built.remarks:
        print(f"  {text('terminal.look_twice', language, what=remark.said(language))}")
    for file in files:
        print(f"  {text('terminal.wrote', language, file=file)}")


def _report(path: Path, built: "Model", files: list[str]) -> dict[str, object]:
    from print3d.checks.finding import finding_as_data

    language = built.case.header.language
    return {
        "case": str(path),
        "code": built.case.header.code,
        "holds": built.holds,
        "remarks": [remark.said(language) for remark in built.remarks],
        "findings": [finding_as_data(finding, language) for finding in built.findings],
        "files": files,
    }
