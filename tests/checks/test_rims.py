"""Rims: round ones read their radius, square ones read sharp, whatever circle would fit the whole corner."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.spatial import KDTree

from print3d.checks.limits import edge_limit, limits_of_case
from print3d.checks.rims import FACET_MM, check_rims, measure_rim_radii, radius_of_bend
from print3d.checks.suite import run_suite
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.kinds.registry import KINDS
from print3d.shell import assemble
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


class ChamferedShell(ShellDefinition):
    """Rims with as many rows as round ones, laid along a flat of 45 degrees on either side of a straight wall."""

    def rim_profile(self) -> np.ndarray:
        rows = len(super().rim_profile()) // 2
        share, radius = np.linspace(0.0, 1.0, rows), self.rim_radius_mm
        lower = radius * np.column_stack([1.0 - share, share])
        return np.vstack([lower, np.column_stack([lower[::-1, 0], self.wall_mm - lower[::-1, 1]])])


@pytest.mark.parametrize("radius", [0.5, 0.7, 0.9])
def test_a_round_rim_reads_its_radius(make_case: Callable[..., Any], radius: float) -> None:
    """Everywhere: the pattern stretches or gathers on the skin, rims are made as wide as they are measured there."""
    case = make_case({**OPTIONS, "rim_radius_mm": radius})
    part = pip_extension.KIND.build(case).parts[0]
    radii = np.concatenate(measure_rim_radii(part))
    assert np.median(radii) == pytest.approx(radius, rel=0.06)
    assert radii.min() > 0.9 * radius


@pytest.mark.parametrize(
    ("wall_mm", "least_mm"), [(3.0, 1.0), (2.7, 1.0), (2.4, 0.9), (2.0, 0.75), (1.6, 0.6), (1.0, 0.5)]
)
def test_an_edge_on_skin_is_as_round_as_the_trade_makes_it_or_the_wall_allows(
    make_case: Callable[..., Any], wall_mm: float, least_mm: float
) -> None:
    """1 mm or more: common practice; three quarters of half a thinner wall; what the printer keeps (0.5 mm) in any case."""
    limits = limits_of_case(make_case(OPTIONS))
    limit = edge_limit(limits.skin_edge_mm, wall_mm, limits.rim_radius_mm)
    assert limit.value == pytest.approx(least_mm)
    assert "common practice" in limit.source.said("en")
    assert (f"a wall of {wall_mm:g} mm allows" in limit.source.said("en")) == (wall_mm < 2.6)


@pytest.mark.parametrize(("radius", "holds"), [(0.9, True), (0.7, False)])
def test_an_edge_sharper_than_its_wall_allows_is_found(
    make_case: Callable[..., Any], radius: float, holds: bool
) -> None:
    """A wall of 2 mm allows 0.75 mm."""
    case = make_case({**OPTIONS, "rim_radius_mm": radius})
    edge, fold = check_rims(pip_extension.KIND.build(case), limits_of_case(case))
    assert (edge.holds, fold.holds) == (holds, True)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_rounds_its_edges_as_it_is_asked_for(kind: str, make_case: Callable[..., Any]) -> None:
    """With a tenth to spare for what draping bends, in each part that has a rounding of its own."""
    fields = KINDS[kind].options.model_fields
    asked = [(fields["wall_mm"].default, fields["rim_radius_mm"].default)]
    if "ring" in fields:
        ring = fields["ring"].get_default(call_default_factory=True)
        asked.append((ring.wall_mm, ring.rim_radius_mm))
    limits = limits_of_case(make_case(OPTIONS))
    for wall, radius in asked:
        limit = edge_limit(limits.skin_edge_mm, wall, limits.rim_radius_mm)
        assert 0.9 * radius >= limit.value
        assert radius < wall / 2


def test_square_rims_are_found_and_nothing_else(
    make_case: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A circle through both ends and the corner of a 0.9 mm square rim has radius 0.64 mm, above the limit."""
    monkeypatch.setattr(assemble, "ShellDefinition", SquareShell)
    case = make_case(OPTIONS)
    orthosis = pip_extension.KIND.build(case)
    assert all(finding.measured < 0.45 for finding in check_rims(orthosis, limits_of_case(case)))
    assert {each.check for each in run_suite(orthosis, limits_of_case(case)) if not each.holds} == {"rims"}


def test_a_flat_chamfer_is_no_rounding(
    make_case: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It has no circle, only two bends of 45 degrees: 0.03 mm / (1 / cos 22.5 - 1) = 0.364 mm (plane geometry)."""
    monkeypatch.setattr(assemble, "ShellDefinition", ChamferedShell)
    case = make_case(OPTIONS)
    orthosis = pip_extension.KIND.build(case)
    edge, fold = check_rims(orthosis, limits_of_case(case))
    radii = measure_rim_radii(orthosis.parts[0])[0]
    assert np.median(radii) == pytest.approx(0.364, rel=0.1)
    assert max(edge.measured, fold.measured) < 0.4
    found = {each.check for each in run_suite(orthosis, limits_of_case(case)) if not each.holds}
    assert {"rims"} <= found <= {"rims", "wall"}  # the bevels take a little of the wall beside them


def test_a_bend_reads_the_arc_inside_it() -> None:
    """A square corner rounded with radius r is left by r (sqrt 2 - 1)."""
    assert radius_of_bend(np.radians(90.0)) == pytest.approx(FACET_MM / (np.sqrt(2.0) - 1.0))
    assert radius_of_bend(np.zeros(1)) > 1e3


def test_a_spike_on_the_skin_side(make_case: Callable[..., Any]) -> None:
    """One vertex of the inner face stands out by 0.6 mm: no edge of the pattern, but a point on the skin."""
    case = make_case(OPTIONS)
    orthosis = pip_extension.KIND.build(case)
    shell = orthosis.parts[0].shell
    vertices = shell.mesh.vertices.copy()
    rimmed = np.concatenate([rim.ravel() for rim in shell.rims])
    far, _ = KDTree(vertices[rimmed]).query(vertices[shell.inner_vertices])
    spot = int(np.argmax(far))
    inner, outer = vertices[shell.inner_vertices[spot]], vertices[shell.outer_vertices[spot]]
    vertices[shell.inner_vertices[spot]] = inner + 0.6 * (inner - outer) / np.linalg.norm(inner - outer)
    spiked = replace(shell, mesh=replace(shell.mesh, vertices=vertices))
    edge, fold = check_rims(
        replace(orthosis, parts=(replace(orthosis.parts[0], shell=spiked),)), limits_of_case(case)
    )
    assert edge.holds
    assert not fold.holds
    assert np.linalg.norm(np.subtract(fold.where, inner)) < 1.0


def test_the_sharpest_of_all_rims_decides(make_case: Callable[..., Any]) -> None:
    """The corner rows of one vent are pulled out to a point at one place."""
    case = make_case(OPTIONS)
    orthosis = pip_extension.KIND.build(case)
    part = orthosis.parts[0]
    vertices, rim = part.shell.mesh.vertices.copy(), part.shell.rims[-1]
    quarter = len(part.definition.rim_profile()) // 2
    corner = vertices[rim[quarter // 2, 5]]
    vertices[rim[quarter // 2, 5]] += 0.5 * (corner - vertices[[rim[0, 5], rim[quarter - 1, 5]]].mean(axis=0))
    sharp = replace(part, shell=replace(part.shell, mesh=replace(part.shell.mesh, vertices=vertices)))
    finding, fold = check_rims(replace(orthosis, parts=(sharp,)), limits_of_case(case))
    assert not finding.holds
    assert not fold.holds
    assert np.linalg.norm(np.subtract(fold.where, vertices[rim[quarter // 2, 5]])) < 1.0
    assert finding.where == pytest.approx(vertices[rim[0, 5]], abs=0.002)
