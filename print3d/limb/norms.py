"""Published norms of hand and forearm, as data: where a measurement lies, and how dimensions go together."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Sex = Literal["woman", "man"]

UNUSUAL_Z = 3.09
"""P0.1 and P99.9 of a normal distribution."""


@dataclass(frozen=True, eq=False)
class Norm:
    """A multivariate normal of hand-level dimensions.

    keys : names as in a case file
    mean : (k,) mm
    covariance : (k, k) mm2
    """

    keys: tuple[str, ...]
    mean: Floats
    covariance: Floats

    def z(self, key: str, value_mm: float) -> float:
        """Return how many standard deviations a value lies above the mean."""
        at = self.keys.index(key)
        return float((value_mm - self.mean[at]) / math.sqrt(self.covariance[at, at]))

    def scaled(self, factor: float) -> "Norm":
        """Return the norm of people of the same proportions and another size."""
        return Norm(self.keys, self.mean * factor, self.covariance * factor**2)


@cache
def table(name: str) -> Mapping[str, Any]:
    """Return one data file of this room."""
    return tomllib.loads(files("print3d.limb").joinpath(f"data/{name}.toml").read_text(encoding="utf-8"))


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


def percentile(key: str, value_mm: float, sex: Sex) -> float:
    """Return the percentage of adults of this sex below a value."""
    return 50.0 * (1.0 + math.erf(adult_norm(sex).z(key, value_mm) / math.sqrt(2.0)))


def is_unusual(key: str, value_mm: float, sex: Sex | None) -> bool:
    """Whether an adult's value lies outside P0.1 to P99.9 of the sex, or of both where the sex is not told."""
    sexes: tuple[Sex, ...] = ("woman", "man") if sex is None else (sex,)
    return all(abs(adult_norm(each).z(key, value_mm)) > UNUSUAL_Z for each in sexes)
