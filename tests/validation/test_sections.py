"""Superellipse sections against standard formulas.

Perimeters and areas: ellipse by Ramanujan's second formula and by the complete elliptic integral, superellipse area
4 a b Gamma(1+1/n)^2 / Gamma(1+2/n), superellipse perimeter by adaptive quadrature of z(y) = b (1 - (y/a)^n)^(1/n). The
tabulated values are worked from those formulas.
"""

import time
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipe

from print3d.geometry.cross_section import (
    EXPONENT_RANGE,
    angle_at_fraction,
    area,
    perimeter,
    radius,
    solve_half_axes,
)

EXPONENTS = [2.0, 2.2, 2.5, 3.0, 3.6, 4.0]
RATIOS = [0.42, 0.6, 0.9, 1.0, 1.3]
FLAT = 0.25  # flatter than any hand


def ramanujan(a: float, b: float) -> float:
    h = ((a - b) / (a + b)) ** 2
    return np.pi * (a + b) * (1 + 3 * h / (10 + np.sqrt(4 - 3 * h)))


def flat_arc(across: float, deep: float, n: float, upto: float) -> float:
    """Length of z(y) from the axis y = 0 to y = `upto`, up to the point where both terms of the equation are 1/2."""

    def speed(y: float) -> float:
        t = (y / across) ** n
        return np.hypot(1.0, deep / across * (y / across) ** (n - 1) * (1 - t) ** (1 / n - 1))

    return quad(speed, 0.0, upto, epsabs=0.0, epsrel=1e-12, limit=200)[0]


def quarter_arcs(a: float, b: float, n: float) -> tuple[float, float]:
    """Arc from dorsal to the middle point of the equation, and from there to radial."""
    half = 0.5 ** (1 / n)
    return flat_arc(a, b, n, a * half), flat_arc(b, a, n, b * half)


def arc_to(phi: float, a: float, b: float, n: float) -> float:
    """Arc length from dorsal to the direction `phi` of the first quarter."""
    reach = float(radius(phi, a, b, n))
    y, z = reach * np.sin(phi), reach * np.cos(phi)
    if (y / a) ** n <= 0.5:
        return flat_arc(a, b, n, y)
    return sum(quarter_arcs(a, b, n)) - flat_arc(b, a, n, z)


@pytest.mark.parametrize(
    ("breadth", "depth", "expected"),
    [
        (21, 19, 62.871), (18, 16, 53.453), (17, 14, 48.809), (22, 18, 62.989),
        (60, 42, 161.471), (50, 36, 135.985), (70, 50, 189.807),
    ],
)  # fmt: skip
def test_ellipse_perimeter(breadth: float, depth: float, expected: float) -> None:
    found = float(perimeter(breadth / 2, depth / 2, 2.0))
    assert found == pytest.approx(expected, abs=5.1e-4)
    assert found == pytest.approx(ramanujan(breadth / 2, depth / 2), rel=1e-6)
    assert found == pytest.approx(2 * breadth * ellipe(1 - (depth / breadth) ** 2), rel=1e-13)


@pytest.mark.parametrize(
    ("half_breadth", "half_depth", "exponent", "expected"),
    [
        (30, 21, 2.0, 161.471), (30, 21, 2.5, 167.931), (30, 21, 3.0, 172.816), (30, 21, 4.0, 179.561),
        (9, 8, 2.0, 53.453), (9, 8, 2.5, 55.684), (9, 8, 3.0, 57.363),
        (10.5, 9.5, 2.0, 62.871), (10.5, 9.5, 2.5, 65.498), (10.5, 9.5, 3.0, 67.476),
    ],
)  # fmt: skip
def test_superellipse_perimeter(
    half_breadth: float, half_depth: float, exponent: float, expected: float
) -> None:
    assert float(perimeter(half_breadth, half_depth, exponent)) == pytest.approx(expected, abs=5.1e-4)


@pytest.mark.parametrize("exponent", EXPONENTS)
@pytest.mark.parametrize("ratio", [FLAT, *RATIOS])
def test_perimeters_agree_with_adaptive_quadrature(ratio: float, exponent: float) -> None:
    exact = 4 * sum(quarter_arcs(1.0, ratio, exponent))
    assert float(perimeter(1.0, ratio, exponent)) == pytest.approx(exact, rel=1e-8)


def test_perimeter_grows_from_the_ellipse_to_the_rectangle() -> None:
    exponents = np.linspace(2.0, 4.0, 21)
    found = perimeter(np.full(21, 9.0), np.full(21, 8.0), exponents)
    assert (np.diff(found) > 0).all()
    assert found[0] == pytest.approx(ramanujan(9, 8), rel=1e-6)
    assert found[-1] < 4 * (9 + 8)


@pytest.mark.parametrize("exponent", EXPONENTS)
def test_perimeter_is_homogeneous_and_does_not_care_which_axis_is_which(exponent: float) -> None:
    assert float(perimeter(27, 24, exponent)) == pytest.approx(
        3 * float(perimeter(9, 8, exponent)), rel=1e-14
    )
    assert float(perimeter(8, 9, exponent)) == pytest.approx(float(perimeter(9, 8, exponent)), rel=1e-9)


@pytest.mark.parametrize(
    ("exponent", "expected"), [(2.0, 1979.203), (2.5, 2129.989), (3.0, 2225.965), (4.0, 2336.134)]
)
def test_superellipse_area(exponent: float, expected: float) -> None:
    assert area(30, 21, exponent) == pytest.approx(expected, abs=5.1e-4)
    phi = np.linspace(0, 2 * np.pi, 200_001)[:-1]
    polar = 0.5 * np.mean(radius(phi, 30, 21, exponent) ** 2) * 2 * np.pi
    assert polar == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("exponent", EXPONENTS)
def test_the_polar_form_satisfies_the_equation_of_the_section(exponent: float) -> None:
    phi = np.linspace(0, 2 * np.pi, 101)
    reach = radius(phi, 10.5, 9.5, exponent)
    y, z = reach * np.sin(phi), reach * np.cos(phi)
    np.testing.assert_allclose(np.abs(y / 10.5) ** exponent + np.abs(z / 9.5) ** exponent, 1.0, rtol=1e-13)


@pytest.mark.parametrize(
    ("girth", "ratio", "breadth", "depth"),
    [
        (62, 0.90, 20.760, 18.684), (53, 0.88, 17.929, 15.778), (175.9, 0.70, 65.362, 45.753),
        (154.8, 0.70, 57.521, 40.265), (310, 0.80, 109.302, 87.442), (264, 0.80, 93.083, 74.467),
    ],
)  # fmt: skip
def test_half_axes_from_girth(girth: float, ratio: float, breadth: float, depth: float) -> None:
    half_breadth, half_depth = solve_half_axes(girth, ratio, 2.0)
    assert 2 * float(half_breadth) == pytest.approx(breadth, abs=5.1e-4)
    assert 2 * float(half_depth) == pytest.approx(depth, abs=5.1e-4)


def test_solving_and_measuring_are_inverse() -> None:
    girths = np.linspace(40, 320, 29)
    ratios = np.linspace(0.6, 1.1, 29)
    for exponent in (2.0, 2.5, 4.0, np.linspace(2.0, 4.0, 29)):
        half_breadth, half_depth = solve_half_axes(girths, ratios, exponent)
        np.testing.assert_allclose(perimeter(half_breadth, half_depth, exponent), girths, rtol=1e-12)
        np.testing.assert_allclose(half_depth / half_breadth, ratios, rtol=1e-12)


@pytest.mark.parametrize("exponent", EXPONENTS)
@pytest.mark.parametrize("ratio", [FLAT, *RATIOS])
def test_angles_belong_to_their_fractions_of_the_girth(ratio: float, exponent: float) -> None:
    """Good to 1e-6 rad; the arc by adaptive quadrature, one radian being at most the longer half-axis or so."""
    girth = 4 * sum(quarter_arcs(1.0, ratio, exponent))
    for fraction in (1e-4, 0.01, 0.06, 0.1234, 0.17, 0.24, 0.2499):
        angle = float(angle_at_fraction(fraction, ratio, exponent))
        arc = arc_to(angle, 1.0, ratio, exponent)
        assert abs(arc - fraction * girth) / float(radius(angle, 1.0, ratio, exponent)) < 1e-6


@pytest.mark.parametrize("exponent", EXPONENTS)
@pytest.mark.parametrize("ratio", RATIOS)
def test_angles_are_monotone_symmetric_and_exact_on_the_axes(ratio: float, exponent: float) -> None:
    fraction = np.arange(4000) / 4000
    angle = angle_at_fraction(fraction, ratio, exponent)
    np.testing.assert_allclose(angle[::1000], np.pi / 2 * np.arange(4), rtol=0, atol=1e-14)
    assert (np.diff(angle) > 0).all()
    np.testing.assert_allclose(angle[1:] + angle[:0:-1], 2 * np.pi, rtol=0, atol=1e-12)
    np.testing.assert_allclose(angle[1:2000] + angle[1999:0:-1], np.pi, rtol=0, atol=1e-12)
    # the same section lying on its side
    turned = angle_at_fraction(0.25 - fraction[:1001], 1 / ratio, exponent)
    np.testing.assert_allclose(turned[1:] + angle[1:1001], np.pi / 2, rtol=0, atol=1e-6)


@pytest.mark.parametrize("exponent", [2.0, 2.5, 4.0])
def test_a_circle_of_steps_has_no_kink_at_the_axes(exponent: float) -> None:
    """Chords of equal arc change little from one to the next, on the axes too."""
    fraction = (np.arange(4000) + 0.5) / 4000
    angle = angle_at_fraction(fraction, 0.9, exponent)
    reach = radius(angle, 1.0, 0.9, exponent)
    points = np.column_stack([reach * np.sin(angle), reach * np.cos(angle)])
    chords = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    assert chords.sum() == pytest.approx(float(perimeter(1.0, 0.9, exponent)), rel=2e-6)
    assert chords.max() / chords.min() < 1 + 1e-4


def test_whole_turns_do_not_matter() -> None:
    fraction = np.array([0.1, 0.3, 0.6, 0.9])
    for turns in (-1.0, 1.0, 7.0):
        np.testing.assert_allclose(
            angle_at_fraction(fraction + turns, 0.9, 2.5), angle_at_fraction(fraction, 0.9, 2.5), atol=1e-12
        )


def test_points_may_have_their_own_ratio_and_exponent() -> None:
    rng = np.random.default_rng(5)
    fraction, ratio = rng.random(60), rng.uniform(0.5, 1.3, 60)
    exponent = rng.uniform(2.0, 4.0, 60)
    together = angle_at_fraction(fraction, ratio, exponent)
    one_by_one = [float(angle_at_fraction(*each)) for each in zip(fraction, ratio, exponent, strict=True)]
    np.testing.assert_allclose(together, one_by_one, rtol=0, atol=1e-6)


@pytest.mark.parametrize(
    "exponent", [lambda n: 2.5, lambda n: np.linspace(*EXPONENT_RANGE, n)], ids=["shared", "own"]
)
def test_two_thousand_points_take_less_than_10_ms(exponent: Callable[[int], float]) -> None:
    fraction, ratio, power = np.linspace(0, 1, 2000), np.linspace(0.6, 1.1, 2000), exponent(2000)
    spent = []
    for _ in range(12):  # the first one builds the tables
        start = time.process_time()
        angle_at_fraction(fraction, ratio, power)
        spent.append(time.process_time() - start)
    assert min(spent) < 0.010


@pytest.mark.parametrize(
    ("ratio", "exponent", "message"),
    [
        (0.1, 2.5, "depth ratio 0.1"),
        (3.0, 2.5, "depth ratio"),
        (0.9, np.array([2.5, 7.0]), "exponent 2.5 to 7"),
    ],
)
def test_beyond_the_tables_nothing_is_guessed(ratio: float, exponent: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        angle_at_fraction(np.array([0.1, 0.2]), ratio, exponent)
