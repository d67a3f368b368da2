"""Three-point systems: worked examples, and the bed of skin that gives the same where it bears in three places."""

import numpy as np
import pytest

from print3d.checks.skin_limits import skin_limits
from print3d.mechanics.bearing import Bed, pressures, zone_of
from print3d.mechanics.three_point import (
    area_mm2,
    force_of_grams,
    hand_weight,
    mmhg,
    pressure_kpa,
    three_point,
)
from tests.checks.made import pressed

CAPILLARY_KPA = 4.266


def test_two_hundred_grams_at_a_finger() -> None:
    """200 g at 22 mm, proximal lever 30 mm: worked by hand from F1 a = F3 b and F2 = F1 + F3."""
    assert force_of_grams(200.0) == pytest.approx(1.96133, abs=5e-6)
    system = three_point(force_of_grams(200.0), 30.0, 22.0)
    assert system.proximal_n == pytest.approx(1.4383, abs=5e-5)
    assert system.middle_n == pytest.approx(3.3996, abs=5e-5)
    assert system.moment_n_mm == pytest.approx(43.15, abs=5e-3)


@pytest.mark.parametrize(("area", "kpa", "in_mmhg"), [(150, 22.66, 170), (210, 16.19, 121), (400, 8.50, 64)])
def test_its_pressure_on_the_strap(area: float, kpa: float, in_mmhg: int) -> None:
    found = pressure_kpa(three_point(force_of_grams(200.0), 30.0, 22.0).middle_n, area)
    assert found == pytest.approx(kpa, abs=5e-3)
    assert round(mmhg(found)) == in_mmhg


def test_the_area_that_capillaries_would_take() -> None:
    middle = three_point(force_of_grams(200.0), 30.0, 22.0).middle_n
    assert round(area_mm2(middle, CAPILLARY_KPA), 1) == 796.9


def test_a_hand_on_a_wrist_orthosis() -> None:
    """Body 80 kg, hand 193 mm; palm bar at 70 mm, forearm 268 mm with its strap at two thirds."""
    weight, moment = hand_weight(193.0, 80.0)
    assert weight == pytest.approx(4.786, abs=5e-4)
    assert moment / weight == pytest.approx(69.94, abs=5e-3)
    assert moment / 1000.0 == pytest.approx(0.3347, abs=5e-5)
    palm, strap = moment / 70.0, moment / (268.0 * 2.0 / 3.0)
    assert palm == pytest.approx(4.782, abs=5e-4)
    assert strap == pytest.approx(1.8735, abs=5e-5)
    system = three_point(palm, 268.0 * 2.0 / 3.0, 70.0)
    assert system.middle_n == pytest.approx(6.655, abs=1e-3)
    assert system.proximal_n == pytest.approx(strap, rel=1e-6)
    assert pressure_kpa(palm, 60.0 * 20.0) == pytest.approx(3.985, abs=5e-4)
    assert pressure_kpa(strap, 50.0 * 60.0) == pytest.approx(0.625, abs=1e-3)
    assert three_point(palm, 2.0 * 268.0 * 2.0 / 3.0, 70.0).proximal_n == pytest.approx(strap / 2.0)


def test_a_middle_force_beside_the_joint_works_harder() -> None:
    """Moments about either end: 1 N at 22 mm, proximal lever 30 mm, the strap 20 mm proximal: 4.2 N and 5.2 N."""
    system = three_point(1.0, 30.0, 22.0, 20.0)
    assert (system.proximal_n, system.middle_n) == pytest.approx((4.2, 5.2))
    assert system.proximal_n * 30.0 - system.middle_n * 20.0 == pytest.approx(system.moment_n_mm)
    with pytest.raises(ValueError, match="31 mm from the joint cannot balance levers of 30 mm"):
        three_point(1.0, 30.0, 22.0, 31.0)


def judged(kpa: float, hours: float) -> str:
    limits = skin_limits(hours)
    finding = pressed(kpa, limits.pressure_kpa.value, watch=limits.watch_kpa.value)
    return "watched" if finding.is_watched else "holds" if finding.holds else "fails"


@pytest.mark.parametrize(
    ("area", "hours", "verdict"),
    [
        (210, 24, "fails"),
        (400, 24, "watched"),
        (800, 24, "holds"),
        (210, 8, "watched"),
        (400, 8, "watched"),
        (800, 8, "holds"),
        (150, 2, "fails"),
    ],
)
def test_two_hundred_grams_are_judged_by_how_long_they_press(area: float, hours: float, verdict: str) -> None:
    """The strap of 210 mm2 presses with nearly four times the capillary figure: not for continuous wear."""
    assert judged(pressure_kpa(3.3996, area), hours) == verdict


# the bed of skin ------------------------------------------------------------------------------------------------------


def bed_on_a_hinge(places: list[tuple[float, float, float]]) -> Bed:
    """Pads (place along, out 1 or -1, area) about a hinge at 0."""
    along, out, area = np.array(places).T
    zero = np.zeros(len(along))
    points, normals = np.column_stack([along, zero, zero]), np.column_stack([zero, zero, out])
    turning = -out * along
    rows = np.column_stack([out, turning * (along < 0.0), turning * (along >= 0.0)])
    return Bed(points, normals, area, rows, np.arange(len(along)))


FLEXES = np.array([0.0, -1.0, 1.0])


def forces(bed: Bed, moment: float) -> list[float]:
    pressed = pressures(bed, moment * FLEXES)
    assert pressed is not None
    return [float(force) for force in pressed * bed.areas]


def test_three_pads_are_the_three_point_system_whatever_their_areas() -> None:
    for areas in ((100.0, 210.0, 150.0), (400.0, 20.0, 80.0)):
        bed = bed_on_a_hinge([(-30.0, -1.0, areas[0]), (0.0, 1.0, areas[1]), (22.0, -1.0, areas[2])])
        assert forces(bed, 43.15) == pytest.approx([1.4383, 3.3996, 1.9613], abs=5e-4)
        zone = zone_of(bed, pressures(bed, 43.15 * FLEXES), 1)
        assert zone is not None
        assert zone.area_mm2 == pytest.approx(areas[1])
        assert zone.mean_kpa == pytest.approx(pressure_kpa(3.3996, areas[1]), rel=1e-3)


def test_a_strap_beside_the_joint_on_the_bed() -> None:
    bed = bed_on_a_hinge([(-30.0, -1.0, 100.0), (-20.0, 1.0, 210.0), (22.0, -1.0, 100.0)])
    assert forces(bed, 22.0) == pytest.approx([4.2, 5.2, 1.0], rel=1e-4)


def test_skin_only_pushes() -> None:
    """A fourth pad that would have to pull carries nothing."""
    bed = bed_on_a_hinge([(-30.0, -1.0, 100.0), (0.0, 1.0, 100.0), (22.0, -1.0, 100.0), (20.0, 1.0, 500.0)])
    assert forces(bed, 43.15) == pytest.approx([1.4383, 3.3996, 1.9613, 0.0], abs=5e-4)


@pytest.mark.parametrize("missing", [0, 1, 2])
def test_nothing_holds_without_one_of_the_three(missing: int) -> None:
    pads = [(-30.0, -1.0, 100.0), (0.0, 1.0, 100.0), (22.0, -1.0, 100.0)]
    del pads[missing]
    assert pressures(bed_on_a_hinge(pads), FLEXES) is None


def test_the_wrong_way_round_holds_nothing() -> None:
    """Pads for a joint that tends to flexion let it extend."""
    bed = bed_on_a_hinge([(-30.0, -1.0, 100.0), (0.0, 1.0, 100.0), (22.0, -1.0, 100.0)])
    assert pressures(bed, -FLEXES) is None
