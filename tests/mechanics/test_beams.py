"""Thin curved beams against published values, the integrated beam and the elastica."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from print3d.mechanics.beams import (
    CurvedBeam,
    inner_side_factor,
    opening_strain,
    ring_deflections,
)

BEAM = CurvedBeam(radius_mm=11.0, thickness_mm=2.0, width_mm=6.0, modulus_mpa=3500.0)


def test_a_ring_pressed_across_against_published_values() -> None:
    """Roark's formulas for circular rings (from general knowledge), worked by hand: R 11, b 6, t 2, E 3500, F 5."""
    along, across = ring_deflections(BEAM, 5.0)
    assert BEAM.rigidity_n_mm2 == pytest.approx(3500.0 * 4.0)
    assert along == pytest.approx(0.070723, abs=5e-7)
    assert across == pytest.approx(0.064943, abs=5e-7)


def test_a_half_ring_and_a_slit_ring_are_special_arcs() -> None:
    """Curved bars (Timoshenko): a half ring opens by pi F R^3 / 2 E I, 1.0227 mm here, under F R; a slit ring by 3 pi, under 2 F R."""
    half = CurvedBeam(31.25, 2.5, 20.0, 1800.0)
    straight = 31.25 * 1.25 / half.rigidity_n_mm2
    factor = inner_side_factor(31.25, 2.5)
    assert opening_strain(31.25, 2.5, np.pi / 2, 1.0227) == pytest.approx(straight * factor, rel=1e-4)
    opening = 3.0 * np.pi * 5.0 * 11.0**3 / BEAM.rigidity_n_mm2
    slit = 2.0 * 5.0 * 11.0 / BEAM.rigidity_n_mm2 * inner_side_factor(11.0, 2.0)
    assert opening_strain(11.0, 2.0, np.pi, opening) == pytest.approx(slit)


def test_a_curved_beam_is_strained_more_at_its_inner_side() -> None:
    """Winkler's curved beam, worked by hand: r_i 9, r_o 11.5 gives 1.088 of the straight beam; a thin one is straight."""
    assert inner_side_factor(10.25, 2.5) == pytest.approx(8.7045 / 8.0, abs=1e-5)
    assert inner_side_factor(1000.0, 1.0) == pytest.approx(1.0, abs=5e-4)


@pytest.mark.parametrize("half_angle", [1.0, np.pi / 2, 2.0, 2.5, 2.83, np.pi])
def test_strain_is_that_of_the_moment_at_the_integrated_opening(half_angle: float) -> None:
    """The equations of a curved beam, turned by M / E I per length, integrated from the middle to a lip."""
    force, radius = 0.7, BEAM.radius_mm

    def slope(angle: float, state: np.ndarray) -> list[float]:
        moment = force * radius * (np.cos(angle) - np.cos(half_angle))
        return [moment / BEAM.rigidity_n_mm2 * radius, state[0] * radius * np.sin(angle)]

    turned = solve_ivp(slope, (0.0, half_angle), [0.0, 0.0], rtol=1e-10, atol=1e-12)
    largest = force * radius * (1.0 - np.cos(half_angle))
    stress = largest * 6.0 / (BEAM.width_mm * BEAM.thickness_mm**2) * inner_side_factor(11.0, 2.0)
    found = opening_strain(11.0, 2.0, half_angle, 2.0 * turned.y[1, -1])
    assert found == pytest.approx(stress / BEAM.modulus_mpa, rel=1e-7)


@pytest.mark.parametrize(
    ("half_angle", "pull"), [(np.pi / 2, 6e-4), (2.3, 6e-4), (2.83, 1e-4), (2.83, 5.5e-4), (np.pi, 3e-4)]
)
def test_small_displacements_are_good_enough_for_wide_openings(half_angle: float, pull: float) -> None:
    """Against the elastica, which follows the bent shape: openings of 1 to 7 mm; the formula is 1 % low to 7 % high."""
    opening, curvature = elastica(11.0, half_angle, pull)
    linear = opening_strain(11.0, 2.0, half_angle, opening) / inner_side_factor(11.0, 2.0)
    assert 0.98 < linear / curvature < 1.07
    assert 1.0 < opening < 7.5


def elastica(radius: float, half_angle: float, pull: float) -> tuple[float, float]:
    """Opening and largest change of curvature of an arc under F / E I = `pull` (1 / mm^2) at its lips; wall 2, so curvature is strain."""

    def lip(height: float) -> np.ndarray:
        def slope(_: float, state: np.ndarray) -> list[float]:
            turn = 1.0 / radius - pull * (height - state[2])
            return [turn, np.cos(state[0]), np.sin(state[0])]

        return solve_ivp(slope, (0.0, radius * half_angle), [0.0, 0.0, 0.0], rtol=1e-9, atol=1e-11).y[:, -1]

    straight = radius * (1.0 - np.cos(half_angle))
    height = brentq(lambda guess: lip(guess)[2] - guess, 0.3 * straight, 1.5 * straight)
    return 2.0 * (lip(height)[1] - radius * np.sin(half_angle)), pull * height
