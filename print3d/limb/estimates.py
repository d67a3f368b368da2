"""Estimates of what was not measured from what was, each with its standard deviation and named as an estimate.

Hand level: the conditional normal distribution given the measured dimensions (ANSUR II 2012). Where the sex is not told,
women's and men's estimates are mixed by how well each explains the measurements. Finger level: published ratios.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from print3d.limb.norms import Norm, Sex, adult_norm, is_unusual, table

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Estimate:
    """One dimension, measured or estimated.

    value, sd : mm; `sd` is 0 for a measured value (the tape's own error is an input of the fit study)
    method : how it was found, in words a therapist reads
    """

    value: float
    sd: float
    is_measured: bool
    method: str
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
    return Estimate(value_mm, 0.0, True, "measured", "tape")


def estimate_hand(given: Mapping[str, float], sex: Sex | None) -> dict[str, Estimate]:
    """Return every hand-level dimension of the survey, measured or estimated.

    given : measured numbers by case-file key; `stature_mm` and `age_years` help, other keys are ignored
    """
    sexes: tuple[Sex, ...] = ("woman", "man") if sex is None else (sex,)
    results = [_conditional(_norm_for(each, given), _observations(each, given)) for each in sexes]
    evidence = np.array([result[2] for result in results])
    weights = np.exp(evidence - evidence.max())
    weights /= weights.sum()
    means = np.array([result[0] for result in results])
    variances = np.array([np.diag(result[1]) for result in results])
    mean = weights @ means
    variance = weights @ (variances + (means - mean) ** 2)
    keys = adult_norm("man").keys
    known = ", ".join(
        key.removesuffix("_mm").replace("_", " ") for key in (*keys, "stature_mm") if key in given
    )
    method = f"estimated from {known}" if known else "estimated: mean of adults"
    source = str(table("survey")["source"])
    return {
        key: measured(given[key])
        if key in given
        else Estimate(float(mean[at]), math.sqrt(max(float(variance[at]), 0.0)), False, method, source)
        for at, key in enumerate(keys)
    }


def estimate_finger(finger: str, given: Mapping[str, float], hand: Mapping[str, Estimate]) -> FingerMeasures:
    """Return every dimension of one finger, measured or estimated.

    given : the finger's measured girths and palmar lengths by case-file key
    hand : from `estimate_hand`
    """
    return FingerMeasures(**_girths(finger, given, hand), **_lengths(finger, given, hand))


def measurement_warnings(given: Mapping[str, float], sex: Sex | None) -> list[str]:
    """Return requests to measure again: values outside P0.1 to P99.9 of the published norms of adults."""
    if _is_child(given):
        return []
    return [
        f"{key} = {given[key]:g} is rarer than one adult in a thousand ({table('survey')['source']}); measure it again"
        for key in adult_norm("man").keys
        if key in given and is_unusual(key, given[key], sex)
    ]


# --- hand level ---------------------------------------------------------------------------------------------


def _is_child(given: Mapping[str, float]) -> bool:
    child = table("survey")["child"]
    return given.get("age_years", math.inf) < child["age_years"] or (
        given.get("hand_length_mm", math.inf) < child["hand_length_mm"]
    )


def _norm_for(sex: Sex, given: Mapping[str, float]) -> Norm:
    """The adult norm, or for a child the same proportions at the size of its hand."""
    norm = adult_norm(sex)
    if not _is_child(given):
        return norm
    child = table("survey")["child"]
    length = given.get("hand_length_mm")
    if length is None:
        length = float(np.interp(given["age_years"], child["years"], child["mean_hand_length_mm"]))
    return norm.scaled(length / float(norm.mean[norm.keys.index("hand_length_mm")]))


def _observations(sex: Sex, given: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """Key -> observed value and variance of the observation.

    Stature is not among the survey's correlations here; its published regression enters as an observation of hand
    length, made so uncertain that length from stature alone comes out with the regression's mean and residual SD.
    """
    keys = adult_norm(sex).keys
    seen = {key: (given[key], 0.0) for key in keys if key in given}
    if "stature_mm" in given and "hand_length_mm" not in seen and not _is_child(given):
        line = table("survey")[sex]["hand_length_from_stature"]
        norm = adult_norm(sex)
        prior, rest = float(norm.covariance[0, 0]), line["residual_sd"] ** 2
        noise = 1.0 / (1.0 / rest - 1.0 / prior)
        target = line["intercept"] + line["slope"] * given["stature_mm"]
        seen["hand_length_mm"] = (noise * (target / rest - float(norm.mean[0]) / prior), noise)
    return seen


def _conditional(norm: Norm, seen: Mapping[str, tuple[float, float]]) -> tuple[Floats, Floats, float]:
    """Mean (k,), covariance (k, k) given what was seen, and the log density of what was seen."""
    if not seen:
        return norm.mean, norm.covariance, 0.0
    at = [norm.keys.index(key) for key in seen]
    values, noise = (np.array(column) for column in zip(*seen.values(), strict=True))
    spread = norm.covariance[np.ix_(at, at)] + np.diag(noise)
    gain = np.linalg.solve(spread, norm.covariance[at]).T
    surprise = values - norm.mean[at]
    density = -0.5 * (
        surprise @ np.linalg.solve(spread, surprise) + np.linalg.slogdet(2.0 * np.pi * spread)[1]
    )
    return norm.mean + gain @ surprise, norm.covariance - gain @ norm.covariance[at], float(density)


# --- finger level -------------------------------------------------------------------------------------------


def _girths(finger: str, given: Mapping[str, float], hand: Mapping[str, Estimate]) -> dict[str, Estimate]:
    pip_table, dip_table, others = (
        table("fingers")[name] for name in ("pip_girth", "dip_girth", "other_girths")
    )
    dip_share, wrist_share = dip_table["share_of_pip"][finger], pip_table["share_of_wrist"][finger]
    pip, dip = (measured(given[key]) if key in given else None for key in ("pip_girth_mm", "dip_girth_mm"))
    if pip is None and dip is not None:
        pip = _times(
            dip, 1.0 / dip_share, dip_table["sd_mm"], "estimated from DIP girth", dip_table["source"]
        )
    elif pip is None:
        wrist = hand["wrist_girth_mm"]
        pip = _times(
            wrist, wrist_share, pip_table["sd_mm"], "estimated from wrist girth", pip_table["source"]
        )
    if dip is None:
        dip = _times(pip, dip_share, dip_table["sd_mm"], "estimated from PIP girth", dip_table["source"])
    mean = Estimate((pip.value + dip.value) / 2, math.hypot(pip.sd, dip.sd) / 2, False, "", "")
    ratios = {
        "web_girth_mm": (pip, "web_share_of_pip", "PIP girth"),
        "proximal_girth_mm": (pip, "proximal_share_of_pip", "PIP girth"),
        "middle_girth_mm": (mean, "middle_share_of_mean", "PIP and DIP girth"),
        "nail_fold_girth_mm": (dip, "nail_fold_share_of_dip", "DIP girth"),
    }
    girths = {"pip_girth_mm": pip, "dip_girth_mm": dip}
    for key, (base, share, words) in ratios.items():
        estimate = _times(base, others[share], others["sd_mm"], f"estimated from {words}", others["source"])
        girths[key] = measured(given[key]) if key in given else estimate
    return girths


def _times(base: Estimate, factor: float, sd_mm: float, method: str, source: str) -> Estimate:
    return Estimate(base.value * factor, math.hypot(base.sd * factor, sd_mm), False, method, source)


def _lengths(finger: str, given: Mapping[str, float], hand: Mapping[str, Estimate]) -> dict[str, Estimate]:
    """Joint centre to joint centre, from palmar crease lengths where measured, else from hand length."""
    creases, segments = table("fingers")["creases"], table("fingers")["segments"]
    keys = ("web_crease_to_pip_crease_mm", "pip_crease_to_dip_crease_mm", "dip_crease_to_tip_mm")
    palmar = [given.get(key) for key in keys]
    if None not in palmar:
        size = sum(palmar) / creases["adult_palmar_length_mm"][finger]  # type: ignore[arg-type]
    else:
        size = hand["hand_length_mm"].value / creases["adult_hand_length_mm"]
    web = creases["mcp_centre_proximal_of_web_crease_mm"] * size
    pip = creases["pip_centre_proximal_of_crease_mm"] * size
    dip = creases["dip_centre_distal_of_crease_mm"] * size
    offsets = {"proximal": web - pip, "middle": pip + dip, "distal": -dip}
    lengths = {}
    for (name, offset), length in zip(offsets.items(), palmar, strict=True):
        if length is not None:
            method, sd = "measured crease to crease, moved to the joint centres", creases["sd_mm"]
            lengths[f"{name}_mm"] = Estimate(length + offset, sd, True, method, creases["source"])
        else:
            share, sd_share = segments[name][finger], segments["sd_share"]
            spread = share * hand["hand_length_mm"].value * sd_share
            method = "estimated from hand length"
            lengths[f"{name}_mm"] = _times(hand["hand_length_mm"], share, spread, method, segments["source"])
    where = "estimated from the finger's size"
    lengths["web_station_mm"] = Estimate(web, creases["sd_mm"], False, where, creases["source"])
    return lengths
