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
from print3d.checks.finding import Finding, finding_as_json
from print3d.checks.joints import check_joints
from print3d.checks.limits import CheckLimits, Limit
from print3d.checks.motion import STEP_DEG
from print3d.checks.stops import measure_stop_deg
from print3d.forms.orthosis import FingerView, FreeArc, Orthosis, Stop, finger_views
from print3d.limb.finger import FingerLimb
from print3d.mechanics.contact import Contact, ContactAccuracy, contact_at
from print3d.studies.outcome import relative_margin
from print3d.studies.placement import PlacedOrthosis, place_on_finger

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

    what : in words; the same whatever the finger
    measured, unit : as measured; margin : as a share of the limit, below 0 where it fails
    """

    what: str
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
    placed = place_on_finger(orthosis, built_for, replace(finger, row_spacing_mm=ROW_MM))
    measured = [
        *gap_and_looseness(placed, limits, loosest),
        *check_joints(placed.orthosis, limits),
        *_stops_and_motion(placed.orthosis, limits),
    ]
    return [*(as_fit(each) for each in measured), *goes_on(placed.orthosis, limits)]


def as_fit(finding: Finding, what: str | None = None) -> Fit:
    """Return what matters of a finding."""
    return Fit(
        what or finding.what, float(finding.measured), finding.unit, relative_margin(finding_as_json(finding))
    )


def gap_and_looseness(placed: PlacedOrthosis, limits: CheckLimits, loosest: Limit) -> list[Finding]:
    """Return the least gap and the mean gap of every part."""
    findings = []
    for part, gaps in zip(placed.orthosis.parts, placed.gaps_mm, strict=True):
        looseness = float((gaps - part.planned_gap_mm).mean() + part.planned_gap_mm.min())
        method = f"signed distance of {len(gaps)} points of the skin side, the part settled as its plan says"
        findings += [
            Finding("gap", f"{part.name}: presses nowhere, least gap to the skin", float(gaps.min()),
                    -limits.penetration_mm.value, "mm", "at least", method, limits.penetration_mm.source),
            Finding("ease", f"{part.name}: not too loose, mean gap without flares and reliefs", looseness, loosest.value, "mm",
                    "at most", method, loosest.source),
        ]  # fmt: skip
    return findings


def goes_on(orthosis: Orthosis, limits: CheckLimits) -> list[Fit]:
    """Return whether each part goes on; an open shell by whichever way the check finds easiest."""
    return [as_fit(each, _way_left_out(each.what)) for each in check_donning(orthosis, limits)]


def _way_left_out(what: str) -> str:
    """The part, and of a ring which girth.

    Its size and the way on are left out, as they differ from finger to finger.
    """
    part, _, measure = what.partition(": ")
    if measure.startswith(("inner girth, ", "narrowest inner width")):
        return f"{part}: goes on, {measure.partition(',')[0]}"
    return f"{part}: goes on"


def _stops_and_motion(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Every stop and every free arc; a joint that has both is looked at by the same contact."""
    findings = []
    for view in finger_views(orthosis):
        contacts = cache(lambda joint, view=view: contact_at(view, orthosis, joint, ACCURACY))
        findings += [_stop(view, each, contacts(each.joint), limits) for each in view.stops]
        for arc in view.freed:
            is_loose = any(part.floats_across == arc.joint for part in orthosis.parts)
            step = LOOSE_STEP_DEG if is_loose else STEP_DEG
            findings.append(_free(arc, contacts(arc.joint), step, limits))
    return findings


def _stop(view: FingerView, stop: Stop, contact: Contact, limits: CheckLimits) -> Finding:
    squeeze, slack = limits.stop_squeeze_mm, limits.stop_angle_deg
    measured = measure_stop_deg(cache(contact.touch), stop, stop.planned_deg, squeeze.value)
    limit = (stop.planned_deg - slack.value, stop.planned_deg + slack.value)
    what = f"{stop.joint.upper()} {stop.blocked} stopped, angle of flexion (asked {stop.at_deg:g})"
    return Finding(
        "stops", what, measured, limit, "deg", "between", f"skin yielding {squeeze.value:g} mm", slack.source
    )


def _free(arc: FreeArc, contact: Contact, step_deg: float, limits: CheckLimits) -> Finding:
    squeeze = limits.squeeze_mm
    method = f"least gap over the arc in steps of {step_deg:g} degrees, {MUCH_MM:g} where it is more"
    what = f"{arc.joint.upper()} free to flex to {arc.to_deg:g}, least gap"
    least = least_gap_over_arc(contact, arc, step_deg)
    return Finding("motion", what, least, -squeeze.value, "mm", "at least", method, squeeze.source)


def least_gap_over_arc(contact: Contact, arc: FreeArc, step_deg: float) -> float:
    """Return the least gap over an arc in even steps, `MUCH_MM` where it is never less."""
    n = max(1, int(np.ceil((arc.to_deg - arc.from_deg) / step_deg)))
    least = MUCH_MM
    for angle in np.linspace(arc.from_deg, arc.to_deg, n + 1):
        least = min(least, contact.touch(float(angle), least).gap_mm)
    return least


def loosest_of(clearance_mm: float, asked_mm: float | None) -> Limit:
    """Return how loose an orthosis may be.

    As asked, else a millimetre, or half a millimetre more than a wide clearance.
    """
    if asked_mm is not None:
        return Limit(asked_mm, "--loosest")
    return Limit(
        max(1.0, clearance_mm + 0.5),
        "own choice: 1 mm of gap is 6 mm of girth, more than two ring sizes; over dressings half a mm more than the clearance",
    )
