"""Two parts on one finger: a loose ring never runs into the part beside it, at any angle of the free arc."""

import numpy as np

from print3d.checks.contact import Touch, contact_at
from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.orthoses.built import FreeArc, Orthosis, finger_views

STEP_DEG = 10.0


def check_pair(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that loose and carried parts stay clear of each other. Parts are put on in the order of `parts`."""
    if len(orthosis.parts) < 2:
        return []
    order = ", then ".join(part.name for part in orthosis.parts)
    joints = {part.floats_across for part in orthosis.parts}
    findings = []
    for view in finger_views(orthosis):
        for arc in (arc for arc in view.freed if arc.joint in joints):
            contact = contact_at(view, orthosis, arc.joint)
            tightest = min((contact.touch(angle) for angle in _angles(arc)), key=_between)
            findings.append(
                Finding("pair", f"parts beside each other, {arc.joint.upper()} through its free arc: least gap",
                        _between(tightest), limits.between_parts_mm.value, "mm", "at least",
                        f"swept in steps of {STEP_DEG:g} degrees, the loose part placed where it is pressed least; "
                        f"put on in this order: {order}", limits.between_parts_mm.source, tightest.where)
            )  # fmt: skip
    return findings


def _between(touch: Touch) -> float:
    return touch.between_parts_mm


def _angles(arc: FreeArc) -> list[float]:
    n = max(1, int(np.ceil(abs(arc.to_deg - arc.from_deg) / STEP_DEG))) + 1
    return [float(angle) for angle in np.linspace(arc.from_deg, arc.to_deg, n)]
