"""The whole story: a case file becomes a posed limb, an orthosis, findings and files."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.suite import run_suite
from print3d.design.advice import Advice, advise
from print3d.forms.hand_of_case import hand_measures_of_case
from print3d.forms.limb_of_case import measures_of_case
from print3d.forms.orthosis import Orthosis, part_name
from print3d.geometry.bed import fits_bed, least_box_mm
from print3d.inputs.case import Case
from print3d.inputs.case_file import read_case
from print3d.inputs.measured import FINGERS
from print3d.inputs.problems import refused
from print3d.kinds.registry import KINDS
from print3d.language.message import message
from print3d.limb.estimates import Estimate, dimension_in_words, measurement_warnings
from print3d.limb.finger import FingerLimb
from print3d.limb.hand import HandLimb
from print3d.output.files import Draft, writers
from print3d.output.fileset import file_set, refuse_unwritable
from print3d.printing.plan import PrintPlan, plan_print

Progress = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class Result:
    """One case, built and checked.

    warnings : measurements that look wrong and should be taken again
    files : what was written, empty after a check alone
    remarks : what the prescriber should look at twice
    plans : how each part is best printed
    estimates : every dimension that nobody measured, with its standard deviation and how it was found
    not_measured : the same in a line for the hand and one for each finger
    """

    case: Case
    orthosis: Orthosis
    findings: list[Finding]
    warnings: list[str]
    files: tuple[Path, ...] = ()
    estimates: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    not_measured: tuple[str, ...] = ()
    plans: tuple[PrintPlan, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether every finding is inside its limit."""
        return all(finding.holds for finding in self.findings)


def read(path: Path) -> Case:
    """Read a case file. Raises InputError with every problem of the file."""
    return read_case(path, {name: kind.options for name, kind in KINDS.items()})


def check(case: Case, progress: Progress) -> Result:
    """Build the mesh and run every check."""
    progress("shape")
    orthosis = KINDS[case.orthosis.kind].build(case)
    # guard: a bed too small
    _refuse_too_large(case, orthosis)
    progress("check")
    findings = run_suite(orthosis, limits_of_case(case))
    unmeasured = estimated(case, orthosis)
    plans = tuple(plan_print(part, case.printer, case.material) for part in orthosis.parts)
    return Result(
        case,
        orthosis,
        findings,
        _warnings(case),
        estimates=tuple(line for finger, found in unmeasured.items() for line in one_by_one(finger, found)),
        remarks=tuple(KINDS[case.orthosis.kind].remarks(case)),
        not_measured=tuple(together(finger, found) for finger, found in unmeasured.items() if found),
        plans=plans,
    )


def advice(result: Result) -> list[Advice]:
    """Return what to change for the worst findings that fail, each tried on a rebuilt orthosis; nothing if all hold."""
    return advise(result.case, result.findings)


def build(case: Case, folder: Path, formats: frozenset[str], progress: Progress) -> Result:
    """Build, check and write: the files of the case replace `folder`/`code` as one set.

    A case that cannot be built is refused before the folder is touched. Raises ExportError before anything is built if
    the folder cannot be written.
    """
    # guard: read-only: asked before the build
    refuse_unwritable(folder, case.header.code)
    result = check(case, progress)
    with file_set(folder, case.header.code) as new_files:
        names = write(result, new_files, formats, progress)
    return replace(result, files=tuple(folder / case.header.code / name for name in names))


def write(result: Result, folder: Path, formats: frozenset[str], progress: Progress) -> list[str]:
    """Write the files of a result into a folder that is there; return their names."""
    told = result.warnings, result.remarks, result.estimates
    advised = advice(result) if formats & {"json", "html", "record"} else []
    draft = Draft(result.case, result.orthosis, result.findings, *told, advised)
    names = []
    for name, write_one in writers(draft, formats).items():
        progress(f"write {name}")
        write_one(folder / name)
        names.append(name)
    return names


def estimated(case: Case, orthosis: Orthosis) -> dict[str, Mapping[str, Estimate]]:
    """Return what was not measured of the hand ("") and of every finger that the orthosis touches, by name."""
    limb = orthosis.limb
    if isinstance(limb, FingerLimb):
        return {"": measures_of_case(case).estimated()}
    if not isinstance(limb, HandLimb):
        return {name: measures_of_case(case, name).estimated() for name in limb.rays}
    hand = hand_measures_of_case(case)
    return {"": hand.estimated(), **{name: each.estimated() for name, each in hand.fingers.items()}}


def one_by_one(finger: str, found: Mapping[str, Estimate]) -> Iterator[str]:
    """Yield a line for each dimension."""
    for key, each in found.items():
        what = f"{finger} {dimension_in_words(key)}".strip()
        yield f"{what} {each.value:.1f} mm, SD {each.sd:.1f} ({each.method})"


def together(finger: str, found: Mapping[str, Estimate]) -> str:
    """Return one line, each way of estimating once: "index, mm (SD): PIP girth 66.1 (2.2), ... estimated from hand length"."""
    by_method: dict[str, list[str]] = {}
    for key, each in found.items():
        said = f"{dimension_in_words(key)} {each.value:.1f} ({each.sd:.1f})"
        by_method.setdefault(each.method, []).append(said)
    listed = "; ".join(f"{', '.join(said)} {method}" for method, said in by_method.items())
    return f"{finger}, in mm (SD): {listed}".removeprefix(", ")


def _warnings(case: Case) -> list[str]:
    fingers: dict[str, dict[str, float]] = {name: case.measured.finger_measures(name) for name in FINGERS}
    return measurement_warnings(case.measured.hand_measures(), case.measured.sex, fingers)


def _refuse_too_large(case: Case, orthosis: Orthosis) -> None:
    """Raise InputError if a part fits the printer in no position, tilted ones included."""
    for part in orthosis.parts:
        vertices = part.shell.mesh.vertices
        if not fits_bed(vertices, case.printer.bed_mm):
            sides = least_box_mm(vertices), np.sort(case.printer.bed_mm)
            asked, offered = (" x ".join(f"{side:.0f}" for side in each) for each in sides)
            wanted = message("refusals.print.too_large", part=part_name(part.name), size=asked, space=offered)
            raise refused(case.source, wanted, "print.printer", case.print.printer)
