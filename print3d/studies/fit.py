"""What is asked of an orthosis on a finger that it was not built for.

These are the suite's checks that depend on the finger:

    presses nowhere      least gap to the skin                                 (gap)
    not too loose        mean gap, flares and reliefs taken off                (of this study)
    held, stopped        angles on that finger                                 (joints, stops)
    free                 least gap while each freed joint moves                (motion)
    goes on              mouth, strain or ring girths against that finger      (donning)

Each is the check's own measurement. Only what a verdict does not need is left out: sweeps give their least gap instead of the angle at
which they end, and skip angles at which the gap cannot be less than one already found.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from print3d.checks.donning import check_donning
from print3d.checks.finding import Finding, Limit, values
from print3d.checks.joints import check_joints
from print3d.checks.limits import CheckLimits, worn_limits, worn_press_mm
from print3d.checks.motion import STEP_DEG
from print3d.checks.stops import measure_stop_deg
from print3d.forms.orthosis import FreeArc, Orthosis, Stop, part_name, ray_views
from print3d.language.message import Message, message
from print3d.limb.finger import FingerLimb
from print3d.mechanics.contact import Contact, ContactAccuracy, contact_at
from print3d.mechanics.placement import PlacedOrthosis, place_on_finger
from print3d.studies.outcome import relative_margin

ACCURACY = ContactAccuracy(turn_deg=30.0, cell_mm=2.5, node_mm=1.6)
"""A loose part follows the joint in larger steps, placed by fewer points on a coarser table; a node of 2 mm moves stops by 0.8 degrees."""
LOOSE_STEP_DEG = 30.0
"""The gap of a part that follows the joint changes slowly: it is looked at this often."""
ROW_MM = 1.3
"""Spacing of the finger's mesh in a study: facets lie within 0.025 mm of the skin, a sixth of what a tape is off."""
MUCH_MM = 3.0
"""A joint with this much room to spare is free; how much more does not matter."""


@dataclass(frozen=True)
class Fit:
    """One thing asked of a fit.

    what : the same whatever the finger
    measured, unit : as measured; margin : as a share of the limit, below 0 where it fails
    """

    what: Message
    measured: float
    unit: str
    margin: float

    @property
    def holds(self) -> bool:
        """Whether it is inside its limit."""
        return self.margin >= 0.0


def measure_fit(
    orthosis: Orthosis, built_for: FingerLimb, finger: FingerLimb, limits: CheckLimits, loosest: Limit
) -> list[Fit]:
    """Put an orthosis on a finger and measure everything asked of the fit.

    The order does not depend on the finger.
    """
    limits = worn_limits(limits)
    placed = place_on_finger(orthosis, built_for, replace(finger, row_spacing_mm=ROW_MM))
    measured = [
        *map(as_fit, check_joints(placed.orthosis, limits)),
        *_stops_and_motion(placed.orthosis, limits),
    ]
    return [*gap_and_looseness(placed, limits, loosest), *measured, *goes_on(placed.orthosis, limits)]


def as_fit(finding: Finding, what: Message | None = None) -> Fit:
    """Return what matters of a finding."""
    return Fit(what or finding.brief, float(finding.measured), finding.unit, relative_margin(finding))


def gap_and_looseness(placed: PlacedOrthosis, limits: CheckLimits, loosest: Limit) -> list[Fit]:
    """Return the least gap and the mean gap of every part."""
    fits = []
    for part, gaps in zip(placed.orthosis.parts, placed.gaps_mm, strict=True):
        looseness = float((gaps - part.planned_gap_mm).mean() + part.planned_gap_mm.min())
        name, most = part_name(part.name), worn_press_mm(part, limits)
        least = Finding("gap.least", float(gaps.min()), -most.value, "mm", "at least", most.source)
        loose = Finding("gap.mean", looseness, loosest.value, "mm", "at most", loosest.source)
        fits += [
            as_fit(least, message("studies.fit.part.presses_nowhere", part=name)),
            as_fit(loose, message("studies.fit.part.not_loose", part=name)),
        ]
    return fits


def goes_on(orthosis: Orthosis, limits: CheckLimits) -> list[Fit]:
    """Return whether each part goes on; an open shell by whichever way the check finds easiest."""
    return [as_fit(each, _goes_on(each)) for each in check_donning(orthosis, limits)]


def _goes_on(finding: Finding) -> Message:
    """The part, and of a ring which girth.

    Its size and the way on are left out, as they differ from finger to finger.
    """
    given = dict(finding.values)
    if "ring" not in given:
        return message("studies.fit.part.goes_on", part=given["part"])
    row = finding.key.split(".")[1]
    return message(f"studies.fit.part.{row}", part=given["part"], ring=given["ring"])


def _stops_and_motion(orthosis: Orthosis, limits: CheckLimits) -> list[Fit]:
    """Every stop and every free arc; a joint that has both is looked at by the same contact."""
    findings = []
    for view in ray_views(orthosis):
        contacts = cache(lambda joint, view=view: contact_at(view, orthosis, joint, ACCURACY))
        findings += [_stop(each, contacts(each.joint), limits) for each in view.stops]
        for arc in view.freed:
            is_loose = any(part.floats_across == arc.joint for part in orthosis.parts)
            step = LOOSE_STEP_DEG if is_loose else STEP_DEG
            findings.append(_free(arc, contacts(arc.joint), step, limits))
    return findings


def _stop(stop: Stop, contact: Contact, limits: CheckLimits) -> Fit:
    compression, slack = limits.stop_compression_mm, limits.stop_angle_deg
    measured = measure_stop_deg(cache(contact.touch), stop, stop.planned_deg, compression.value)
    limit = (stop.planned_deg - slack.value, stop.planned_deg + slack.value)
    asked = message("checks.stops.asked", asked_deg=stop.at_deg)
    found = Finding(f"stops.{stop.blocked}", measured, limit, "deg", "between", slack.source,
                    values=values(joint=stop.joint.alone, asked=asked))  # fmt: skip
    return as_fit(found)


def _free(arc: FreeArc, contact: Contact, step_deg: float, limits: CheckLimits) -> Fit:
    compression = limits.compression_mm
    least = least_gap_over_arc(contact, arc, step_deg)
    found = Finding("motion.least_gap", least, -compression.value, "mm", "at least", compression.source)
    return as_fit(found, message("studies.fit.free", joint=arc.joint.alone, to_deg=arc.to_deg))


def least_gap_over_arc(contact: Contact, arc: FreeArc, step_deg: float) -> float:
    """Return the least gap over an arc in even steps, `MUCH_MM` where it is never less."""
    n = max(1, int(np.ceil((arc.to_deg - arc.from_deg) / step_deg)))
    least = MUCH_MM
    for angle in np.linspace(arc.from_deg, arc.to_deg, n + 1):
        least = min(least, contact.touch(float(angle), least).gap_mm)
    return least
