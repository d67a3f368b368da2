"""What skin bears: the mean pressure by hours a day, the pull at a finger, and how far a DIP is bent back before its skin turns pale."""

from dataclasses import dataclass

from print3d.checks.finding import Limit
from print3d.inputs.case import Case
from print3d.inputs.options import END_FORCE, JOINT_TORQUE, MOST_PULL_G
from print3d.inputs.rules import MEASURING_ERROR_DEG
from print3d.language.message import message
from print3d.mechanics.three_point import CAPILLARY_MMHG, KPA_PER_MMHG

CONTINUOUS_HOURS = 8.0
"""Worn longer than this a day, skin gets no rest between: deep injury under bony points came between 1 and 4 to 6 hours of a
lasting load (Gefen 2008, abstract); own choice."""

UNMEASURED_DEG = 5.0
"""Hyperextension of a DIP of which nobody measured how far it goes: half of the 0 to 10 degrees of a clinic's protocol (Brigham
and Women's Hospital 2020); own choice."""
PASSIVE_SHARE = 1.0 / 3.0
"""Of the passive hyperextension. At half of it the skin turned pale on average (Rayan and Mullins 1987, 66 digits, abstract), so in about
half of the fingers before; a third is own choice."""
READ_TO_DEG = 1.0
"""What a finger goniometer shows: below the angle at which skin turns pale means less by at least this; own choice."""


@dataclass(frozen=True)
class SkinLimits:
    """What skin bears as a mean over one bearing zone.

    pressure_kpa : more is a fault
    watch_kpa : more is to be watched
    """

    pressure_kpa: Limit
    watch_kpa: Limit


@dataclass(frozen=True)
class Watched:
    """A limit, and where within it something is to be watched."""

    limit: Limit
    watch: float


@dataclass(frozen=True)
class Lifting:
    """A limit, and whether the prescriber lifted it: more is watched then."""

    limit: Limit
    is_lifted: bool


def skin_limits(wear_hours: float) -> SkinLimits:
    """Return what skin bears for some hours a day."""
    if wear_hours > CONTINUOUS_HOURS:
        return SkinLimits(
            Limit(10.0, message("sources.worn_always", hours=wear_hours)),
            Limit(CAPILLARY_MMHG * KPA_PER_MMHG, message("sources.capillary", mmhg=CAPILLARY_MMHG)),
        )
    return SkinLimits(
        Limit(20.0, message("sources.worn_rests", hours=wear_hours)),
        Limit(10.0, message("sources.watched_rests", hours=wear_hours)),
    )


def pull_limit(case: Case) -> Lifting:
    """Return the most grams that may rest at the far end of a finger."""
    is_lifted = any(case.allows(each) for each in (END_FORCE, JOINT_TORQUE))
    return Lifting(Limit(MOST_PULL_G, message("sources.pull")), is_lifted)


def hyperextension_limit(case: Case) -> Watched:
    """Return how far back a DIP may be held.

    Where its skin was seen to turn pale, less than that; else by the passive range; else little. The goniometer's error counts
    against all that it measured.
    """
    finger = case.header.finger
    blanch = case.measured.motion_deg(finger, "dip_blanch_hyperextension_deg")
    passive = case.measured.motion_deg(finger, "dip_passive_hyperextension_deg")
    if blanch is not None:
        source = message("sources.blanch_seen", blanch_deg=blanch)
        return Watched(Limit(blanch - READ_TO_DEG, source), max(0.0, blanch - MEASURING_ERROR_DEG))
    if passive is not None:
        source = message("sources.blanch_share", passive_deg=passive)
        return Watched(
            Limit(PASSIVE_SHARE * passive, source),
            PASSIVE_SHARE * max(0.0, passive - MEASURING_ERROR_DEG),
        )
    return Watched(Limit(UNMEASURED_DEG, message("sources.blanch_unmeasured")), 0.0)
