"""What is not known of a finger: how far the true limb may be from the numbers of the case.

    measured girth or length        the tape's error, each on its own
    girth that nobody measured      what published proportions leave open, correlated as they give it
    segment that nobody measured    the same for lengths
    joint centres                   from person to person, against the creases; the crease is where the skin is marked
    swelling                        between measuring and wearing: all girths of the finger together
    print                           the printed size

Every deviation is what is to be added to the number known to get the true one.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from scipy.stats import norm, qmc

from print3d.geometry.types import Floats
from print3d.inputs.case import Case
from print3d.inputs.measured import FingerName, Measured
from print3d.language.catalogue import Language, text
from print3d.limb.estimates import (
    PALMAR_KEYS,
    Estimate,
    FingerMeasures,
    estimate_finger,
    estimate_hand,
    girths_from_hand,
)
from print3d.limb.finger import FingerLimb, FingerPose, build_finger
from print3d.limb.finger_norms import GIRTHS, SEGMENTS, adult_joint_centres
from print3d.limb.norms import table

Origin = Literal["tape", "not measured", "joint centre", "swelling", "print"]

TAPE_MM = 1.0
"""SD of a girth or of a length between creases by tape. No published figure was found; 1.0 is from memory. The rounding of a
scale in whole mm alone is 0.29 (1 over root 12)."""
SWELLING_MM = 1.25
"""SD of the change of the PIP girth between measuring and wearing; the other girths change in proportion. A finger can change by a
ring size, 2.5 mm of girth, within a day (common practice, no single source), read as two SD."""
TOLERANCE_SD = 2.0
"""A printer's tolerance on a size is read as two SD; own choice."""
JOINTS = ("mcp", "pip", "dip")
LEAST_MM = 1.0
"""No true girth or length is less."""


@dataclass(frozen=True)
class Spreads:
    """Standard deviations in mm.

    girth_mm, length_mm : of a tape
    swelling_mm : of the change of the PIP girth
    print_mm : of a printed size across, such as a ring's inner diameter
    """

    girth_mm: float
    length_mm: float
    swelling_mm: float
    print_mm: float


def spreads_of_case(
    case: Case,
    *,
    tape_mm: float = TAPE_MM,
    length_mm: float = TAPE_MM,
    swelling_mm: float = SWELLING_MM,
    print_mm: float | None = None,
) -> Spreads:
    """Return the spreads of a case: what is asked, else the default of each.

    The print's follows from the printer's tolerance.
    """
    if print_mm is None:
        print_mm = case.printer.tolerance_mm.value / TOLERANCE_SD
    return Spreads(tape_mm, length_mm, swelling_mm, print_mm)


@dataclass(frozen=True)
class Source:
    """One thing that is not known.

    key : "pip_girth_mm", "mcp" (a joint centre), "swelling", "print"
    sd_mm : its standard deviation
    """

    key: str
    origin: Origin
    sd_mm: float

    def words(self, language: Language = "en") -> str:
        """Return what it is, as a therapist says it."""
        return text(f"studies.source.{self.key}", language)

    def words_of_origin(self, language: Language = "en") -> str:
        """Return why it is not known."""
        return text(f"studies.origin.{self.origin.replace(' ', '_')}", language)


@dataclass(frozen=True, eq=False)
class FingerUnknowns:
    """Everything that is not known of one finger, and how it goes together.

    sources : (k) what is not known
    correlation : (k, k)
    """

    finger: FingerName
    given: Mapping[str, float]
    hand: Mapping[str, Estimate]
    sources: tuple[Source, ...]
    correlation: Floats

    def draw(self, n: int, seed: int) -> Floats:
        """Return deviations (n, k) mm: normal, by a scrambled Sobol sequence, so that few draws fill the space evenly.

        The first draws of a longer sequence are those of a shorter one.
        """
        power = max(1, int(np.ceil(np.log2(n))))
        sequence = qmc.Sobol(len(self.sources), scramble=True, rng=np.random.default_rng(seed))
        even = sequence.random_base2(power)[:n]
        standard = norm.ppf(np.clip(even, 1e-12, 1.0 - 1e-12))
        return np.asarray(standard @ self.root.T * self.sd_mm)

    def true_finger(self, deviation: Floats, pose: FingerPose) -> FingerLimb:
        """Return the person's finger for one draw (k,), posed. Raises LimbError if no finger can be made of it."""
        by_origin = self._by_origin(deviation)
        tape, open_ones, centres = (by_origin[each] for each in ("tape", "not measured", "joint centre"))
        given = {key: max(value + tape.get(key, 0.0), LEAST_MM) for key, value in self.given.items()}
        measures = estimate_finger(self.finger, given, self.hand)
        swollen = 1.0 + by_origin["swelling"].get("swelling", 0.0) / measures.pip_girth_mm.value
        changes = {key: open_ones.get(key, 0.0) for key in vars(measures)}
        mcp, pip, dip = (centres.get(joint, 0.0) for joint in JOINTS)
        moved = {"proximal_mm": pip - mcp, "middle_mm": dip - pip, "distal_mm": -dip, "web_station_mm": -mcp}
        values = {}
        for key, each in vars(measures).items():
            length = (
                each.value
                + changes[key]
                + (moved[key] if key in moved and self._follows_creases(key) else 0.0)
            )
            values[key] = replace(each, value=max(length * (swollen if "girth" in key else 1.0), LEAST_MM))
        limb = build_finger(self.finger, FingerMeasures(**values), pose)
        creases = {
            "pip_crease": limb.landmarks["pip_crease"] - pip,
            "dip_crease": limb.landmarks["dip_crease"] - dip,
        }
        return replace(limb, landmarks={**limb.landmarks, **creases})

    def print_offset_mm(self, deviation: Floats) -> float:
        """Return how far the printed surface lies outside the planned one in one draw (k,).

        It is half of what a size is off.
        """
        return self._by_origin(deviation)["print"].get("print", 0.0) / 2.0

    def better_known(self) -> Iterator[tuple[Source, "FingerUnknowns"]]:
        """Yield each measurement that a tape can take, with what stays unknown after it.

        It is taken again, or for the first time; what goes together with it is then known better too.
        """
        covariance = self.correlation * np.outer(self.sd_mm, self.sd_mm)
        for at, source in enumerate(self.sources):
            if source.origin not in ("tape", "not measured"):
                continue
            noise = TAPE_MM**2
            left = covariance - np.outer(covariance[at], covariance[at]) / (covariance[at, at] + noise)
            sd = np.sqrt(np.diag(left))
            sources = tuple(
                replace(each, sd_mm=float(own)) for each, own in zip(self.sources, sd, strict=True)
            )
            yield source, replace(self, sources=sources, correlation=left / np.outer(sd, sd))

    def _follows_creases(self, key: str) -> bool:
        """Whether a length is known from creases, so that the places of joint centres against them matter."""
        if key == "web_station_mm":
            return True
        return PALMAR_KEYS[SEGMENTS.index(key.removesuffix("_mm"))] in self.given

    def _by_origin(self, deviation: Floats) -> dict[str, dict[str, float]]:
        found: dict[str, dict[str, float]] = {
            each: {} for each in ("tape", "not measured", "joint centre", "swelling", "print")
        }
        for source, value in zip(self.sources, deviation, strict=True):
            found[source.origin][source.key] = float(value)
        return found

    @cached_property
    def root(self) -> Floats:
        """A root (k, k) of the correlation; a little is added, for girths that follow from each other."""
        return np.asarray(
            np.linalg.cholesky(self.correlation + 1e-10 * np.eye(len(self.sources))), dtype=float
        )

    @cached_property
    def sd_mm(self) -> Floats:
        """Standard deviation (k,) of each source."""
        return np.array([each.sd_mm for each in self.sources])


def unknowns_of_case(case: Case, spreads: Spreads) -> FingerUnknowns:
    """Return what is not known of a case's finger."""
    return unknowns_of(case.header.finger, case.measured, spreads)


def unknowns_of(finger: FingerName, measured: Measured, spreads: Spreads) -> FingerUnknowns:
    """Return what is not known of a finger. Sources whose SD is zero are left out."""
    given = measured.finger_measures(finger)
    hand = estimate_hand(measured.hand_measures(), measured.sex)
    measures = estimate_finger(finger, given, hand)
    tape = [Source(key, "tape", spreads.girth_mm if "girth" in key else spreads.length_mm) for key in given]
    girths, together = _open_girths(finger, given, hand)
    lengths = [
        Source(f"{segment}_mm", "not measured", getattr(measures, f"{segment}_mm").sd)
        for segment, key in zip(SEGMENTS, PALMAR_KEYS, strict=True)
        if key not in given
    ]
    others = [
        *_centres(measures),
        Source("swelling", "swelling", spreads.swelling_mm),
        Source("print", "print", spreads.print_mm),
    ]
    sources = [*tape, *girths, *lengths, *others]
    correlation = np.eye(len(sources))
    span = slice(len(tape), len(tape) + len(girths))
    correlation[span, span] = together
    known = np.array([each.sd_mm > 0.0 for each in sources])
    kept = tuple(each for each, is_open in zip(sources, known, strict=True) if is_open)
    return FingerUnknowns(finger, given, hand, kept, correlation[np.ix_(known, known)])


def _open_girths(
    finger: FingerName, given: Mapping[str, float], hand: Mapping[str, Estimate]
) -> tuple[list[Source], Floats]:
    """The girths that nobody measured, and their correlation given those that were."""
    conditional = girths_from_hand(finger, hand).conditional(
        {key: given[key] for key in GIRTHS if key in given}
    )
    open_keys = [key for key in GIRTHS if key not in given]
    at = conditional.places(open_keys)
    covariance, sd = conditional.covariance[np.ix_(at, at)], conditional.sd[at]
    sources = [Source(key, "not measured", float(each)) for key, each in zip(open_keys, sd, strict=True)]
    return sources, covariance / np.outer(sd, sd)


def _centres(measures: FingerMeasures) -> list[Source]:
    """Joint centres against the creases; they vary with the finger's size."""
    size = measures.web_station_mm.value / adult_joint_centres().mcp_proximal_of_web_crease_mm
    spread = table("fingers")["centres"]
    return [Source(joint, "joint centre", float(spread[f"{joint}_sd_mm"]) * size) for joint in JOINTS]
