"""`print3d build`: build, check and write."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from print3d.cli.case_report import outcome_of
from print3d.cli.console import (
    AsJson,
    Cases,
    Progress,
    Replacing,
    Verbose,
    formats_of,
    out_option,
    outputs_of,
    refuse_second,
)
from print3d.cli.runner import ORTHOSES, CaseOutcome, run_cases
from print3d.output.formats import ALL

if TYPE_CHECKING:
    from print3d.built import Built
    from print3d.inputs.case import Case


def build(
    cases: Cases,
    out: Annotated[Path | None, out_option("Files go to a folder of code and visit")] = None,
    formats: Annotated[str, typer.Option(help="Which files, with commas between them.")] = ",".join(ALL),
    is_replacing: Replacing = False,
    verbose: Verbose = False,
    as_json: AsJson = False,
) -> None:
    """Build, check and write all files. Exit 0: all checks hold, 1: a check fails, 2: cannot be built."""
    chosen, first_with = formats_of(formats), dict[str, Path]()

    def one(path: Path, progress: Progress) -> CaseOutcome:
        from print3d import flow

        case = flow.read(path)
        # guard: two cases of one code
        refuse_second(first_with, case.mark, path)
        place = out or outputs_of(path)
        done = build_case(case, place, chosen, progress, is_replacing=is_replacing)
        return outcome_of(path, *done, verbose=verbose)

    run_cases(cases, one, ORTHOSES, as_json=as_json)


def build_case(
    case: "Case", out: Path, formats: frozenset[str], progress: Progress, *, is_replacing: bool
) -> "tuple[Built, tuple[Path, ...]]":
    """Build, check and write a case; return it with its files.

    Raises ExportError before anything is built if the folder cannot be written, and InputError before anything is checked
    if a part of another shape stands there.
    """
    from print3d import flow
    from print3d.output.fileset import refuse_unwritable
    from print3d.output.place import shape_for_place

    # guard: read-only: asked before the build
    refuse_unwritable(out, case.mark.place)
    shaped = shape_for_place(case, out, lambda each: flow.shape(each, progress), is_replacing=is_replacing)
    built = flow.check(shaped, progress)
    return built, flow.write(built, out, formats, progress)
