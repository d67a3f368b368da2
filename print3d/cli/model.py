"""Command `model`: training models of fingers and hands."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from print3d.cli.case_report import show_files
from print3d.cli.console import (
    AsJson,
    Progress,
    Replacing,
    Verbose,
    formats_of,
    out_option,
    outputs_of,
    refuse_second,
)
from print3d.cli.rows import print_rows, summary
from print3d.cli.runner import MODELS, CaseOutcome, run_cases
from print3d.language.catalogue import text

if TYPE_CHECKING:
    from print3d.training.build import Model

ModelCases = Annotated[
    list[Path], typer.Argument(metavar="CASE...", help="Model cases (TOML, see params/models).")
]
FORMATS = ("stl", "3mf", "step", "png", "json")


def model(
    cases: ModelCases,
    out: Annotated[Path | None, out_option("Files go to a folder of code and visit")] = None,
    formats: Annotated[str, typer.Option(help="Which files, with commas between them.")] = ",".join(FORMATS),
    with_orthosis: Annotated[
        bool,
        typer.Option(
            "--with-orthosis", help="Also the orthosis that answers the pose, and proof that both fit."
        ),
    ] = False,
    is_replacing: Replacing = False,
    verbose: Verbose = False,
    as_json: AsJson = False,
) -> None:
    """Build training models: a finger or hand in a pose, on a labelled stand. Exit codes as for build."""
    chosen, first_with = formats_of(formats, FORMATS), dict[str, Path]()

    def one(path: Path, progress: Progress) -> CaseOutcome:
        from print3d.inputs.model_case import read_model_case
        from print3d.output.fileset import refuse_unwritable
        from print3d.output.place import for_place
        from print3d.output.training.model_files import stamp_of_model
        from print3d.training.make import build_case

        case = read_model_case(path)
        refuse_second(first_with, case.mark, path)
        place = out or outputs_of(path)
        refuse_unwritable(place, case.mark.place)
        make = partial(build_case, progress=progress, with_orthosis=with_orthosis)
        built = for_place(case, place, (make, stamp_of_model), is_replacing=is_replacing)
        return _outcome(path, built, _written(built, place, chosen, progress), verbose=verbose)

    run_cases(cases, one, MODELS, as_json=as_json)


def _written(built: "Model", out: Path, formats: frozenset[str], progress: Progress) -> list[Path]:
    """Write the files of a model as one set, and return where they are."""
    from print3d.output.fileset import file_set
    from print3d.output.place import kept_as, write_stamp
    from print3d.output.training.model_files import model_writers, stamp_of_model

    place, files, stamp = built.case.mark.place, model_writers(built, formats), stamp_of_model(built)
    with file_set(out, place, partial(kept_as, stamp, built.case.source)) as folder:
        for name, write in files.items():
            progress(f"write {name}")
            write(folder / name)
        write_stamp(folder, stamp)
    return [out / place / name for name in files]


def _outcome(path: Path, built: "Model", files: Sequence[Path], *, verbose: bool) -> CaseOutcome:
    from print3d.checks.finding import finding_as_data

    language = built.case.header.language
    data: dict[str, object] = {
        "code": built.case.header.code,
        "holds": built.holds,
        "remarks": [remark.said(language) for remark in built.remarks],
        "findings": [finding_as_data(finding, language) for finding in built.findings],
        "files": [str(file) for file in files],
    }
    return CaseOutcome(built.holds, language, data, lambda: _show(path, built, files, verbose=verbose))


def _show(path: Path, built: "Model", files: Sequence[Path], *, verbose: bool) -> None:
    language = built.case.header.language
    print(f"{path}: {summary(built.findings, language)}")
    print_rows(built.findings, language, verbose=verbose)
    for remark in built.remarks:
        print(f"  {text('terminal.look_twice', language, what=remark.said(language))}")
    show_files(files, language, verbose=verbose)
