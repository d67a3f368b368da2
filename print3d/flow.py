"""The whole story in five verbs: a case file becomes a shape, findings, advice and files."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from print3d.built import Built, findings_of, shape_case
from print3d.checks.finding import Finding
from print3d.design.advice import Advice
from print3d.inputs.case import Case
from print3d.inputs.case_file import read_case
from print3d.kinds.registry import KINDS
from print3d.output.files import refuse_unchecked, write_files
from print3d.output.fileset import file_set
from print3d.output.formats import FORMATS


def _silent(_: object) -> None:
    """Tell nobody."""


def read(path: Path) -> Case:
    """Read a case file. Raises InputError with every problem of the file."""
    return read_case(path, {name: kind.options for name, kind in KINDS.items()})


def shape(case: Case, progress: Callable[[str], None] = _silent) -> Built:
    """Build the orthosis; nothing is checked yet. Raises LimbError, ShapingError or InputError if it cannot be built."""
    progress("shape")
    return shape_case(case)


def check(
    built: Built,
    progress: Callable[[str], None] = _silent,
    on_finding: Callable[[Finding], None] = _silent,
) -> Built:
    """Run the checks one by one, hand on each finding as it is made, and return all with the case."""
    progress("check")
    found = []
    for finding in findings_of(built):
        found.append(finding)
        on_finding(finding)
    return replace(built, findings=tuple(found))


def advise(built: Built) -> tuple[Advice, ...]:
    """Return what to change for the worst findings that fail, each tried on a rebuilt orthosis."""
    return built.advice


def write(
    built: Built, folder: Path, formats: frozenset[str] = FORMATS, progress: Callable[[str], None] = _silent
) -> tuple[Path, ...]:
    """Write the files of a case as one set to `folder`/its code.

    Raises ExportError if that fails, or if a file says whether the checks hold and none was run.
    """
    refuse_unchecked(built, formats)
    with file_set(folder, built.case.header.code) as new_files:
        names = write_files(built, new_files, formats, progress)
    return tuple(folder / built.case.header.code / name for name in names)
