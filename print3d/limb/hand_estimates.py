"""Everything a hand and forearm is made from: measured where measured, else estimated with its standard deviation.

Hand level and fingers come from `limb/estimates.py`. Forearm girths at stated places are estimated together, from the wrist's,
the widest, and those that were measured.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS, FingerName
from print3d.language.message import message
from print3d.limb.estimates import (
    Estimate,
    FingerMeasures,
    dimension,
    estimate_finger,
    estimate_hand,
    measured,
)
from print3d.limb.norms import Norm, Sex, table

CREASE_ENDS: tuple[FingerName, FingerName] = ("index", "little")
"""Fingers in line with which the distal palmar crease is measured."""
WIDEST_SHARE = 0.8
"""The forearm is widest at this share of its length from the wrist."""


@dataclass(frozen=True)
class HandMeasures:
    """What a hand and forearm is made from.

    hand : hand-level dimensions by case-file key
    forearm_girths_mm : distance from the wrist crease (mm) -> girth there, from the styloids to the elbow
    fingers : of each finger
    palmar_creases : distance of the distal palmar crease from the distal wrist crease, in line with each finger
    """

    hand: Mapping[str, Estimate]
    forearm_girths_mm: Mapping[float, Estimate]
    fingers: Mapping[FingerName, FingerMeasures]
    palmar_creases: Mapping[FingerName, Estimate]

    def estimated(self) -> dict[str, Estimate]:
        """Return the dimensions of hand and forearm that nobody measured, by key; fingers have their own."""
        found = {key: each for key, each in self.hand.items() if key in HAND_KEYS and not each.is_measured}
        for place, each in self.forearm_girths_mm.items():
            if not each.is_measured:
                found[f"forearm_girth_at_{place:.0f}_mm"] = each
        for name in CREASE_ENDS:
            if not self.palmar_creases[name].is_measured:
                found[f"palmar_crease_{name}_mm"] = self.palmar_creases[name]
        return found


HAND_KEYS = ("hand_length_mm", "hand_breadth_mm", "hand_girth_mm", "wrist_girth_mm", "forearm_length_mm")
"""Hand-level dimensions that the limb is made from."""


def estimate_hand_and_forearm(
    given: Mapping[str, float], sex: Sex | None, fingers: Mapping[FingerName, Mapping[str, float]]
) -> HandMeasures:
    """Return every dimension of hand, forearm and fingers, measured or estimated.

    given : measured hand-level numbers by case-file key, forearm girths at stated places among them
    fingers : per finger its measured girths and palmar lengths by case-file key
    """
    hand = estimate_hand(given, sex)
    return HandMeasures(
        hand,
        _forearm_girths(given, hand),
        {name: estimate_finger(name, fingers.get(name, {}), hand) for name in FINGERS},
        _palmar_creases(given, hand),
    )


def styloid_distance_mm(hand: Mapping[str, Estimate]) -> float:
    """Return how far proximal of the wrist crease the ulnar styloid, and the tape around the wrist, lies."""
    wrist = table("forearm")["wrist"]
    size = hand["hand_length_mm"].value / wrist["adult"]["hand_length_mm"]
    return float(wrist["styloid_proximal_of_crease_mm"] * size)


def _palmar_creases(given: Mapping[str, float], hand: Mapping[str, Estimate]) -> dict[FingerName, Estimate]:
    """The distal palmar crease at every finger.

    Where both ends were measured the two fingers between follow them, else they are estimated.
    """
    known, length = table("palm")["distal_crease"], hand["hand_length_mm"].value
    method = message("estimates.method.from", what=dimension("hand_length_mm"))
    source = f"{known['source']}, {known['mark']}"
    usual = {name: known[name] * length for name in FINGERS}
    found = {name: Estimate(usual[name], known["sd_mm"], False, method, source) for name in FINGERS}
    seen = {name: given[key] for name in FINGERS if (key := f"palmar_crease_{name}_mm") in given}
    if len(seen) == len(CREASE_ENDS):
        first, last = (seen[name] - usual[name] for name in CREASE_ENDS)
        off = np.linspace(first, last, len(FINGERS))
        seen |= {name: usual[name] + float(by) for name, by in zip(FINGERS, off, strict=True)}
    return found | {name: measured(value) for name, value in seen.items()}


def _forearm_girths(given: Mapping[str, float], hand: Mapping[str, Estimate]) -> dict[float, Estimate]:
    """Girths at the styloids, at the measured places, and where the curve of a forearm needs one."""
    length, wrist = hand["forearm_length_mm"].value, styloid_distance_mm(hand)
    seen = {float(key.split("_")[3]): value for key, value in given.items() if _is_at_a_place(key)}
    seen = {place: value for place, value in seen.items() if wrist + 10.0 < place < length}
    if hand["forearm_girth_mm"].is_measured:
        seen[WIDEST_SHARE * length] = hand["forearm_girth_mm"].value
    usual = [share * length for share in table("forearm")["girth"]["at"][1:]]
    spacing = 0.1 * length
    open_places = [place for place in usual if all(abs(place - other) > spacing for other in seen)]
    places = sorted([*seen, *open_places])
    norm = _girth_norm(np.array(places), hand).conditional(
        {f"{place:g}": value for place, value in seen.items()}
    )
    rest = message("estimates.measured_forearm") if seen else dimension("forearm_girth_mm")
    both = message("estimates.and", first=dimension("wrist_girth_mm"), last=rest)
    method = message("estimates.method.from", what=both)
    source = f"{table('forearm')['girth']['source']}, {table('forearm')['girth']['mark']}"
    girths = {wrist: hand["wrist_girth_mm"]}
    for place, mean, sd in zip(places, norm.mean, norm.sd, strict=True):
        girths[place] = (
            measured(seen[place])
            if place in seen
            else Estimate(float(mean), float(sd), False, method, source)
        )
    return girths


def expected_forearm_girth(place_mm: int, given: Mapping[str, float], sex: Sex | None) -> Estimate:
    """Return the girth at a stated place of the forearm as the other measures let expect it."""
    hand = estimate_hand(given, sex)
    seen = {float(key.split("_")[3]): girth for key, girth in given.items() if _is_at_a_place(key)}
    if hand["forearm_girth_mm"].is_measured:
        seen[WIDEST_SHARE * hand["forearm_length_mm"].value] = hand["forearm_girth_mm"].value
    prior = _girth_norm(np.array([place_mm, *seen], dtype=float), hand)
    norm = prior.conditional({f"{place:g}": value for place, value in seen.items()})
    method = message("estimates.method.from", what=message("estimates.measured_forearm"))
    source = str(table("forearm")["girth"]["source"])
    return Estimate(float(norm.mean[0]), float(norm.sd[0]), False, method, source)


def _is_at_a_place(key: str) -> bool:
    return key.startswith("forearm_girth_at_")


def _girth_norm(places: Floats, hand: Mapping[str, Estimate]) -> Norm:
    """Mean and covariance of girths at places (n,), from wrist girth and widest girth."""
    curve, length = table("forearm")["girth"], hand["forearm_length_mm"].value
    share = np.interp(places / length, curve["at"], curve["share"])
    widest, wrist = hand["forearm_girth_mm"], hand["wrist_girth_mm"]
    relaxed = 1.0 if widest.is_measured else curve["relaxed_share_of_flexed"]
    apart = np.subtract.outer(places, places) / (curve["spread"]["alike_over_share"] * length)
    own = curve["spread"]["sd_mm"] ** 2 * np.exp(-0.5 * apart**2) + 1e-6 * np.eye(len(places))
    covariance = own + (relaxed * widest.sd) ** 2 * np.outer(share, share)
    covariance += wrist.sd**2 * np.outer(1.0 - share, 1.0 - share)
    mean = wrist.value + share * (relaxed * widest.value - wrist.value)
    return Norm(tuple(f"{place:g}" for place in places), mean, covariance)
