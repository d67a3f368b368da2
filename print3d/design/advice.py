"""What to change so that a failing check would hold.

One option at a time is tried on a rebuilt orthosis, never guessed.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.pressure import gentler_force_n
from print3d.checks.skin_limits import CONTINUOUS_HOURS, hours_borne
from print3d.checks.suite import CHECKS
from print3d.errors import Print3dError
from print3d.inputs.case import Case, canonical_data
from print3d.inputs.case_file import case_from_data
from print3d.inputs.materials import read_printers
from print3d.kinds.registry import KINDS
from print3d.mechanics.loads import pull_of_case

MOST_TRIES = 4
"""Rebuilt orthoses per option."""
MOST_ADVISED = 8
"""Findings, worst first, for which a change is looked for: each costs a few builds."""


@dataclass(frozen=True)
class Remedy:
    """An option that decides a finding.

    of : key of the findings that it moves
    option : dotted key below [orthosis]
    step : to which its values are rounded, negative where less of it helps
    """

    of: str
    option: str
    step: float


REMEDIES = (
    Remedy("wall.thinnest", "wall_mm", 0.1),
    Remedy("wall.asked", "wall_mm", 0.1),
    Remedy("wall.thinnest", "ring.wall_mm", 0.1),
    Remedy("wall.asked", "ring.wall_mm", 0.1),
    Remedy("rims.edge", "rim_radius_mm", 0.05),
    Remedy("rims.fold", "rim_radius_mm", 0.05),
    Remedy("flare.end", "flare.height_mm", 0.1),
    Remedy("gap.least", "clearance_mm", 0.1),
    Remedy("openings.bridge", "vents.pitch_mm", 0.1),
    Remedy("openings.bridge", "vents.edge_margin_mm", 0.5),
    Remedy("openings.bridge", "vents.slot_margin_mm", 0.5),
    Remedy("openings.narrowest", "vents.diameter_mm", 0.1),
    Remedy("openings.narrowest", "straps.slot_gap_mm", 0.1),
    Remedy("slots.height", "straps.slot_gap_mm", 0.1),
    Remedy("slots.bar", "vents.edge_margin_mm", 0.5),
    Remedy("openings.widest", "vents.diameter_mm", -0.5),
    Remedy("openings.trap", "vents.diameter_mm", -0.5),
    Remedy("openings.vents", "vents.diameter_mm", -0.5),
    Remedy("marking.stroke", "marking.letter_height_mm", 0.5),
    Remedy("marking.height", "marking.letter_height_mm", 0.5),
    Remedy("marking.depth", "marking.depth_mm", 0.05),
    Remedy("donning.sprung", "wall_mm", -0.1),
    Remedy("joints.blanching", "dip_hyperextension_deg", -1.0),
    Remedy("joints.held", "dip_hyperextension_deg", -1.0),
)
PRINTER_DECIDES = (
    "printability.room",
    "printability.layers",
    "printability.marked",
    "printability.slit",
)
"""Findings that another printer of the same process may pass."""


@dataclass(frozen=True)
class Advice:
    """One change that was tried and makes a finding hold.

    finding : the one that fails
    option : dotted key of the case file
    now, then : its value, and the one that would hold
    measured : what the check then finds, in the unit of the finding
    """

    finding: Finding
    option: str
    now: float | str
    then: float | str
    measured: float


def changes_that_hold(case: Case, findings: Sequence[Finding]) -> list[Advice]:
    """Return for the worst failing findings, where one option alone decides, what would hold."""
    failing = sorted((each for each in findings if not each.holds), key=lambda each: each.urgency)
    found = (_first_change(case, finding) for finding in failing[:MOST_ADVISED])
    return [advice for advice in found if advice is not None]


def _first_change(case: Case, finding: Finding) -> Advice | None:
    """Return a change that would make the finding hold."""
    return next(_changes(case, finding), None)


def _changes(case: Case, finding: Finding) -> Iterator[Advice]:
    """Yield changes that would make the finding hold."""
    for remedy in REMEDIES:
        now = _present(case, remedy.option)
        if remedy.of == finding.key and now is not None:
            yield from _moved(case, finding, remedy, now)
    if finding.check == "pressure":
        yield from _gentler(case, finding)
    if finding.key in PRINTER_DECIDES:
        yield from _other_printers(case, finding)


def _gentler(case: Case, finding: Finding) -> Iterator[Advice]:
    """Yield what skin bears: a gentler force, where somebody chose it, and fewer hours a day or at once."""
    pull, limit = pull_of_case(case), finding.limit
    changes: list[tuple[str, float, float]] = []
    if pull.chosen_end_n is not None and finding.measured > 0.0 and not isinstance(limit, tuple):
        force = gentler_force_n(pull.chosen_end_n, finding.measured, limit)
        changes.append(("orthosis.end_force_n", round(pull.chosen_end_n, 2), round(force, 2)))
    at_once = hours_borne(finding.measured)
    if finding.key == "pressure.peak" and at_once is not None and not case.is_protected:
        changes.append(("orthosis.wear_hours_at_once", pull.hours_at_once, at_once))
    if finding.key == "pressure.zone" and pull.wear_hours > CONTINUOUS_HOURS:
        changes.append(("orthosis.wear_hours_per_day", pull.wear_hours, CONTINUOUS_HOURS))
    for key, now, then in changes:
        again = _measured_again(case, finding, {key: then})
        if again is not None and again.holds:
            yield Advice(finding, key, now, then, float(again.measured))


def _moved(case: Case, finding: Finding, remedy: Remedy, now: float) -> Iterator[Advice]:
    """Yield the least value of an option that holds, by the secant through what was found before."""
    sign = 1.0 if remedy.step > 0 else -1.0
    tried = [(now, finding.margin)]
    missing = -finding.margin if remedy.option.endswith(f"_{finding.unit}") else 0.0
    value = _rounded(now + sign * max(1.05 * missing, abs(remedy.step)), remedy.step)
    best: Advice | None = None
    for _ in range(MOST_TRIES):
        again = _measured_again(case, finding, {f"orthosis.{remedy.option}": value})
        if again is None:
            break
        if again.holds:
            best = Advice(finding, f"orthosis.{remedy.option}", now, value, float(again.measured))
        tried.append((value, again.margin))
        value = _next(tried, remedy.step)
        if any(value == earlier for earlier, _ in tried) or (
            best is not None and abs(value - now) >= abs(float(best.then) - now)
        ):
            break
    if best is not None:
        yield best


def _next(tried: Sequence[tuple[float, float]], step: float) -> float:
    """Return where the margin would just be none, by a line through the first and the last try."""
    (first, margin_first), (last, margin_last) = tried[0], tried[-1]
    slope = (margin_last - margin_first) / (last - first)
    if slope * step <= 0.0:
        return _rounded(last + 2.0 * step, step)
    return _rounded(first - margin_first / slope, step)


def _other_printers(case: Case, finding: Finding) -> Iterator[Advice]:
    for name, printer in read_printers(case.libraries.printers).items():
        if name != case.print.printer and printer.process in case.material.processes:
            again = _measured_again(case, finding, {"print.printer": name})
            if again is not None and again.holds:
                yield Advice(finding, "print.printer", case.print.printer, name, float(again.measured))


def _measured_again(case: Case, finding: Finding, change: Mapping[str, object]) -> Finding | None:
    """Return the same finding on an orthosis built with changed options, or None where it cannot be built so."""
    data = canonical_data(case)
    for key, value in change.items():
        *tables, last = key.split(".")
        table = data
        for name in tables:
            table = table.setdefault(name, {})
        table[last] = value
    check = next(each for each in CHECKS if each.name == finding.check)
    try:
        changed = case_from_data(
            data, {name: kind.options for name, kind in KINDS.items()}, case.source, case.libraries
        )
        found = check.answer(KINDS[changed.orthosis.kind].build(changed), limits_of_case(changed))
    except Print3dError:
        return None
    return next((each for each in found if each.row == finding.row), None)


def _present(case: Case, key: str) -> float | None:
    """Return the value of a dotted option, None where the kind has none.

    The pitch of vents is found however it was asked for.
    """
    if key == "vents.pitch_mm":
        key = "vents.spacing_mm"
    value: Any = case.orthosis
    for name in key.split("."):
        value = getattr(value, name, None)
    return float(value) if isinstance(value, int | float) else None


def _rounded(value: float, step: float) -> float:
    """Round to the step, outward: up where more helps, down where less does."""
    whole = value / abs(step)
    return round(abs(step) * (ceil(whole - 1e-9) if step > 0 else floor(whole + 1e-9)), 6)
