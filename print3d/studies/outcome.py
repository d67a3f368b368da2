"""What became of one variant: its findings and figures, kept, sent and tabulated.

Figures of merit are measured on the finished mesh: mass from its volume, gap, pressure and angle loss from its findings.
"""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from print3d.built import Built
from print3d.checks.finding import Finding, finding_as_data, finding_from
from print3d.errors import Print3dError, Sayable
from print3d.inputs.case import Case
from print3d.inputs.problems import sayable_from, without_file
from print3d.studies.store import Kept

LEAST_SCALE = {"mm": 0.1, "deg": 1.0}
"""A margin is a share of its limit; limits nearer to zero than this count as this large (others: 1 of their unit); own choice."""
OF_THE_CASE = "sources.of_case"
"""Source of a limit that only repeats what was asked: such a finding says whether the mesh is true, not how good the design is."""


SAYS_NO_BETTER = frozenset({"slots", "measures"})
"""Checks whose margin tells no design from another: a slot is made as large as its strap, and the measures are the person's."""


Check = Callable[[Case], Built]
"""Builds and checks a case: `built.shape_and_check`."""


@dataclass(frozen=True)
class Outcome:
    """What became of a variant.

    findings : empty where it could not be built
    refused : why it could not be built
    mass_g : of all parts; cpu_s : processor time of building and checking
    """

    findings: tuple[Finding, ...] = ()
    refused: tuple[Sayable, ...] = ()
    mass_g: float | None = None
    cpu_s: float = 0.0

    @property
    def holds(self) -> bool:
        """Whether it was built and every finding is inside its limit."""
        return not self.refused and all(each.holds for each in self.findings)

    @property
    def failing(self) -> list[Finding]:
        """What is outside its limit."""
        return [each for each in self.findings if not each.holds]

    @property
    def tightest(self) -> tuple[float, Finding] | None:
        """The worst relative margin and what has it, over all findings that can be more or less inside their limit.

        Counts and sweeps that end just on their limit are left out while they hold, and so is what only compares the mesh with
        the case.
        """
        margins = [(relative_margin(each), each) for each in self.findings if tells_good_from_better(each)]
        return min(margins, key=lambda pair: pair[0], default=None)

    def figure(self, name: str) -> float | None:
        """Return one figure of merit by its name in `FIGURES`, or None where there is no such finding."""
        if name == "margin":
            return None if self.tightest is None else self.tightest[0]
        if name in ("mass_g", "cpu_s"):
            found: float | None = getattr(self, name) if not self.refused else None
            return found
        key, pick = MEASURED[name]
        values = [float(each.measured) for each in self.findings if each.key == key]
        return pick(values) if values else None

    def as_data(self) -> Kept:
        """Return plain data for a file."""
        return {
            **vars(self),
            "findings": [finding_as_data(each) for each in self.findings],
            "refused": [each.as_data() for each in self.refused],
        }


Pick = Callable[[list[float]], float]
MEASURED: Mapping[str, tuple[str, Pick]] = {
    "gap_mm": ("gap.least", min),
    "pressure_kpa": ("pressure.zone", max),
    "angle_loss_deg": ("stiffness.lost", max),
}
"""Figure -> key of its findings, and which one counts where there are several."""


@dataclass(frozen=True)
class OutcomeColumn:
    """A column of the table.

    name : as asked for by --best-by, and its words in the catalogue under `studies.figure`
    decimals : as shown
    larger_is_better : which way is good; None where neither is
    scale : what it is shown times
    """

    name: str
    decimals: int
    larger_is_better: bool | None = field(default=None)
    scale: float = 1.0


FIGURES = (
    OutcomeColumn("margin", 0, True, scale=100.0),
    OutcomeColumn("mass_g", 2, False),
    OutcomeColumn("gap_mm", 2, True),
    OutcomeColumn("pressure_kpa", 1, False),
    OutcomeColumn("angle_loss_deg", 2, False),
    OutcomeColumn("cpu_s", 2, False),
)


def measure(check: Check, case: Case) -> Outcome:
    """Build and check one case; what cannot be built is an outcome too."""
    start = time.process_time()
    try:
        built = check(case)
    except Print3dError as error:
        return Outcome(refused=without_file(error), cpu_s=time.process_time() - start)
    volume_cm3 = sum(mesh.volume_mm3() for mesh in built.meshes.values()) / 1000.0
    return Outcome(
        tuple(built.findings),
        mass_g=volume_cm3 * case.material.density_g_per_cm3.value,
        cpu_s=time.process_time() - start,
    )


def outcome_from(data: Kept) -> Outcome:
    """Return the outcome that `as_data` made plain."""
    return Outcome(
        tuple(map(finding_from, data["findings"])),
        tuple(map(sayable_from, data["refused"])),
        data["mass_g"],
        data["cpu_s"],
    )


def relative_margin(finding: Finding) -> float:
    """Return the margin as a share of the limit, of a range as a share of half of its width."""
    limit = finding.limit
    size = (limit[1] - limit[0]) / 2.0 if isinstance(limit, tuple) else abs(limit)
    return float(finding.margin / max(size, LEAST_SCALE.get(finding.unit, 1.0)))


def tells_good_from_better(finding: Finding) -> bool:
    """Whether a finding's margin says how good a design is.

    Others say only that it is as asked or reaches its limit.
    """
    if not finding.holds:
        return True
    is_as_asked = finding.source.key == OF_THE_CASE or finding.check in SAYS_NO_BETTER
    return finding.margin != 0.0 and not is_as_asked
