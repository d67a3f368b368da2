"""Two hundred random hands: every finger kind is built whole or refused in words, never a bad body."""

import re
from typing import Any

import numpy as np
import pytest

from print3d.checks.integrity import check_integrity
from print3d.checks.limits import limits_of_case
from print3d.errors import LimbError, ShapingError
from print3d.inputs.case import Case, case_from_data
from print3d.orthoses.built import Orthosis
from print3d.orthoses.registry import KINDS
from tests.conftest import CASES, is_closed
from tests.sweep.people import random_person

HANDS = 200
BLOCK = 20
"""Hands of one test."""


def random_designs(seed: int) -> list[dict[str, Any]]:
    rng = np.random.default_rng(seed)
    straps = {"style": "wrap"}
    return [
        {"kind": "figure_of_eight", "blocks": "extension", "pip_flexion_deg": float(rng.integers(0, 41))},
        {"kind": "figure_of_eight", "blocks": "flexion", "pip_flexion_deg": float(rng.integers(0, 41))},
        {"kind": "mallet_with_pip_block", "pip_flexion_deg": float(rng.integers(20, 41)), "straps": straps},
        {
            "kind": "mallet_with_pip_block",
            "pieces": "two",
            "pip_flexion_deg": float(rng.integers(20, 36)),
            "straps": straps,
            "vents": {"grid": "none"},
        },
        {
            "kind": "relative_motion",
            "injured_finger": str(rng.choice(["more_extended", "more_flexed"])),
            "fingers": str(rng.choice(["three", "four"])),
            "mcp_difference_deg": float(rng.integers(15, 26)),
        },
    ]


def built_or_refused(case: Case[Any]) -> Orthosis | None:
    """Return the orthosis, or None after a refusal that names numbers."""
    try:
        return KINDS[case.orthosis.kind].build(case)
    except (LimbError, ShapingError) as refusal:
        message = str(refusal)
    assert re.search(r"\d", message), message
    return None


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, HANDS, BLOCK))
def test_random_hands_give_whole_bodies_or_a_clear_refusal(first: int) -> None:
    kinds = {name: kind.options for name, kind in KINDS.items()}
    built = 0
    for seed in range(first, first + BLOCK):
        for number, orthosis in enumerate(random_designs(seed)):
            case = case_from_data(random_person(seed) | {"orthosis": orthosis}, kinds, CASES / "made.toml")
            made = built_or_refused(case)
            if made is None:
                continue
            built += 1
            for part in made.parts:
                assert is_closed(part.mesh.mesh), (seed, number)
                assert part.mesh.mesh.volume_mm3() > 0.0
            broken = [
                finding.what for finding in check_integrity(made, limits_of_case(case)) if not finding.holds
            ]
            assert not broken, (seed, number, broken)
    assert built >= 2 * BLOCK
