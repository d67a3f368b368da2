"""Published norms of hand and forearm, as data: where a measurement lies, and how dimensions go together."""

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from statistics import NormalDist
from typing import Any, Literal

import numpy as np

from print3d.geometry.types import Floats

Sex = Literal["woman", "man"]
SEXES: tuple[Sex, ...] = ("woman", "man")

LENGTH_KEYS = (
    "hand_length_mm", "palm_length_mm", "forearm_length_mm", "elbow_to_fingertip_mm", "stature_mm",
)  # fmt: skip
"""Dimensions that grow with a child's hand length; the others grow with its hand breadth."""


@dataclass(frozen=True, eq=False)
class Norm:
    """A multivariate normal of body dimensions.

    keys : names as in a case file
    mean : (k,) mm
    covariance : (k, k) mm2
    """

    keys: tuple[str, ...]
    mean: Floats
    covariance: Floats

    @property
    def sd(self) -> Floats:
        """Standard deviations (k,) mm."""
        return np.sqrt(self.covariance.diagonal().clip(min=0.0))

    def places(self, keys: Iterable[str]) -> list[int]:
        """Return where `keys` stand in the arrays."""
        return [self.keys.index(key) for key in keys]

    def scaled(self, factor: Floats) -> "Norm":
        """Return the norm of people whose dimensions are larger by `factor` (k,)."""
        return Norm(self.keys, self.mean * factor, self.covariance * np.outer(factor, factor))

    def gain(self, seen: Iterable[str]) -> Floats:
        """Return by how much (k, s) each dimension grows per mm of the `seen` ones."""
        at = self.places(seen)
        return np.asarray(
            np.linalg.solve(self.covariance[np.ix_(at, at)], self.covariance[at]).T, dtype=float
        )

    def conditional(self, seen: Mapping[str, float]) -> "Norm":
        """Return the norm of the people who have the `seen` values."""
        if not seen:
            return self
        at, gain = self.places(seen), self.gain(seen)
        mean = self.mean + gain @ (np.array([*seen.values()]) - self.mean[at])
        covariance = self.covariance - gain @ self.covariance[at]
        mean[at], covariance[at], covariance[:, at] = [*seen.values()], 0.0, 0.0
        return Norm(self.keys, mean, covariance)

    def log_density(self, seen: Mapping[str, float]) -> float:
        """Return the logarithm of how likely the `seen` values are, per mm each."""
        at = self.places(seen)
        spread = self.covariance[np.ix_(at, at)]
        surprise = np.array([*seen.values()]) - self.mean[at]
        width = np.linalg.slogdet(2.0 * np.pi * spread)[1]
        return float(-0.5 * (surprise @ np.linalg.solve(spread, surprise) + width))


@cache
def table(name: str) -> Mapping[str, Any]:
    """Return one data file of this room."""
    return tomllib.loads(files("print3d.limb").joinpath(f"data/{name}.toml").read_text(encoding="utf-8"))


def survey_source() -> str:
    """Return where the adult norms come from."""
    return str(table("survey")["source"])


@cache
def adult_norm(sex: Sex) -> Norm:
    """Return the survey's norm for one sex (ANSUR II 2012)."""
    survey = table("survey")
    sd = np.array(survey[sex]["sd"])
    return Norm(
        tuple(survey["keys"]),
        np.array(survey[sex]["mean"]),
        np.outer(sd, sd) * np.array(survey[sex]["correlation"]),
    )


def mixture(norms: Iterable[Norm], weights: Floats) -> Norm:
    """Return the mean and covariance of people drawn from several norms: spread within them and between them."""
    group = list(norms)
    mean = weights @ np.array([each.mean for each in group])
    covariance = sum(
        weight * (each.covariance + np.outer(each.mean - mean, each.mean - mean))
        for weight, each in zip(weights, group, strict=True)
    )
    return Norm(group[0].keys, mean, np.asarray(covariance))


# --- percentiles --------------------------------------------------------------------------------------------


def percentile(key: str, value_mm: float, sex: Sex | None) -> float:
    """Return the percentage of adults below a value; sex None: of as many women as men."""
    sexes = SEXES if sex is None else (sex,)
    return sum(_percentile(key, value_mm, each) for each in sexes) / len(sexes)


def is_unusual(key: str, value_mm: float, sex: Sex | None) -> bool:
    """Whether an adult's value lies outside P0.1 to P99.9 of the sex, or of both if unknown."""
    low, high = usual_range_mm(key, sex)
    return not low <= value_mm <= high


def usual_range_mm(key: str, sex: Sex | None) -> tuple[float, float]:
    """Return P0.1 and P99.9 of adults; sex None: from the women's or men's lowest to their highest."""
    ranges = [_percentiles(key, each)[[0, -1]] for each in (SEXES if sex is None else (sex,))]
    return float(min(each[0] for each in ranges)), float(max(each[1] for each in ranges))


def _percentiles(key: str, sex: Sex) -> Floats:
    survey = table("survey")
    return np.array(survey[sex]["percentiles"][survey["keys"].index(key)])


def _percentile(key: str, value_mm: float, sex: Sex) -> float:
    """Between and beyond the published percentiles the values are taken as normal, piece by piece."""
    known = _percentiles(key, sex)
    z = np.array([NormalDist().inv_cdf(level / 100.0) for level in table("survey")["percentile_levels"]])
    piece = int(np.clip(np.searchsorted(known, value_mm) - 1, 0, len(known) - 2))
    slope = (z[piece + 1] - z[piece]) / (known[piece + 1] - known[piece])
    return 50.0 * (1.0 + math.erf((z[piece] + slope * (value_mm - known[piece])) / math.sqrt(2.0)))


# --- children -----------------------------------------------------------------------------------------------


def is_child(given: Mapping[str, float]) -> bool:
    """Whether measurements are a child's: by `age_years`, or where that is missing by `hand_length_mm`."""
    adult = table("children")["adult"]
    if "age_years" in given:
        return given["age_years"] < float(adult["years"])
    return given.get("hand_length_mm", math.inf) < adult["hand_length_mm"]


def norm_of(given: Mapping[str, float], sex: Sex) -> Norm:
    """Return the norm of people like the measured one: adults, or children of that hand length or age.

    A child has an adult's proportions at the size of its hand, lengths by hand length, girths by hand breadth
    (DINED Kima 1993); it is the simplest model that keeps a child's fingers short and its hand broad.
    """
    norm = adult_norm(sex)
    if not is_child(given):
        return norm
    length = given.get("hand_length_mm")
    if length is None:
        length = child_hand_length_mm(given.get("age_years", math.inf), sex)
    adult_length, adult_breadth = norm.mean[norm.places(["hand_length_mm", "hand_breadth_mm"])]
    children = table("children")
    shares = np.divide(children["hand_breadth_mm"], children["hand_length_mm"])
    lengths = [*children["hand_length_mm"], adult_length]
    breadth = length * float(np.interp(length, lengths, [*shares, adult_breadth / adult_length]))
    factors = [length / adult_length if key in LENGTH_KEYS else breadth / adult_breadth for key in norm.keys]
    return norm.scaled(np.array(factors))


def child_hand_length_mm(age_years: float, sex: Sex) -> float:
    """Return the mean hand length at an age (DINED Kima 1993; from 12 years on towards the adult mean)."""
    children = table("children")
    rows = [children["infant"]["years"], *children["years"], children["adult"]["years"]]
    adult = float(adult_norm(sex).mean[adult_norm(sex).keys.index("hand_length_mm")])
    lengths = [children["infant"]["hand_length_mm"], *children["hand_length_mm"], adult]
    return float(np.interp(age_years, rows, lengths))
