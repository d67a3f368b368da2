"""Superellipse sections against standard formulas.

Perimeters and areas: ellipse by Ramanujan's second formula, superellipse area 4 a b Gamma(1+1/n)^2 / Gamma(1+2/n); the
tabulated values are the project's reference notes 6.2, computed from those formulas.
"""

import numpy as np
import pytest

from print3d.geometry.section import angle_at_fraction, area, perimeter, radius, solve_half_axes


def ramanujan(a: float, b: float) -> float:
    h = ((a - b) / (a + b)) ** 2
    return np.pi * (a + b) * (1 + 3 * h / (10 + np.sqrt(4 - 3 * h)))


@pytest.mark.parametrize(
    ("breadth", "depth", "expected"),
    [
        (21, 19, 62.871), (18, 16, 53.453), (17, 14, 48.809), (22, 18, 62.989),
        (60, 42, 161.471), (50, 36, 135.985), (70, 50, 189.807),
    ],
)  # fmt: skip
def test_ellipse_perimeter(breadth: float, depth: float, expected: float) -> None:
    found = float(perimeter(breadth / 2, depth / 2, 2.0))
    assert found == pytest.approx(expected, abs=6e-4)
    assert found == pytest.approx(ramanujan(breadth / 2, depth / 2), rel=1e-6)


@pytest.mark.parametrize(
    ("half_breadth", "half_depth", "exponent", "expected"),
    [
        (30, 21, 2.0, 161.471), (30, 21, 2.5, 167.931), (30, 21, 3.0, 172.816), (30, 21, 4.0, 179.561),
        (9, 8, 2.5, 55.684), (9, 8, 3.0, 57.363), (10.5, 9.5, 2.5, 65.498), (10.5, 9.5, 3.0, 67.476),
    ],
)  # fmt: skip
def test_superellipse_perimeter(
    half_breadth: float, half_depth: float, exponent: float, expected: float
) -> None:
    assert float(perimeter(half_breadth, half_depth, exponent)) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(
    ("exponent", "expected"), [(2.0, 1979.203), (2.5, 2129.989), (3.0, 2225.965), (4.0, 2336.134)]
)
def test_superellipse_area(exponent: float, expected: float) -> None:
    assert area(30, 21, exponent) == pytest.approx(expected, abs=1e-3)
    phi = np.linspace(0, 2 * np.pi, 200_001)[:-1]
    polar = 0.5 * np.mean(radius(phi, 30, 21, exponent) ** 2) * 2 * np.pi
    assert polar == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("girth", "ratio", "breadth", "depth"),
    [
        (62, 0.90, 20.760, 18.684), (53, 0.88, 17.929, 15.778), (175.9, 0.70, 65.362, 45.753),
        (154.8, 0.70, 57.521, 40.265), (310, 0.80, 109.302, 87.442), (264, 0.80, 93.083, 74.467),
    ],
)  # fmt: skip
def test_half_axes_from_girth(girth: float, ratio: float, breadth: float, depth: float) -> None:
    half_breadth, half_depth = solve_half_axes(girth, ratio, 2.0)
    assert 2 * float(half_breadth) == pytest.approx(breadth, abs=6e-4)
    assert 2 * float(half_depth) == pytest.approx(depth, abs=6e-4)


@pytest.mark.parametrize("exponent", [2.0, 2.5, 3.0, 4.0])
def test_solving_and_measuring_are_inverse(exponent: float) -> None:
    girths = np.linspace(40, 320, 29)
    ratios = np.linspace(0.6, 1.1, 29)
    half_breadth, half_depth = solve_half_axes(girths, ratios, exponent)
    np.testing.assert_allclose(perimeter(half_breadth, half_depth, exponent), girths, rtol=1e-12)


@pytest.mark.parametrize("ratio", [0.6, 0.9, 1.0])
def test_fractions_are_arc_lengths(ratio: float) -> None:
    fraction = np.linspace(0.0, 1.0, 4001)[:-1]
    angle = angle_at_fraction(fraction, ratio, 2.5)
    reach = radius(angle, 1.0, ratio, 2.5)
    points = np.column_stack([reach * np.sin(angle), reach * np.cos(angle)])
    steps = np.linalg.norm(np.diff(np.vstack([points, points[:1]]), axis=0), axis=1)
    assert steps.max() / steps.min() < 1.003
    assert steps.sum() == pytest.approx(float(perimeter(1.0, ratio, 2.5)), rel=1e-5)
    np.testing.assert_allclose(angle[[0, 1000, 2000, 3000]], np.pi / 2 * np.arange(4), atol=1e-12)
    assert (np.diff(angle) > 0).all()
