"""Random people from the correlated norms, as tables of case files: hand dimensions together, then one finger around its estimate."""

from typing import Any

import numpy as np

from print3d.inputs.measured import FINGERS
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.norms import adult_norm

KEYS = ("hand_length_mm", "hand_breadth_mm", "wrist_girth_mm")
LENGTHS = ("web_crease_to_pip_crease_mm", "pip_crease_to_dip_crease_mm", "dip_crease_to_tip_mm")
MOST_Z = 3.09
"""P0.1 to P99.9."""


def random_person(seed: int) -> dict[str, Any]:
    """Return the [case] and [measured] tables of one adult: sex, side and finger at random, three girths of the finger taken."""
    rng = np.random.default_rng(seed)
    sex = str(rng.choice(["woman", "man"]))
    norm = adult_norm(sex)
    at = norm.places(KEYS)
    spread = norm.covariance[np.ix_(at, at)]
    root = np.linalg.cholesky(spread)
    hand = norm.mean[at] + root @ np.clip(rng.normal(size=len(at)), -MOST_Z, MOST_Z)
    taken = dict(zip(KEYS, np.round(hand, 1).tolist(), strict=True))
    finger = str(rng.choice(FINGERS))
    estimates = estimate_finger(finger, {}, estimate_hand(taken, sex))
    pip = estimates.pip_girth_mm
    girth = round(pip.value + pip.sd * float(np.clip(rng.normal(), -MOST_Z, MOST_Z)), 1)
    swollen = 1.0 + 0.06 * float(rng.random() < 0.2)
    return {
        "case": {"code": f"SW-{seed}", "side": str(rng.choice(["left", "right"])), "finger": finger},
        "measured": {"sex": sex, **taken, finger: {"pip_girth_mm": round(girth * swollen, 1)}},
        "print": {"material": "petg", "printer": "extrusion"},
    }
