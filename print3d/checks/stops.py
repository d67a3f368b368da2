"""Blocked joints: the angle at which the orthosis really stops one, found by turning the finger against the mesh.

The skin under the bearing places is pressed in by the named compression when the joint stands still.
"""

from collections.abc import Callable, Iterator
from functools import cache

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.checks.passive_range import End, KeptAngle
from print3d.forms.orthosis import Orthosis, RayView, Stop, ray_views
from print3d.language.message import Message, message
from print3d.mechanics.contact import Contact, Touch, contact_at

ORDER = 90
"""Its place among the findings."""

STEP_DEG = 5.0
"""Step in which a stop is looked for; own choice."""
SEARCH_DEG = 60.0
"""A joint that goes this far beyond the angle that the orthosis is built on counts as not stopped, and reads as this far off."""
LEAST_YIELD_MM = 0.2
"""What firm skin over bone yields under a stop: from memory, as the usual 0.3 is, so a finding gives the stop for a range."""
MOST_YIELD_MM = 0.6
"""What soft or swollen skin yields, from memory."""
MOST_ROUNDS = 6
"""The gap is nearly proportional to the angle (some 0.05 mm a degree): a straight line finds the stop in two or three steps."""
SETTLED_MM = 0.005
"""A stop is found where the gap is off by no more than this: 0.1 degrees."""


def check_stops(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the angle of every stop."""
    return [
        finding
        for view in ray_views(orthosis)
        for stop in view.stops
        for finding in _of_stop(view, stop, contact_at(view, orthosis, stop.joint), limits)
    ]


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a joint is blocked one way."""
    return bool(orthosis.stops)


def _of_stop(view: RayView, stop: Stop, contact: Contact, limits: CheckLimits) -> Iterator[Finding]:
    compression, slack = limits.stop_compression_mm, limits.stop_angle_deg
    touch = cache(contact.touch)
    built_at = view.chain.joints[stop.joint].angle_deg
    rigid = measure_stop_deg(touch, stop, built_at, 0.0)
    measured = measure_stop_deg(touch, stop, built_at, compression.value)
    softer = [measure_stop_deg(touch, stop, built_at, each) for each in (LEAST_YIELD_MM, MOST_YIELD_MM)]
    where = touch(measured).where
    yield Finding(
        f"stops.{stop.blocked}",
        measured,
        (stop.planned_deg - slack.value, stop.planned_deg + slack.value),
        "deg",
        "between",
        slack.source,
        about(joint=stop.joint),
        values(joint=view.name_of(stop.joint), asked=_asked(stop), low_deg=min(softer), high_deg=max(softer)),
        (
            message("checks.stops.how.turned", yields_mm=compression.value, source=compression.source),
            message(
                "checks.stops.how.range",
                low_deg=min(softer),
                high_deg=max(softer),
                least_mm=LEAST_YIELD_MM,
                most_mm=MOST_YIELD_MM,
            ),
            message("checks.stops.how.rigid", rigid_deg=rigid),
        ),
        where=where,
    )
    said = values(joint=view.name_of(stop.joint))
    end: End = "most" if stop.blocked == "extension" else "least"
    yield from limits.passive.findings(KeptAngle("stops.passive", stop.joint, measured, (end,), said, where))


def _asked(stop: Stop) -> Message:
    if not stop.let_through_deg:
        return message("checks.stops.asked", asked_deg=stop.at_deg)
    return message("checks.stops.asked_through", asked_deg=stop.at_deg, through_deg=stop.let_through_deg)


def measure_stop_deg(
    touch: Callable[[float], Touch], stop: Stop, start_deg: float, compression_mm: float
) -> float:
    """Return the flexion (deg) at which the finger is pressed in by the compression, looked for from `start_deg` on."""
    blocked = -1.0 if stop.blocked == "extension" else 1.0

    def room(beyond: float) -> float:
        return touch(start_deg + blocked * beyond).gap_mm + compression_mm

    before, room_before = 0.0, room(0.0)
    way = 1.0 if room_before > 0.0 else -1.0
    for beyond in way * np.arange(STEP_DEG, SEARCH_DEG + 1e-9, STEP_DEG):
        room_beyond = room(float(beyond))
        if way * room_beyond <= 0.0:
            break
        before, room_before = float(beyond), room_beyond
    else:
        return start_deg + blocked * before
    bracket = [(before, room_before), (float(beyond), room_beyond)]
    for _ in range(MOST_ROUNDS):
        (low, room_low), (high, room_high) = bracket
        middle = low + (high - low) * room_low / (room_low - room_high)
        room_middle = room(middle)
        if abs(room_middle) < SETTLED_MM:
            break
        bracket[int(room_middle * room_high > 0.0)] = (middle, room_middle)
    return float(start_deg + blocked * middle)
