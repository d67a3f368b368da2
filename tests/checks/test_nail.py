"""Nail in sight: measured on the finished shell, for every kind that covers a fingertip; a window that is closed is found."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.checks.nail import LEAST_MM2, WATCH_MM2, applies_to, check_nail
from print3d.forms.orthosis import Orthosis
from print3d.inputs.case import Case
from print3d.kinds.registry import KINDS
from print3d.limb.finger import FingerLimb
from print3d.limb.nail import cells_of, nail_grid, nail_span

MakeCase = Callable[..., Case]
TIPS: dict[str, dict[str, Any]] = {
    "mallet, palm side": {"kind": "mallet"},
    "mallet, back": {"kind": "mallet", "form": "dorsal"},
    "mallet, sleeve": {"kind": "mallet", "form": "sleeve"},
    "mallet and block": {"kind": "mallet_with_pip_block"},
    "mallet and block, two pieces": {"kind": "mallet_with_pip_block", "pieces": "two"},
}
BARE: dict[str, Any] = {"vents": {"grid": "none"}, "marking": {"style": "none"}}


def nails(case: Case) -> list[Finding]:
    return check_nail(KINDS[case.orthosis.kind].build(case), limits_of_case(case))


@pytest.mark.parametrize("options", TIPS.values(), ids=TIPS)
def test_a_fifth_of_the_nail_shows_in_every_default_design_over_a_fingertip(
    options: dict[str, Any], make_case: MakeCase
) -> None:
    (found,) = nails(make_case(options))
    assert found.holds
    assert found.measured >= WATCH_MM2
    assert not found.is_watched


@pytest.mark.parametrize(
    "options",
    [{"kind": "pip_extension"}, {"kind": "figure_of_eight"}, {"kind": "relative_motion"}],
    ids=lambda each: str(each["kind"]),
)
def test_what_ends_before_the_nail_is_not_asked(options: dict[str, Any], make_case: MakeCase) -> None:
    case = make_case(options)
    assert not applies_to(KINDS[case.orthosis.kind].build(case), limits_of_case(case))


def test_a_closed_shell_over_the_nail_is_found(make_case: MakeCase) -> None:
    """Planted: a dorsal gutter moved distally by half a nail, without vents; before, half the nail looks out."""
    case = make_case({"kind": "mallet", "form": "dorsal", **BARE})
    orthosis = KINDS["mallet"].build(case)
    (part,) = orthosis.parts
    moved: Orthosis = replace(
        orthosis,
        parts=(
            replace(
                part,
                shell=replace(
                    part.shell,
                    mesh=replace(part.shell.mesh, vertices=part.shell.mesh.vertices + [7.0, 0.0, 0.0]),
                ),
            ),
        ),
    )
    (found,) = check_nail(moved, limits_of_case(case))
    assert found.measured < LEAST_MM2
    assert not found.holds


def test_a_nail_is_as_large_as_its_outline(middle_finger: FingerLimb) -> None:
    """Seen from above a superellipse of exponent 4, of which the curved plate is a little more; twice the points, the same area."""
    span = nail_span(middle_finger)
    flat = 0.927 * 2.0 * span.half_breadth_mm * (span.last_mm - span.first_mm)
    found = [float(cells_of(nail_grid(middle_finger, n, n))[2].sum()) for n in (41, 81)]
    assert found[0] == pytest.approx(found[1], rel=0.01)
    assert 0.9 * flat < found[1] < 1.35 * flat
    assert np.all(cells_of(nail_grid(middle_finger, 41, 41))[1][:, 2] > -0.6)
