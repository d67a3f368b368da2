"""Which measures do not go with their fellows, and which should be taken again.

Each measured number is held against what all the others let expect. One that is far off is most often a slip: a digit turned, two
lines of the form swapped, another finger measured. Some are true, and somebody who measured twice can say so.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import hypot

from print3d.inputs.measured import FINGERS, FOREARM_PLACES_MM, Measured
from print3d.language.message import Message, message
from print3d.limb.estimates import (
    PALMAR_KEYS,
    Estimate,
    dimension,
    estimate_finger,
    estimate_hand,
    hand_values,
    palmar,
)
from print3d.limb.hand_estimates import expected_forearm_girth
from print3d.limb.norms import (
    SEXES,
    Sex,
    child_hand_length_mm,
    is_child,
    is_unusual,
    survey_source,
    table,
    usual_range_mm,
)
from print3d.limb.uncertainty import TAPE_MM

RARE_Z = 3.09
"""P0.1 and P99.9 of a normal distribution."""

ODD_Z = 3.0
"""A number further than this many SD from what its fellows let expect is taken for a slip until it is confirmed; own choice. Of the
survey's own 6,068 people 25 in 1000 have such a number at hand level, 1 or 2 in 1000 at 4 (computed): real people have heavier tails
than the normal, and they confirm."""

ORDER = (("pip", "dip"), ("pip", "middle"), ("dip", "nail_fold"))
"""Girths that fall towards the fingertip unless there is a swelling: larger, smaller."""


@dataclass(frozen=True)
class Compared:
    """One measured number beside what its fellows let expect.

    key : as a case file writes it, with its finger: "wrist_girth_mm", "middle.pip_girth_mm"
    expected : of the same dimension, estimated without it
    """

    key: str
    value_mm: float
    expected: Estimate

    @property
    def off_sd(self) -> float:
        """How many SD it is off, the tape's own error included."""
        return abs(self.value_mm - self.expected.value) / self.sd_mm

    @property
    def sd_mm(self) -> float:
        """SD of a tape's reading around what is expected."""
        return hypot(self.expected.sd, TAPE_MM)


@dataclass(frozen=True)
class Reversed:
    """A girth that is above one that should be the larger."""

    key: str
    value_mm: float
    larger: str
    larger_mm: float


def compared(measured: Measured) -> list[Compared]:
    """Return every measured number that others say something about, hand first, then finger by finger."""
    given, sex = measured.hand_measures(), measured.sex
    hand = estimate_hand(given, sex)
    found = [*_hand_level(given, sex), *_forearm(given, sex)]
    for finger in FINGERS:
        found += _finger_level(finger, measured.finger_measures(finger), hand)
    return found


def reversed_girths(measured: Measured) -> list[Reversed]:
    """Return girths that should fall towards the fingertip and do not."""
    found = []
    for finger in FINGERS:
        given = measured.finger_measures(finger)
        for larger, smaller in ORDER:
            above, below = (given.get(f"{place}_girth_mm") for place in (larger, smaller))
            if above is not None and below is not None and below > above:
                found.append(
                    Reversed(f"{finger}.{smaller}_girth_mm", below, f"{finger}.{larger}_girth_mm", above)
                )
    return found


def measurement_warnings(measured: Measured, confirmed: frozenset[str] = frozenset()) -> list[Message]:
    """Return requests to measure again: outside P0.1 to P99.9 of published norms, at odds, or out of order.

    confirmed : keys as in `Compared` that were taken again already
    """
    given, sex = measured.hand_measures(), measured.sex
    warnings = [*_unusual(given, sex)]
    turned = reversed_girths(measured)
    warnings += [
        _again("order", each.key, each.value_mm, other=each.larger, other_mm=each.larger_mm)
        for each in turned
    ]
    out_of_order = {each.key.split(".")[0] for each in turned}
    for each in compared(measured):
        if each.off_sd > ODD_Z and each.key.split(".")[0] not in out_of_order:
            expected = each.expected
            values = {"expected_mm": expected.value, "sd_mm": each.sd_mm, "method": expected.method}
            warnings.append(_again("odd", each.key, each.value_mm, **values))
    return [each for each in warnings if dict(each.values)["key"] not in confirmed]


def name_of(key: str) -> Message:
    """Return what a key of `Compared` is called: "middle finger: PIP girth"."""
    finger, _, of_finger = key.rpartition(".")
    if not finger:
        return dimension(key)
    what = dimension(of_finger)
    return message("estimates.of_finger", finger=message(f"common.finger.{finger}"), dimension=what)


def _again(row: str, key: str, value_mm: float, **values: object) -> Message:
    return message(f"estimates.again.{row}", key=key, value_mm=value_mm, **values)


def _unusual(given: Mapping[str, float], sex: Sex | None) -> Iterator[Message]:
    if is_child(given):
        yield from _unusual_child(given, sex)
        return
    for key, value in hand_values(given).items():
        if is_unusual(key, value, sex):
            low, high = usual_range_mm(key, sex)
            yield _again("rare", key, value, low_mm=low, high_mm=high, source=survey_source())


def _unusual_child(given: Mapping[str, float], sex: Sex | None) -> Iterator[Message]:
    children = table("children")
    age, length = given.get("age_years", 0.0), given.get("hand_length_mm")
    if length is None or age < children["years"][0]:
        return
    means = [child_hand_length_mm(age, each) for each in (SEXES if sex is None else (sex,))]
    reach = RARE_Z * children["hand_length_sd_mm"]
    low, high = min(means) - reach, max(means) + reach
    if not low <= length <= high:
        yield _again("rare_child", "hand_length_mm", length, age_years=age, low_mm=low, high_mm=high,
                     source=children["source"])  # fmt: skip


def _hand_level(given: Mapping[str, float], sex: Sex | None) -> Iterator[Compared]:
    """Hand-level numbers of an adult; a single one has no fellow, and a child's are scaled from one."""
    seen = hand_values(given)
    if len(seen) < 2 or is_child(given):
        return
    for key, value in seen.items():
        yield Compared(key, value, estimate_hand(_without(given, key), sex)[key])


def _forearm(given: Mapping[str, float], sex: Sex | None) -> Iterator[Compared]:
    """Girths at stated places of the forearm."""
    for place in FOREARM_PLACES_MM:
        key = f"forearm_girth_at_{place}_mm"
        if key in given:
            yield Compared(key, given[key], expected_forearm_girth(place, _without(given, key), sex))


def _finger_level(
    finger: str, given: Mapping[str, float], hand: Mapping[str, Estimate]
) -> Iterator[Compared]:
    """Girths and palmar lengths of one finger, against its other numbers and the hand."""
    for key, value in given.items():
        estimate = estimate_finger(finger, _without(given, key), hand)
        if key in PALMAR_KEYS:
            segment, offset = palmar(estimate, PALMAR_KEYS.index(key))
            expected = replace(segment, value=float(segment.value - offset), sd=float(segment.sd))
        else:
            expected = getattr(estimate, key)
        yield Compared(f"{finger}.{key}", value, expected)


def _without(given: Mapping[str, float], key: str) -> dict[str, float]:
    return {each: value for each, value in given.items() if each != key}
