"""Free joints: each is swept through the arc it must keep, against the orthosis.

Contact means that a segment comes deeper into the orthosis than soft tissue yields (the named squeeze).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from print3d.checks.contact import Contact, contact_at
from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.orthoses.built import FreeArc, Orthosis, finger_views

STEP_DEG = 10.0
BISECTIONS = 4
SOURCE = (
    "the joint's flexion as measured, else normal (Eaton, Electronic Textbook of Hand Surgery, range table)"
)


@dataclass(frozen=True)
class Sweep:
    """What a sweep found.

    free_to_deg : last angle without contact deeper than the squeeze
    rigid_free_to_deg : the same for a finger that does not yield
    least_gap_mm : least gap to the unyielding finger over the free part, negative where it was pressed; at the
        first angle if that is blocked already
    where : place of the first contact, or None
    """

    free_to_deg: float
    rigid_free_to_deg: float
    least_gap_mm: float
    where: tuple[float, float, float] | None


def check_motion(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that every freed joint reaches the end of its arc."""
    return [
        _finding(view.name, arc, contact_at(view, orthosis, arc.joint), limits)
        for view in finger_views(orthosis)
        for arc in view.freed
    ]


def _finding(finger: str, arc: FreeArc, contact: Contact, limits: CheckLimits) -> Finding:
    squeeze = limits.squeeze_mm
    found = sweep(contact, arc, squeeze.value)
    method = (
        f"swept in steps of {STEP_DEG:g} degrees, soft tissue yielding {squeeze.value:g} mm ({squeeze.source}); "
        f"least gap {found.least_gap_mm:.1f} mm; a rigid finger is free to {found.rigid_free_to_deg:.0f} degrees"
    )
    what = f"{finger} {arc.joint.upper()} free to flex".strip()
    return Finding(
        "motion", what, found.free_to_deg, arc.to_deg, "deg", "at least", method, SOURCE, found.where
    )


def sweep(contact: Contact, arc: FreeArc, squeeze_mm: float) -> Sweep:
    """Sweep one joint through its arc and return how far it is free."""
    free, rigid_free, least, where = arc.from_deg, None, np.inf, None
    angles = np.linspace(
        arc.from_deg, arc.to_deg, max(1, int(np.ceil((arc.to_deg - arc.from_deg) / STEP_DEG))) + 1
    )
    for angle in angles:
        touch = contact.touch(float(angle))
        if touch.gap_mm < 0.0 and rigid_free is None:
            rigid_free = _last_free(lambda a: contact.touch(a).gap_mm >= 0.0, free, float(angle))
        if touch.gap_mm < -squeeze_mm:
            free, where = (
                _last_free(lambda a: contact.touch(a).gap_mm >= -squeeze_mm, free, float(angle)),
                touch.where,
            )
            least = least if np.isfinite(least) else touch.gap_mm
            break
        free, least = float(angle), min(least, touch.gap_mm)
    return Sweep(free, free if rigid_free is None else rigid_free, least, where)


def _last_free(is_free: Callable[[float], bool], free: float, blocked: float) -> float:
    """Halve the step between a free and a blocked angle a few times; return the last free one."""
    for _ in range(BISECTIONS if blocked > free else 0):
        middle = (free + blocked) / 2
        free, blocked = (middle, blocked) if is_free(middle) else (free, middle)
    return free
