"""`print3d build`: build, check and write."""

from pathlib import Path
from typing import TYPE_CHECKING

from print3d.cli.console import Progress

if TYPE_CHECKING:
    from print3d.built import Built
    from print3d.inputs.case import Case


def build_case(
    case: "Case", out: Path, formats: frozenset[str], progress: Progress
) -> "tuple[Built, tuple[Path, ...]]":
    """Build, check and write a case; return it with its files. Raises ExportError before that if the folder cannot be written."""
    from print3d import flow
    from print3d.output.fileset import refuse_unwritable

    # guard: read-only: asked before the build
    refuse_unwritable(out, case.header.code)
    built = flow.check(flow.shape(case, progress), progress)
    return built, flow.write(built, out, formats, progress)
