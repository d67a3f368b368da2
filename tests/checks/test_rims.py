"""Rims: round ones read their radius, square ones read sharp, whatever circle would fit the whole corner."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from print3d.checks.limits import limits_of_case
from print3d.checks.rims import check_rims, measure_rim_radii
from print3d.checks.suite import run_suite
from print3d.orthoses import finger_shell, pip_extension
from print3d.shell.definition import ShellDefinition

OPTIONS = {"kind": "pip_extension", "marking": {"style": "none"}}


class SquareShell(ShellDefinition):
    """Rims with as many rows as round ones, laid along the two sides of a square corner."""

    def rim_profile(self) -> np.ndarray:
        round_rim = super().rim_profile()
        rows = len(round_rim) // 2
        share, radius = np.linspace(0.0, 2.0, rows), self.rim_radius_mm
        lower = radius * np.column_stack([np.clip(1.0 - share, 0.0, 1.0), np.clip(share - 1.0, 0.0, 1.0)])
        upper = np.column_stack([lower[::-1, 0], self.wall_mm - lower[::-1, 1]])
        return np.vstack([lower, round_rim[rows : len(round_rim) - rows], upper])


@pytest.mark.parametrize("radius", [0.5, 0.7, 0.9])
def test_a_round_rim_reads_its_radius(make_case: Callable[..., Any], radius: float) -> None:
    """On the loop's average; where the pattern stretches or shrinks on the skin, rims are ellipses."""
    case = make_case({**OPTIONS, "rim_radius_mm": radius})
    part = pip_extension.build(case).parts[0]
    radii = np.concatenate([measure_rim_radii(part, number) for number in range(len(part.mesh.rims))])
    assert np.median(radii) == pytest.approx(radius, rel=0.12)
    assert radii.min() > 0.6 * radius


def test_square_rims_are_found_and_nothing_else(
    make_case: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A circle through both ends and the corner of a 0.9 mm square rim has radius 0.64 mm, above the limit."""
    monkeypatch.setattr(finger_shell, "ShellDefinition", SquareShell)
    case = make_case(OPTIONS)
    orthosis = pip_extension.build(case)
    (finding,) = check_rims(orthosis, limits_of_case(case))
    assert finding.measured < 0.45
    assert {each.check for each in run_suite(orthosis, limits_of_case(case)) if not each.holds} == {"rims"}


def test_the_sharpest_of_all_rims_decides(make_case: Callable[..., Any]) -> None:
    """The corner rows of one vent are pulled out to a point at one place."""
    case = make_case(OPTIONS)
    orthosis = pip_extension.build(case)
    part = orthosis.parts[0]
    vertices, rim = part.mesh.mesh.vertices.copy(), part.mesh.rims[-1]
    quarter = len(part.definition.rim_profile()) // 2
    corner = vertices[rim[quarter // 2, 5]]
    vertices[rim[quarter // 2, 5]] += 0.5 * (corner - vertices[[rim[0, 5], rim[quarter - 1, 5]]].mean(axis=0))
    sharp = replace(part, mesh=replace(part.mesh, mesh=replace(part.mesh.mesh, vertices=vertices)))
    (finding,) = check_rims(replace(orthosis, parts=(sharp,)), limits_of_case(case))
    assert not finding.holds
    assert finding.where == pytest.approx(vertices[rim[0, 5]], abs=0.002)
