"""Small fingers, children's among them: every finger kind is built, or refused in one clear message; nothing else escapes."""

import random
from pathlib import Path
from typing import Any

import pytest

from print3d.errors import InputError, LimbError, ShapingError
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.kinds.registry import KINDS
from tests.taped import taped

FORMS: tuple[dict[str, Any], ...] = (
    *({"kind": "pip_extension", "form": form} for form in ("volar", "dorsal", "sleeve")),
    *({"kind": "mallet", "form": form} for form in ("volar", "dorsal", "sleeve")),
    *({"kind": "mallet_with_pip_block", "pieces": pieces} for pieces in ("one", "two")),
    *({"kind": "figure_of_eight", "blocks": blocks} for blocks in ("extension", "flexion")),
)
DRAWS = 120


def case_of(hand_length_mm: float, finger: str, sex: str, orthosis: dict[str, Any]) -> Case:
    data = {
        "case": {"code": "PY-900", "side": "right", "finger": finger},
        "measured": taped({"sex": sex, "hand_length_mm": hand_length_mm}),
        "orthosis": orthosis,
        "print": {"material": "petg", "printer": "extrusion"},
    }
    return case_from_data(data, {name: kind.options for name, kind in KINDS.items()}, Path("made.toml"))


def is_built(hand_length_mm: float, finger: str, sex: str, orthosis: dict[str, Any]) -> bool:
    """Build, or see a refusal: girths of the smallest are no longer accepted either."""
    try:
        case = case_of(hand_length_mm, finger, sex, orthosis)
        KINDS[case.orthosis.kind].build(case)
    except (InputError, LimbError, ShapingError):
        return False
    return True


def test_the_smallest_mallet_gutter_is_refused_by_key_and_value() -> None:
    """From hand to hand a little shorter the slot runs out of room: built, then refused; never a mesh that fails."""
    built = [is_built(length, "little", "woman", FORMS[3]) for length in (114.0, 111.0, 108.0)]
    assert built == [True, False, False]
    with pytest.raises(ShapingError, match=r"orthosis\.straps\.width_mm = 10: .*choose a narrower strap"):
        KINDS["mallet"].build(case_of(110.0, "little", "woman", FORMS[3]))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_random_small_fingers(seed: int) -> None:
    draw = random.Random(seed)
    for _ in range(DRAWS):
        orthosis = dict(draw.choice(FORMS))
        has_straps = orthosis["kind"] != "figure_of_eight"
        if draw.random() < 0.3:
            orthosis |= {"wall_mm": draw.choice([1.6, 2.0, 2.8]), "rim_radius_mm": draw.choice([0.5, 0.7])}
        if draw.random() < 0.2:
            orthosis["clearance_mm"] = draw.choice([0.2, 1.0, 2.0])
        if has_straps and draw.random() < 0.3:
            orthosis["straps"] = {"style": draw.choice(["slots", "wrap"])}
        if has_straps and draw.random() < 0.2:
            orthosis["vents"] = {"grid": draw.choice(["none", "square"])}
        if orthosis["kind"] in ("pip_extension", "figure_of_eight") and draw.random() < 0.4:
            orthosis["pip_flexion_deg"] = draw.choice([0.0, 25.0, 45.0])
        length, finger = draw.uniform(95.0, 175.0), draw.choice(["index", "middle", "ring", "little"])
        is_built(round(length, 1), finger, draw.choice(["man", "woman"]), orthosis)
