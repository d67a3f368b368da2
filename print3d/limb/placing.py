"""Where a dimension lies among people: its percentile against the norms, where there is a norm for it."""

from collections.abc import Mapping
from statistics import NormalDist

from print3d.limb.estimates import PALMAR_KEYS, estimate_finger, estimate_hand, palmar
from print3d.limb.norms import SEXES, Sex, adult_norm, child_hand_length_mm, is_child, percentile, table


def hand_percentile(key: str, value_mm: float, given: Mapping[str, float], sex: Sex | None) -> float | None:
    """Return the percentage of people below a hand-level value; None where no norm says it.

    given : measured numbers by case-file key, which tell a child; a child's hand length is held against its age
    """
    if is_child(given):
        return _child_percentile(key, value_mm, given, sex)
    return percentile(key, value_mm, sex) if key in adult_norm("man").keys else None


def finger_percentile(
    finger: str, key: str, value_mm: float, given: Mapping[str, float], sex: Sex | None
) -> float | None:
    """Return the percentage of adults below a finger's girth or length, from the finger's published proportions.

    key : a girth or a palmar length of a case file, or a length between joint centres; sex None: as many women as men
    """
    if is_child(given):
        return None
    shares = [_finger_share(finger, key, value_mm, each) for each in (SEXES if sex is None else (sex,))]
    return sum(shares) / len(shares)


def _finger_share(finger: str, key: str, value_mm: float, sex: Sex) -> float:
    usual = estimate_finger(finger, {}, estimate_hand({}, sex))
    if key in PALMAR_KEYS:
        expected, offset = palmar(usual, PALMAR_KEYS.index(key))
    else:
        expected, offset = getattr(usual, key), 0.0
    return 100.0 * NormalDist(expected.value - offset, expected.sd).cdf(value_mm)


def _child_percentile(key: str, value_mm: float, given: Mapping[str, float], sex: Sex | None) -> float | None:
    children = table("children")
    if key != "hand_length_mm" or given.get("age_years", 0.0) < children["years"][0]:
        return None
    means = [child_hand_length_mm(given["age_years"], each) for each in (SEXES if sex is None else (sex,))]
    sd = float(children["hand_length_sd_mm"])
    return sum(100.0 * NormalDist(mean, sd).cdf(value_mm) for mean in means) / len(means)
