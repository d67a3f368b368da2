"""Four fingers side by side: gaps, webs and spread against positions that are known."""

from dataclasses import replace

import numpy as np
import pytest

from print3d.geometry.frames import apply, inverse
from print3d.inputs.measured import FINGERS
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.four_fingers import FourFingers, build_four_fingers, gap_mm

HAND_LENGTH, SPACING = 190.0, 30.0


@pytest.fixture(scope="module")
def hand() -> FourFingers:
    dimensions = estimate_hand({"hand_length_mm": HAND_LENGTH}, "man")
    return build_four_fingers({name: estimate_finger(name, {}, dimensions) for name in FINGERS}, dimensions)


def twins(hand: FourFingers, apart_mm: float) -> FourFingers:
    """A middle finger, and the same one again as ring finger, so far ulnar of it."""
    middle = hand.rays["middle"]
    ring = replace(middle, mcp_centre=middle.mcp_centre - [0.0, apart_mm, 0.0])
    return FourFingers({**hand.rays, "ring": ring})


def half_breadth(hand: FourFingers, station: float) -> float:
    return float(hand.rays["middle"].limb.half_axes(np.array([station]))[0][0])


def test_the_gap_of_parallel_twins_is_the_distance_less_a_breadth(hand: FourFingers) -> None:
    zone = (34.0, 34.5)
    pair = twins(hand, SPACING)
    expected = SPACING - 2.0 * half_breadth(hand, 34.0)
    assert gap_mm(pair.rays["middle"], pair.rays["ring"], (zone, zone)) == pytest.approx(expected, abs=0.03)


@pytest.mark.parametrize("spread_deg", [5.0, 10.0])
def test_a_spread_twin_moves_away_by_the_sine(hand: FourFingers, spread_deg: float) -> None:
    """Turned about its MCP, a place at lever L moves sideways by L sin d."""
    station = 34.0
    straight, turned = (twins(hand, SPACING).spread({"ring": -spread}) for spread in (0.0, spread_deg))
    place = np.array([[station, 0.0, 0.0]])
    first, second = (apply(each.rays["ring"].hand_from_finger(), place)[0] for each in (straight, turned))
    assert first[1] - second[1] == pytest.approx(station * np.sin(np.radians(spread_deg)), abs=1e-9)
    zone = (station - 1.0, station + 1.0)
    gaps = [gap_mm(each.rays["middle"], each.rays["ring"], (zone, zone)) for each in (straight, turned)]
    assert gaps[1] > gaps[0] + 0.8 * station * np.sin(np.radians(spread_deg))


def test_overlapping_fingers_have_a_negative_gap(hand: FourFingers) -> None:
    zone = (30.0, 38.0)
    pair = twins(hand, half_breadth(hand, 34.0))
    assert gap_mm(pair.rays["middle"], pair.rays["ring"], (zone, zone)) < 0.0


def test_a_finger_encloses_its_axis_and_not_what_lies_outside_its_skin(hand: FourFingers) -> None:
    ray = hand.posed("index", mcp_flexion_deg=35.0).spread({"index": 8.0}).rays["index"]
    skin = ray.skin_points((28.0, 40.0))
    axis = apply(ray.hand_from_finger(), np.array([[28.0, 0.0, 0.3], [40.0, 0.0, 0.3]]))
    middle = axis.mean(axis=0)
    assert ray.encloses(axis).all()
    assert ray.encloses(middle + 0.98 * (skin - middle))[np.abs(skin - middle).max(axis=1) < 12.0].all()
    outward = skin - apply(
        ray.hand_from_finger(), apply(inverse(ray.hand_from_finger()), skin) * [1.0, 0.0, 0.0]
    )
    assert not ray.encloses(skin + 0.02 * outward).any()


def test_a_web_lies_between_facing_sides(hand: FourFingers) -> None:
    for radial, ulnar in zip(FINGERS[:-1], FINGERS[1:], strict=True):
        web = hand.web_between(radial, ulnar)
        for place, name, side in ((web[0], radial, -1.0), (web[1], ulnar, 1.0)):
            ray = hand.rays[name]
            station, lateral, _ = apply(inverse(ray.hand_from_finger()), place[None])[0]
            assert station == pytest.approx(ray.web_mm, abs=1e-9)
            breadth, _ = ray.limb.half_axes(np.array([ray.web_mm]))
            assert lateral == pytest.approx(side * breadth[0], abs=1e-6)


def test_the_web_line_falls_towards_the_little_finger(hand: FourFingers) -> None:
    """MCP centres of ring and little finger lie more proximal (Buchholz, Armstrong and Goldstein 1992): distal grows radially."""
    for name in ("ring", "little"):
        assert hand.web_slopes(name)[0] > 0.0
    assert (
        hand.web_slopes("little")[0] == hand.web_slopes("little")[1]
    )  # goes on straight where there is no web
