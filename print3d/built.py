"""One case, built: what every writer, study and page takes.

Everything is modelled on the right hand; what leaves here (meshes, places in findings, print plans) is of the asked hand.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.suite import run_suite
from print3d.design.advice import Advice, changes_that_hold
from print3d.forms.orthosis import Orthosis, part_name
from print3d.forms.straps import WornStrap, strapping_of, straps_of
from print3d.geometry.bed import fits_bed, least_box_mm
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import Side, mirror_for_side, points_for_side
from print3d.geometry.nearest import at
from print3d.inputs.case import Case
from print3d.inputs.problems import refused
from print3d.kinds.registry import KINDS
from print3d.language.message import Message, message
from print3d.limb.estimates import Estimate
from print3d.limb.fellows import measurement_warnings
from print3d.limb.skin_marks import Sort, skin_marks
from print3d.mechanics.loads import spells_of
from print3d.printing.plan import PrintPlan, plan_print

Estimates = Mapping[str, Mapping[str, Estimate]]
"""Of the hand ("") and of every finger that the orthosis touches, by name: each dimension that nobody measured, by its key."""


@dataclass(frozen=True, eq=False)
class Built:
    """One case with its orthosis, and with findings once it was checked.

    modelled : the orthosis on its limb, of the right hand whichever is asked for
    findings : what was measured, places in the limb frame of the asked hand; empty before a check
    warnings : measurements that look wrong and should be taken again
    remarks : what the prescriber should look at twice
    estimates : every dimension that nobody measured

    What costs time is worked out when it is first asked for, and kept here.
    """

    case: Case
    modelled: Orthosis
    findings: tuple[Finding, ...] = ()
    warnings: tuple[Message, ...] = ()
    remarks: tuple[Message, ...] = ()
    estimates: Estimates = field(default_factory=dict)

    @property
    def side(self) -> Side:
        """The asked hand."""
        return self.case.header.side

    @property
    def is_checked(self) -> bool:
        """Whether it was checked; every orthosis has findings then."""
        return bool(self.findings)

    @property
    def holds(self) -> bool:
        """Whether it was checked and every finding is inside its limit."""
        return self.is_checked and not self.failing

    @property
    def failing(self) -> tuple[Finding, ...]:
        """The findings that do not hold."""
        return tuple(finding for finding in self.findings if not finding.holds)

    @property
    def watched(self) -> tuple[Finding, ...]:
        """The findings that hold but are to be watched."""
        return tuple(finding for finding in self.findings if finding.is_watched)

    @cached_property
    def meshes(self) -> dict[str, Mesh]:
        """The parts by name, of the asked hand."""
        return {part.name: mirror_for_side(part.shell.mesh, self.side) for part in self.modelled.parts}

    @cached_property
    def skin(self) -> Mesh:
        """The skin of the posed limb, of the asked hand."""
        return mirror_for_side(self.modelled.limb.skin_mesh(), self.side)

    @cached_property
    def straps(self) -> tuple[WornStrap, ...]:
        """The straps as they are worn, of the asked hand."""
        modelled = straps_of(self.modelled, strapping_of(self.case.orthosis.straps))
        return tuple(replace(each, body=mirror_for_side(each.body, self.side)) for each in modelled)

    @cached_property
    def skin_marks(self) -> tuple[tuple[Sort, Mesh], ...]:
        """Nails and creases on the skin, of the asked hand."""
        marks = skin_marks(self.modelled.limb)
        return tuple((mark.sort, mirror_for_side(mark.mesh, self.side)) for mark in marks)

    @cached_property
    def plans(self) -> tuple[PrintPlan, ...]:
        """How each part of the asked hand is best printed."""
        printer, material = self.case.printer, self.case.material
        return tuple(plan_print(part, printer, material).for_side(self.side) for part in self.modelled.parts)

    @cached_property
    def advice(self) -> tuple[Advice, ...]:
        """What to change for the worst findings that fail, each tried on a rebuilt orthosis; nothing if all hold."""
        return tuple(changes_that_hold(self.case, self.findings))


def shape_case(case: Case) -> Built:
    """Build the orthosis of a case.

    Raises InputError if a part fits the printer in no position, and what its kind raises.
    """
    kind = KINDS[case.orthosis.kind]
    modelled = kind.build(case)
    # guard: a bed too small
    _refuse_too_large(case, modelled)
    return Built(
        case,
        modelled,
        warnings=tuple(measurement_warnings(case.measured, case.confirmed)),
        remarks=(*kind.remarks(case), *spells_of(case)),
        estimates=modelled.limb.measures.estimated(),
    )


def findings_of(built: Built) -> Iterator[Finding]:
    """Run the checks one by one and yield each finding, its place in the frame of the asked hand."""
    for finding in run_suite(built.modelled, limits_of_case(built.case)):
        yield _for_side(finding, built.side)


def shape_and_check(case: Case) -> Built:
    """Build the orthosis of a case and check it."""
    built = shape_case(case)
    return replace(built, findings=tuple(findings_of(built)))


def _for_side(finding: Finding, side: Side) -> Finding:
    if finding.where is None or side == "right":
        return finding
    return replace(finding, where=at(points_for_side(np.array(finding.where), side) + 0.0))


def _refuse_too_large(case: Case, modelled: Orthosis) -> None:
    """Raise InputError if a part fits the printer in no position, tilted ones included."""
    for part in modelled.parts:
        vertices = part.shell.mesh.vertices
        if not fits_bed(vertices, case.printer.bed_mm):
            sides = least_box_mm(vertices), np.sort(case.printer.bed_mm)
            asked, offered = (" x ".join(f"{side:.0f}" for side in each) for each in sides)
            wanted = message("refusals.print.too_large", part=part_name(part.name), size=asked, space=offered)
            raise refused(case.source, wanted, "print.printer", case.print.printer)
