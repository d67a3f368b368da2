"""Free joints: each is swept through the arc it must keep, against the orthosis.

Contact means that a segment comes deeper into the orthosis than soft tissue yields (the named compression).
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import reduce

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import FreeArc, Orthosis, part_name, ray_views
from print3d.language.message import Message, message
from print3d.limb.joint_id import JointId
from print3d.mechanics.contact import Contact, contact_at

ORDER = 100
"""Its place among the findings."""

STEP_DEG = 10.0
"""Step in which a free joint is moved through its arc; own choice."""
BISECTIONS = 4
"""Halvings of the step in which a joint is stopped: to 0.6 degrees."""


@dataclass(frozen=True)
class MotionSweep:
    """What a sweep found.

    free_to_deg : last angle without contact deeper than the compression
    rigid_free_to_deg : the same for a finger that does not yield
    least_gap_mm : least gap to the unyielding finger over the free part, negative where it was pressed; at the
        first angle if that is blocked already
    where : place of the first contact, or None
    between_parts_mm : least gap between a loose part and the others, infinite where there are none
    """

    free_to_deg: float
    rigid_free_to_deg: float
    least_gap_mm: float
    where: tuple[float, float, float] | None
    between_parts_mm: float = np.inf


def check_motion(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that every freed joint reaches the end of its arc.

    Two parts stay clear of each other meanwhile.
    """
    findings = []
    for view in ray_views(orthosis):
        for arc in view.freed:
            found = sweep(contact_at(view, orthosis, arc.joint), arc, limits.compression_mm.value)
            findings.append(_reached(view.name_of(arc.joint), arc, found, limits))
            if np.isfinite(found.between_parts_mm):
                findings.append(_clear(orthosis, arc.joint, found, limits))
    return findings


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a joint stays free."""
    return bool(orthosis.freed)


def _reached(name: Message, arc: FreeArc, found: MotionSweep, limits: CheckLimits) -> Finding:
    compression = limits.compression_mm
    return Finding(
        "motion.free",
        found.free_to_deg,
        arc.to_deg,
        "deg",
        "at least",
        message("sources.free_flexion"),
        about(joint=arc.joint),
        values(joint=name),
        (
            message(
                "checks.motion.how.swept",
                step_deg=STEP_DEG,
                yields_mm=compression.value,
                source=compression.source,
            ),
            message("checks.motion.how.least_gap", gap_mm=found.least_gap_mm),
            *_rigid(arc, found),
        ),
        where=found.where,
    )


def _rigid(arc: FreeArc, found: MotionSweep) -> Iterator[Message]:
    """Yield where skin that does not yield would touch, if that lies inside the arc.

    At its start a stop bears.
    """
    if arc.from_deg < found.rigid_free_to_deg < found.free_to_deg:
        yield message("checks.motion.how.rigid", rigid_deg=found.rigid_free_to_deg)


def _clear(orthosis: Orthosis, joint: JointId, found: MotionSweep, limits: CheckLimits) -> Finding:
    limit = limits.between_parts_mm
    order = reduce(_then, [part_name(part.name) for part in orthosis.parts])
    return Finding(
        "motion.between",
        found.between_parts_mm,
        limit.value,
        "mm",
        "at least",
        limit.source,
        about(joint=joint),
        values(joint=joint.alone),
        (
            message("checks.motion.how.loose", step_deg=STEP_DEG),
            message("checks.motion.how.order", order=order),
        ),
        where=found.where,
    )


def _then(first: Message, second: Message) -> Message:
    return message("checks.motion.how.then", first=first, second=second)


def sweep(contact: Contact, arc: FreeArc, compression_mm: float) -> MotionSweep:
    """Sweep one joint through its arc and return how far it is free."""
    free, rigid_free, least, where = arc.from_deg, None, np.inf, None
    between = np.inf
    angles = np.linspace(
        arc.from_deg, arc.to_deg, max(1, int(np.ceil((arc.to_deg - arc.from_deg) / STEP_DEG))) + 1
    )
    before = np.inf
    for angle in angles:
        touch = contact.touch(float(angle))
        between = min(between, touch.between_parts_mm)
        if touch.gap_mm < 0.0 and rigid_free is None:
            rigid_free = _on_the_line(free, before, float(angle), touch.gap_mm)
        if touch.gap_mm < -compression_mm:
            free, where = (
                _last_free(lambda a: contact.touch(a).gap_mm >= -compression_mm, free, float(angle)),
                touch.where,
            )
            least = least if np.isfinite(least) else touch.gap_mm
            break
        free, before, least = float(angle), touch.gap_mm, min(least, touch.gap_mm)
    return MotionSweep(free, free if rigid_free is None else rigid_free, least, where, between)


def _on_the_line(free: float, gap_mm: float, touching: float, depth_mm: float) -> float:
    """Where the gap is nothing between a free and a touching angle, if it shrinks evenly.

    It is the first angle, if there is none before.
    """
    return free + (touching - free) * gap_mm / (gap_mm - depth_mm) if np.isfinite(gap_mm) else free


def _last_free(is_free: Callable[[float], bool], free: float, blocked: float) -> float:
    """Halve the step between a free and a blocked angle a few times; return the last free one."""
    for _ in range(BISECTIONS if blocked > free else 0):
        middle = (free + blocked) / 2
        free, blocked = (middle, blocked) if is_free(middle) else (free, middle)
    return free
