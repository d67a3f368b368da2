"""What skin bears: pressure by hours, the pull at a finger, and how far back a DIP is held."""

from dataclasses import dataclass
from math import floor

import numpy as np

from print3d.checks.finding import Limit
from print3d.inputs.case import Case
from print3d.inputs.options import END_FORCE, JOINT_TORQUE, MOST_PULL_G
from print3d.inputs.rules import MEASURING_ERROR_DEG
from print3d.language.message import message
from print3d.mechanics.three_point import CAPILLARY_MMHG, KPA_PER_MMHG

CONTINUOUS_HOURS = 8.0
"""Worn longer than this a day, skin gets no rest between: deep injury under bony points came between 1 and 4 to 6 hours of a
lasting load (Gefen 2008, abstract); own choice."""

ALWAYS_KPA = 10.0
"""Mean over a zone that is worn for more hours a day than those: more than twice the usual capillary closing pressure; own choice."""
RESTED_KPA = 20.0
"""The same where it is worn for fewer hours; own choice."""
DESIGN_KPA = 4.9
"""50 g/cm2, the figure that hand therapists design by for continuous wear (Fess, Gettle, Philips and Janson, 3rd edition, from memory)."""
SHORT_HOURS = 1.0
"""Up to here muscle of rats lived through the next pressure (Linder-Ganz et al. 2006, J Biomech, doi 10.1016/j.jbiomech.2005.08.010,
abstract): an animal, and muscle, for want of figures of fingers. All four are from there."""
SHORT_KPA = 32.0
"""For up to an hour in one piece."""
LONG_HOURS = 2.0
"""From here on it lived through no more than the next pressure; in between less and less."""
LONG_KPA = 9.0
"""For two hours and more in one piece."""
WATCHED_SHARE = 0.5
"""Half of what muscle of an animal just lives through; own choice."""

UNMEASURED_DEG = 5.0
"""Hyperextension of a DIP of which nobody measured how far it goes: half of the 0 to 10 degrees of a clinic's protocol (Brigham
and Women's Hospital 2020); own choice."""
PASSIVE_SHARE = 1.0 / 3.0
"""Of the passive hyperextension. At half of it the skin turned pale on average (Rayan and Mullins 1987, 66 digits, abstract), so in about
half of the fingers before; a third is own choice."""
READ_TO_DEG = 1.0
"""What a finger goniometer shows: below the angle at which skin turns pale means less by at least this; own choice."""


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


@dataclass(frozen=True)
class SkinLimits:
    """What skin bears.

    pressure_kpa : as a mean over one bearing zone; more is a fault
    watch_kpa : more is to be watched
    peak_kpa : over the most pressed 25 mm2, by the hours it is pressed in one piece
    """

    pressure_kpa: Limit
    watch_kpa: Limit
    peak_kpa: Watched


def skin_limits(wear_hours: float, hours_at_once: float | None = None) -> SkinLimits:
    """Return what skin bears for some hours a day, and at once; all of them at once if left out."""
    peak = peak_limit(wear_hours if hours_at_once is None else hours_at_once)
    if wear_hours > CONTINUOUS_HOURS:
        return SkinLimits(
            Limit(ALWAYS_KPA, message("sources.worn_always", hours=wear_hours)),
            Limit(CAPILLARY_MMHG * KPA_PER_MMHG, message("sources.capillary", mmhg=CAPILLARY_MMHG)),
            peak,
        )
    return SkinLimits(
        Limit(RESTED_KPA, message("sources.worn_rests", hours=wear_hours)),
        Limit(DESIGN_KPA, message("sources.watched_rests", hours=wear_hours)),
        peak,
    )


def peak_limit(hours_at_once: float) -> Watched:
    """Return what the most pressed place bears for some hours in one piece."""
    most = float(np.interp(hours_at_once, (SHORT_HOURS, LONG_HOURS), (SHORT_KPA, LONG_KPA)))
    source = message(
        "sources.peak",
        hours=hours_at_once,
        short_kpa=SHORT_KPA,
        short_hours=SHORT_HOURS,
        long_kpa=LONG_KPA,
        long_hours=LONG_HOURS,
    )
    return Watched(Limit(most, source), most * WATCHED_SHARE)


def hours_borne(peak_kpa: float) -> float | None:
    """Return for how many hours in one piece a peak is borne, in quarters; None if for none."""
    if peak_kpa > SHORT_KPA:
        return None
    hours = float(np.interp(peak_kpa, (LONG_KPA, SHORT_KPA), (LONG_HOURS, SHORT_HOURS)))
    return floor(4.0 * hours) / 4.0


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
