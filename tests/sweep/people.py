"""Random people as the [case] and [measured] tables of a case file: dimensions drawn together from the correlated norms.

Adults by the survey (P0.1 to P99.9), children by the child estimates of age and hand length; one in five has a swollen joint.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from print3d.inputs.measured import FINGERS, FOREARM_PLACES_MM
from print3d.limb.estimates import PALMAR_KEYS, estimate_finger, estimate_hand, girths_from_hand, palmar
from print3d.limb.norms import SEXES, Norm, Sex, adult_norm, child_hand_length_mm, norm_of, table

MOST_Z = 3.09
"""P0.1 to P99.9."""
RARE_SPREAD = 1.8
"""A third of the adults is drawn so much wider (and held inside `MOST_Z`), so that the ends of the norms are visited."""
CHILDREN, CHILD_YEARS = 0.25, (3.0, 17.0)
SWOLLEN, SWELLING = 0.2, (1.03, 1.10)
HAND_KEYS = (
    "stature_mm", "hand_length_mm", "palm_length_mm", "hand_breadth_mm", "hand_girth_mm", "wrist_girth_mm", "forearm_girth_mm",
    "forearm_length_mm",
)  # fmt: skip
NEIGHBOURS_TAPED = 0.3
MOTION = {
    "mcp_max_flexion_deg": (70.0, 100.0),
    "pip_max_flexion_deg": (75.0, 115.0),
    "dip_max_flexion_deg": (50.0, 90.0),
}


def person(rng: np.random.Generator) -> dict[str, Any]:
    """Return the tables of one person; what was taken by tape and goniometer is left to chance as well."""
    sex: Sex = SEXES[rng.integers(2)]
    told = {"age_years": round(float(rng.uniform(*CHILD_YEARS)), 1)} if rng.random() < CHILDREN else {}
    hand = _child(rng, told["age_years"], sex) if told else _adult(rng, sex)
    finger = str(rng.choice(FINGERS))
    taped = {key: hand[key] for key in HAND_KEYS if rng.random() < 0.6} or {
        "hand_length_mm": hand["hand_length_mm"]
    }
    measured: dict[str, Any] = {**told, **({"sex": sex} if rng.random() < 0.9 else {}), **taped}
    if "forearm_girth_mm" in hand and rng.random() < 0.2:
        measured |= _along_the_forearm(hand)
    for name in FINGERS:
        if name == finger or rng.random() < NEIGHBOURS_TAPED:
            measured[name] = _finger(rng, name, {**hand, **told}, sex)
    side = ("left", "right")[rng.integers(2)]
    return {"case": {"code": "SW-1", "side": side, "finger": finger}, "measured": measured}


def _adult(rng: np.random.Generator, sex: Sex) -> dict[str, float]:
    norm = adult_norm(sex)
    return _drawn(rng, norm, RARE_SPREAD if rng.random() < 1.0 / 3.0 else 1.0)


def _child(rng: np.random.Generator, age_years: float, sex: Sex) -> dict[str, float]:
    spread = table("children")["hand_length_sd_mm"]
    length = child_hand_length_mm(age_years, sex) + spread * float(np.clip(rng.normal(), -MOST_Z, MOST_Z))
    norm = norm_of({"age_years": age_years, "hand_length_mm": length}, sex)
    return _drawn(rng, norm.conditional({"hand_length_mm": length}), 1.0)


def _drawn(rng: np.random.Generator, norm: Norm, spread: float) -> dict[str, float]:
    """Return one person of a norm, none of whose dimensions is rarer than one in a thousand."""
    sd = norm.sd
    while True:
        values = norm.mean + spread * (rng.multivariate_normal(norm.mean, norm.covariance) - norm.mean)
        if (np.abs(values - norm.mean) <= MOST_Z * sd + 1e-6).all():
            return dict(zip(norm.keys, np.round(values, 1).tolist(), strict=True))


def _along_the_forearm(hand: Mapping[str, float]) -> dict[str, float]:
    """Girths at the marks of the tape, from the wrist's evenly to the widest, which lies two thirds up."""
    wrist, widest, length = (hand[f"{key}_mm"] for key in ("wrist_girth", "forearm_girth", "forearm_length"))
    girths = {
        place: wrist + (widest - wrist) * min(1.0, place / (0.66 * length))
        for place in FOREARM_PLACES_MM
        if place < length
    }
    return {f"forearm_girth_at_{place}_mm": round(girth, 1) for place, girth in girths.items()}


def _finger(rng: np.random.Generator, finger: str, person: Mapping[str, float], sex: Sex) -> dict[str, float]:
    """Some girths and crease lengths of a finger, drawn together, and some angles."""
    hand = estimate_hand(person, sex)
    girths = _drawn(rng, girths_from_hand(finger, hand), 1.0)
    if rng.random() < SWOLLEN:
        swelling = float(rng.uniform(*SWELLING))
        girths |= {key: round(girths[key] * swelling, 1) for key in ("pip_girth_mm", "middle_girth_mm")}
    share = rng.choice([0.3, 0.6, 1.0])
    taken = {key: girth for key, girth in girths.items() if rng.random() < share}
    measures = estimate_finger(finger, girths, hand)
    for at, key in enumerate(PALMAR_KEYS):
        if rng.random() < share:
            segment, offset = palmar(measures, at)
            z = float(np.clip(rng.normal(), -MOST_Z, MOST_Z))
            taken[key] = round(float(segment.value - offset + z * segment.sd), 1)
    for key, (low, high) in MOTION.items():
        if rng.random() < 0.3:
            taken[key] = float(rng.integers(int(low), int(high) + 1))
    return taken
