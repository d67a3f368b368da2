"""Hollows too tight for a wall are bridged by the least face that a wall can follow, and nothing else is touched."""

import numpy as np
import pytest
import shapely

from print3d.shell.drape import Extent, ScalarMap
from print3d.shell.hollows import LEAST_LEFT, bridged

WALL = 6.0
RADIUS = WALL / (1.0 - LEAST_LEFT)
"""Of the tightest hollow that stays."""
SLOPE, ROUND = 0.3, 3.0
TILT = np.arctan(SLOPE)
EXTENT = Extent((-15.0, 15.0), (-12.0, 12.0), shapely.box(-15, -12, 15, 12))


def flat(along: np.ndarray, around: np.ndarray) -> np.ndarray:
    return np.column_stack([along, around, np.zeros_like(along)])


def rounded_corner(x: np.ndarray) -> np.ndarray:
    """Height over two lines of tilt `TILT` that a circle of radius `ROUND` joins, as a function of the distance from their corner."""
    x = np.abs(x)
    on_circle = ROUND / np.cos(TILT) - np.sqrt(ROUND**2 - np.minimum(x, ROUND * np.sin(TILT)) ** 2)
    return np.where(x < ROUND * np.sin(TILT), on_circle, SLOPE * x)


CORNERS = {
    "valley across": lambda along, around: 1.0 + rounded_corner(along),
    "valley along": lambda along, around: 1.0 + rounded_corner(around),
    "slanting valley": lambda along, around: 1.0 + rounded_corner(0.6 * along + 0.8 * around),
    "pit": lambda along, around: 1.0 + rounded_corner(np.hypot(along, around)),
}


@pytest.mark.parametrize("planned", CORNERS.values(), ids=CORNERS.keys())
def test_valley_and_pit_are_bridged_by_the_circle_that_touches_both_sides(planned: ScalarMap) -> None:
    """Elementary geometry: a circle of radius R between lines of tilt t clears their corner by R (1 / cos t - 1), so that a wider circle
    clears a narrower one by (R - r)(1 / cos t - 1), and touches the lines R sin t from it; turned about its axis it is a sphere in a cone."""
    found = bridged(flat, EXTENT, planned, WALL)
    at = np.zeros(1), np.zeros(1)
    assert found(*at) - planned(*at) == pytest.approx((RADIUS - ROUND) * (1.0 / np.cos(TILT) - 1.0), rel=0.05)
    grid = [each.ravel() for each in np.meshgrid(np.linspace(-14, 14, 57), np.linspace(-11, 11, 45))]
    lift = found(*grid) - planned(*grid)
    beside = planned(*grid) - 1.0 > SLOPE * (RADIUS * np.sin(TILT) + 1.0)
    assert lift.min() > -0.01
    assert np.abs(lift[beside]).max() < 0.01


def test_a_hollow_that_the_wall_can_follow_is_left_as_it_is() -> None:
    def wide(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        return 1.0 + RADIUS * 1.1 - np.sqrt((RADIUS * 1.1) ** 2 - np.clip(along, -8.0, 8.0) ** 2)

    def in_the_gutter(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        """A limb's back is convex: round however tightly, it needs no bridge."""
        return np.column_stack([along, 4.0 * np.sin(around / 4.0), 4.0 * np.cos(around / 4.0)])

    ridge = Extent((-8.0, 8.0), (-6.0, 6.0), shapely.box(-7, -5, 7, 5))
    assert bridged(flat, ridge, wide, WALL) is wide
    assert bridged(in_the_gutter, ridge, lambda along, _: np.ones_like(along), WALL)(
        np.zeros(1), np.zeros(1)
    ) == pytest.approx(1.0, abs=0.0)


def test_the_bridge_grows_from_nothing_with_the_hollow() -> None:
    """A little more slope is a little more lift: no jump where it begins."""

    def lift(curvature: float) -> float:
        found = bridged(flat, EXTENT, lambda along, _: curvature * 9.0 * (1.0 - np.cos(along / 3.0)), WALL)
        return float(found(np.zeros(1), np.zeros(1))[0])

    limit = 1.0 / RADIUS
    lifts = [lift(limit * share) for share in (0.98, 1.05, 1.1, 1.2, 1.4, 1.6)]
    assert lifts[0] == 0.0
    assert (np.diff(lifts) > 0.0).all()
    assert lifts[1] < 0.02


def test_what_no_clearance_helps_is_left_as_planned() -> None:
    """A notch in the skin sharper than the clearance: its face is folded however far it stands off."""

    def notch(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        return np.column_stack([along, around, 6.0 * np.abs(along)])

    def planned(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        return np.full_like(along, 3.0)

    assert bridged(notch, EXTENT, planned, WALL) is planned
