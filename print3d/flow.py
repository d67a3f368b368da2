"""The whole story in five verbs: a case file becomes a shape, findings, advice and files."""

from collections.abc import Callable, Collection
from dataclasses import replace
from pathlib import Path

from print3d.built import Built, findings_of, shape_case
from print3d.checks.finding import Finding
from print3d.design.advice import Advice
from print3d.inputs.case import Case
from print3d.inputs.case_file import read_case
from print3d.inputs.libraries import Libraries
from print3d.kinds.registry import KINDS
from print3d.output.files import write_set
from print3d.output.formats import FORMATS, formats_among

Step = Callable[[str], None]  # hears which step begins


def read(path: Path | str, libraries: Path | str | None = None) -> Case:
    """Read a case file; its own materials, printers, protocols and guidance lie in `libraries`, else beside the file's folder.

    Raises InputError with every problem of the file.
    """
    own = None if libraries is None else Libraries.of_folder(Path(libraries))
    return read_case(Path(path), {name: kind.options for name, kind in KINDS.items()}, own)


def shape(case: Case, progress: Step = lambda _: None) -> Built:
    """Build the orthosis; nothing is checked yet. Raises LimbError, ShapingError or InputError if it cannot be built."""
    progress("shape")
    return shape_case(case)


def check(
    built: Built, progress: Step = lambda _: None, on_finding: Callable[[Finding], None] = lambda _: None
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
    built: Built, folder: Path | str, formats: Collection[str] = FORMATS, progress: Step = lambda _: None
) -> tuple[Path, ...]:
    """Write the files of a case as one set to `folder`/its code, and return where they are.

    Raises ExportError if that fails, or if a file says whether the checks hold and none was run.
    """
    return write_set(built, Path(folder), formats_among(formats), progress)
