"""Estimates of what was not measured from what was, each with its standard deviation and named as an estimate.

Hand level: the conditional normal distribution given the measured dimensions (ANSUR II 2012). Where the sex is not given,
women's and men's estimates are mixed by how well each explains the measurements. Finger level: published proportions.
"""

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from print3d.geometry.types import Floats
from print3d.language.message import Message, in_a_row, message
from print3d.limb.finger_norms import (
    SEGMENTS,
    adult_joint_centres,
    adult_palmar_lengths_mm,
    girth_norm,
    girth_shares,
    segment_shares,
)
from print3d.limb.norms import (
    SEXES,
    Norm,
    Sex,
    adult_norm,
    is_child,
    mixture,
    norm_of,
    survey_source,
    table,
)

PALMAR_KEYS = ("web_crease_to_pip_crease_mm", "pip_crease_to_dip_crease_mm", "dip_crease_to_tip_mm")

NAMED_WEIGHT = 0.05
"""A measurement that makes less than this share of an estimate is not named in its method."""


@dataclass(frozen=True)
class Estimate:
    """One dimension, measured or estimated.

    value, sd : mm; `sd` is 0 for a measured value (the tape's own error is an input of the fit study)
    method : how it was found
    """

    value: float
    sd: float
    is_measured: bool
    method: Message
    source: str


@dataclass(frozen=True)
class FingerMeasures:
    """Everything a finger is made from.

    Girths at the web, mid proximal phalanx, PIP, mid middle phalanx, DIP and nail fold; lengths between joint centres, the
    last from DIP centre to tip; the web's station is its distance from the MCP centre. All in mm.
    """

    web_girth_mm: Estimate
    proximal_girth_mm: Estimate
    pip_girth_mm: Estimate
    middle_girth_mm: Estimate
    dip_girth_mm: Estimate
    nail_fold_girth_mm: Estimate
    proximal_mm: Estimate
    middle_mm: Estimate
    distal_mm: Estimate
    web_station_mm: Estimate

    def estimated(self) -> dict[str, Estimate]:
        """Return the dimensions that nobody measured."""
        return {name: each for name, each in vars(self).items() if not each.is_measured}


def measured(value_mm: float) -> Estimate:
    """Return a measured dimension."""
    return Estimate(value_mm, 0.0, True, message("estimates.method.measured"), "tape")


# --- hand level ---------------------------------------------------------------------------------------------


def hand_norm(given: Mapping[str, float], sex: Sex | None) -> Norm:
    """Return mean and covariance of the hand-level dimensions, given what was measured.

    given : measured numbers by case-file key; `age_years` shows a child, other keys are ignored
    sex : None: women and men are mixed, each by how likely its norm makes the measurements
    """
    norms = [norm_of(given, each) for each in (SEXES if sex is None else (sex,))]
    seen = hand_values(given)
    density = np.array([each.log_density(seen) for each in norms])
    weights = np.exp(density - density.max())
    return mixture([each.conditional(seen) for each in norms], weights / weights.sum())


def estimate_hand(given: Mapping[str, float], sex: Sex | None) -> dict[str, Estimate]:
    """Return every hand-level dimension of the survey, measured or estimated.

    given : measured numbers by case-file key; `stature_mm` and `age_years` help, other keys are ignored
    """
    norm, seen = hand_norm(given, sex), hand_values(given)
    people = message(f"estimates.people.{sex or 'both'}")
    method = message("estimates.method.mean", people=people)
    if seen:
        method = message("estimates.method.from_people", what=_listed(seen), people=people)
    source = survey_source()
    if is_child(given):
        method = message("estimates.method.scaled", method=method)
        source += f"; {table('children')['source']}"
    return {
        key: measured(seen[key]) if key in seen else Estimate(float(mean), float(sd), False, method, source)
        for key, mean, sd in zip(norm.keys, norm.mean, norm.sd, strict=True)
    }


def hand_values(given: Mapping[str, float]) -> dict[str, float]:
    """Return those of the measured numbers that the survey knows."""
    return {key: given[key] for key in adult_norm("man").keys if key in given}


# --- finger level -------------------------------------------------------------------------------------------


def estimate_finger(finger: str, given: Mapping[str, float], hand: Mapping[str, Estimate]) -> FingerMeasures:
    """Return every dimension of one finger, measured or estimated.

    given : the finger's measured girths and palmar lengths by case-file key
    hand : from `estimate_hand`
    """
    return FingerMeasures(**_girths(finger, given, hand), **_lengths(finger, given, hand))


def _girths(finger: str, given: Mapping[str, float], hand: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Every girth from all that were measured; those still open come from the wrist or the hand's length."""
    base, pip_mean, _ = _pip_from_hand(finger, hand)
    prior = girths_from_hand(finger, hand)
    seen = {key: given[key] for key in prior.keys if key in given}
    norm = prior.conditional(seen)
    gain = prior.gain(seen) if seen else np.zeros((len(prior.keys), 0))
    shares = girth_shares(finger)
    # what each measured girth, and last the hand, puts into each estimate
    parts = np.column_stack(
        [gain * [*seen.values()], pip_mean * (shares - gain @ shares[prior.places(seen)])]
    )
    names = [*seen, base]
    source = f"{table('fingers')['pip_girth']['source']}; shares between the joints from memory"
    estimates = {}
    for key, mean, sd, row in zip(norm.keys, norm.mean, norm.sd, parts, strict=True):
        used = [name for name, part in zip(names, row, strict=True) if abs(part) > NAMED_WEIGHT * mean]
        method = _from(used, hand[base] if base in used else None)
        estimate = Estimate(float(mean), float(sd), False, method, source)
        estimates[key] = measured(seen[key]) if key in seen else estimate
    return estimates


def girths_from_hand(finger: str, hand: Mapping[str, Estimate]) -> Norm:
    """Return how the six girths of a finger go together before any of them is measured."""
    _, pip_mean, pip_sd = _pip_from_hand(finger, hand)
    return girth_norm(finger, pip_mean, pip_sd)


def _pip_from_hand(finger: str, hand: Mapping[str, Estimate]) -> tuple[str, float, float]:
    """Return the hand-level key that the PIP girth is taken from, the girth and its SD.

    The key is the wrist's if that was measured.
    """
    shares = table("fingers")["pip_girth"]
    if hand["wrist_girth_mm"].is_measured:
        key, share, spread = "wrist_girth_mm", shares["share_of_wrist"], shares["spread"]["from_wrist_sd_mm"]
    else:
        key, share = "hand_length_mm", shares["share_of_hand_length"]
        spread = shares["spread"]["from_hand_length_sd_mm"]
    base, factor = hand[key], share[finger]
    return key, base.value * factor, math.hypot(base.sd * factor, spread)


def _lengths(finger: str, given: Mapping[str, float], hand: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Joint centre to joint centre, from palmar crease lengths where measured, else from hand length.

    The offsets between creases and joint centres are an adult's times the size of this finger: its palmar length,
    web crease to tip, over an adult's mean. A palmar segment that is missing is its joint-centre segment less its
    offset, which itself grows with the size; the one unknown is solved for.
    """
    is_known = np.array([key in given for key in PALMAR_KEYS])
    palmar = np.array([given.get(key, 0.0) for key in PALMAR_KEYS])
    added, from_hand, from_hand_sd = adult_joint_centres().added_to_palmar(), *_segments(finger, hand)
    divisor = adult_palmar_lengths_mm(finger).sum() + added[~is_known].sum()
    size = (palmar.sum() + from_hand[~is_known].sum()) / divisor
    size_sd = float(from_hand_sd[~is_known].sum()) / divisor
    spread = table("fingers")["centres"]
    mcp, pip, dip = (spread[f"{joint}_sd_mm"] * size for joint in ("mcp", "pip", "dip"))
    source = f"{table('fingers')['creases']['source']}; condyle radii from memory"
    lengths = {}
    for at, place_sd in enumerate((math.hypot(mcp, pip), math.hypot(pip, dip), dip)):
        if is_known[at]:
            method = message("estimates.method.creases")
            sd = math.hypot(place_sd, float(added[at]) * size_sd)
            estimate = Estimate(float(palmar[at] + added[at] * size), sd, True, method, source)
        else:
            method = _from(["hand_length_mm"], hand["hand_length_mm"])
            whence = str(table("fingers")["segments"]["source"])
            estimate = Estimate(float(from_hand[at]), float(from_hand_sd[at]), False, method, whence)
        lengths[f"{SEGMENTS[at]}_mm"] = estimate
    web = adult_joint_centres().mcp_proximal_of_web_crease_mm
    sd = math.hypot(mcp, web * size_sd)
    lengths["web_station_mm"] = Estimate(
        web * size, sd, False, message("estimates.method.finger_size"), source
    )
    return lengths


def _segments(finger: str, hand: Mapping[str, Estimate]) -> tuple[Floats, Floats]:
    """Joint-centre segment lengths (3,) from hand length, and their SD (3,)."""
    length, spread = hand["hand_length_mm"], table("fingers")["segments"]["spread"]["sd_share"]
    shares = segment_shares(finger)
    return shares * length.value, shares * math.hypot(spread * length.value, length.sd)


def _from(keys: Sequence[str], base: Estimate | None) -> Message:
    """Return that an estimate comes from dimensions.

    base : the hand-level one among them; how it was found itself is said if it was not measured
    """
    method = message("estimates.method.from", what=_listed(keys))
    if base is None or base.is_measured:
        return method
    return message("estimates.method.itself", method=method, base=base.method)


def dimension(key: str) -> Message:
    """Return what a key measures: "PIP girth" for `pip_girth_mm`."""
    place = re.fullmatch(r"forearm_girth_at_(\d+)_mm", key)
    if place is not None:
        return message("estimates.forearm_girth_at", place_mm=int(place[1]))
    return message(f"estimates.dimension.{key}")


def _listed(keys: Iterable[str]) -> Message:
    """Return "hand length, wrist girth and PIP girth"."""
    *before, last = [dimension(key) for key in keys]
    return message("estimates.and", first=in_a_row(before), last=last) if before else last


def palmar(estimate: FingerMeasures, at: int) -> tuple[Estimate, float]:
    """Return a segment between joint centres, and by how much it exceeds its palmar length."""
    centres = adult_joint_centres()
    size = estimate.web_station_mm.value / centres.mcp_proximal_of_web_crease_mm
    return getattr(estimate, f"{SEGMENTS[at]}_mm"), float(centres.added_to_palmar()[at]) * size
