"""The wrist of hand and forearm: deviation turns the forearm and keeps its girths; ridges stiffen the shell over it."""

from typing import Any

import numpy as np
import pytest
import trimesh
from scipy.spatial import ConvexHull

from print3d.checks.gap import check_gap
from print3d.checks.integrity import check_integrity
from print3d.checks.limits import limits_of_case
from print3d.checks.ribs import band, check_ribs, measure_second_moments, second_moment_mm4
from print3d.checks.suite import run_suite
from print3d.checks.wall import check_wall
from print3d.errors import InputError, ShapingError
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.inputs.measured import FINGERS
from print3d.inputs.toml_file import read_toml
from print3d.kinds.dorsal_blocking.asked import asked_pose
from print3d.kinds.dorsal_blocking.kind import KIND
from print3d.kinds.registry import KINDS
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandLimb, HandPose, build_hand
from print3d.limb.hand_estimates import estimate_hand_and_forearm
from print3d.limb.hand_fold import Sway
from tests.conftest import CASES, is_closed
from tests.limb.test_hand import MAN, without_thumb
from tests.shell.test_solid import assert_realised
from tests.taped import taped

FILE = CASES / "dorsal_blocking.toml"


def pose_of(case: Case) -> HandPose:
    return asked_pose(case, KIND.own(case))


def limb_at(flexion_deg: float, ulnar_deg: float) -> HandLimb:
    measures = estimate_hand_and_forearm(MAN, "man", {})
    return build_hand(measures, HandPose(flexion_deg, dict.fromkeys(FINGERS, FingerPose(40.0)), ulnar_deg))


def case_with(options: dict[str, Any], measured: dict[str, Any] | None = None) -> Case:
    data = read_toml(FILE)
    data["measured"] = taped(measured or data["measured"])
    data["orthosis"] = {"kind": "dorsal_blocking", **options}
    return case_from_data(data, {name: kind.options for name, kind in KINDS.items()}, FILE)


def across(mesh: Mesh, direction: np.ndarray, distance_mm: float) -> float:
    """Girth by a tape across a direction, so far back along it."""
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    section = solid.section(direction, -distance_mm * direction)
    assert section is not None
    flat, _ = section.to_2D()
    return float(ConvexHull(flat.vertices).area)


# --- deviation ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("flexion", "ulnar"), [(0.0, 20.0), (0.0, -10.0), (30.0, 15.0), (-40.0, 10.0)])
def test_deviation_turns_the_forearm_and_keeps_its_girths(flexion: float, ulnar: float) -> None:
    limb = limb_at(flexion, ulnar)
    fractions = np.linspace(-0.25, 0.25, 11)
    near, far = (
        limb.skin.points(np.full(11, limb.skin.wrist_side_station(at)), fractions) for at in (-120.0, -170.0)
    )
    straight = limb_at(flexion, 0.0).skin
    before = [straight.points(np.full(11, straight.wrist_side_station(at)), fractions) for at in (-120.0, -170.0)]  # fmt: skip
    turn = np.radians(ulnar)
    turned = np.array(
        [[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]]
    )
    assert (near - far) == pytest.approx((before[0] - before[1]) @ turned.T, abs=1e-6)
    if ulnar > 0.0:  # the little finger's side closes: the elbow lies on it
        assert far[:, 1].mean() < before[1][:, 1].mean()
    mesh = without_thumb(limb)
    for place in (100.0, 150.0):
        assert across(mesh, limb.forearm_direction, place) == pytest.approx(
            MAN[f"forearm_girth_at_{place:.0f}_mm"], rel=0.005
        )


def test_deviation_is_the_angle_that_a_goniometer_reads_on_the_back_of_the_hand() -> None:
    direction = limb_at(30.0, 15.0).forearm_direction
    assert np.linalg.norm(direction) == pytest.approx(1.0)
    assert np.degrees(np.arctan2(direction[1], direction[0])) == pytest.approx(15.0)


def test_a_sway_is_rigid_beyond_its_zone_and_leaves_the_hand() -> None:
    """The middle line keeps its length: it is the integral of unit tangents."""
    sway = Sway(np.radians(25.0), 30.0)
    line = np.column_stack([np.linspace(-100.0, 60.0, 4001), np.zeros(4001), np.zeros(4001)])
    bent = sway.bent(line)
    assert np.linalg.norm(np.diff(bent, axis=0), axis=1) == pytest.approx(160.0 / 4000.0, rel=1e-4)
    beyond = line[:, 0] > 30.0
    assert bent[beyond] == pytest.approx(line[beyond])
    direction = bent[1] - bent[0]
    assert np.degrees(np.arctan2(direction[1], direction[0])) == pytest.approx(25.0)


@pytest.mark.slow(in_ci=True)
def test_a_deviated_orthosis_holds_every_check() -> None:
    case = case_with({"wrist_ulnar_deviation_deg": 20.0, "wrist_extension_deg": 20.0})
    assert pose_of(case).wrist_ulnar_deviation_deg == 20.0
    orthosis = KIND.build(case)
    assert is_closed(orthosis.parts[0].shell.mesh)
    assert [each.key for each in run_suite(orthosis, limits_of_case(case)) if not each.holds] == []


SMALL_CHILD = {"sex": "man", "age_years": 5.8, "hand_length_mm": 119.6}
THIN_SHELL = {
    "wall_mm": 2.4,
    "rim_radius_mm": 1.0,
    "vents": {"diameter_mm": 4.0, "pitch_mm": 8.0},
    "straps": {"forearm_width_mm": 25.0, "width_mm": 16.0, "slot_gap_mm": 3.0},
}


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize("ulnar", [20.0, 25.0])
def test_over_the_hollow_side_of_a_small_childs_wrist_the_shell_stands_off_by_what_its_wall_needs(
    ulnar: float,
) -> None:
    """Beside the styloid's relief the wrist is hollower than the wall is thick; extended and deviated as far as may be asked."""
    angles = {"wrist_ulnar_deviation_deg": ulnar, "wrist_extension_deg": 30.0}
    case = case_with({**angles, **THIN_SHELL}, measured=SMALL_CHILD)
    orthosis, limits = KIND.build(case), limits_of_case(case)
    found = [*check_integrity(orthosis, limits), *check_gap(orthosis, limits), *check_wall(orthosis, limits)]
    assert [each.key for each in found if not each.holds] == []
    assert min(each.measured for each in found if "least gap" in each.said("en")) > 0.0


@pytest.mark.slow
def test_a_shell_that_bridges_a_hollow_is_one_shape_as_mesh_and_as_solid() -> None:
    angles = {"wrist_ulnar_deviation_deg": 25.0, "wrist_extension_deg": 30.0}
    assert_realised(KIND.build(case_with({**angles, **THIN_SHELL}, measured=SMALL_CHILD)).parts[0].definition)


def test_ridges_that_no_distance_helps_over_the_hollow_are_refused_by_name() -> None:
    options = {"wrist_ulnar_deviation_deg": 25.0, "wrist_extension_deg": 30.0, "wrist_ribs": {"count": 3}}
    with pytest.raises(ShapingError) as refusal:
        KIND.build(case_with({**options, **THIN_SHELL}, measured=SMALL_CHILD))
    assert "wrist_ulnar_deviation_deg = 25" in str(refusal.value)
    assert "fewer or lower wrist_ribs" in str(refusal.value)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"wrist_ulnar_deviation_deg": 5.0, "wrist_radial_deviation_deg": 5.0}, "cannot deviate both ways"),
        ({"form": "hand", "wrist_ulnar_deviation_deg": 5.0}, "the hand form leaves the wrist free"),
        ({"form": "hand", "wrist_ribs": {"count": 2}}, "orthosis.wrist_ribs.count = 2: the hand form"),
    ],
)
def test_what_a_wrist_cannot_do_is_refused(options: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError) as refusal:
        pose_of(case_with(options))
    assert words in str(refusal.value)


# --- ridges -------------------------------------------------------------------------------------------------------


def test_second_moment_of_a_half_ring() -> None:
    """About its own axis across: pi / 8 (R^4 - r^4) - A h^2, centroid h = 4 (R^3 - r^3) / (3 pi (R^2 - r^2)) (handbook tables)."""
    angle = np.linspace(0.0, np.pi, 20001)
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    outer, inner = 33.0, 30.0
    area = np.pi / 2.0 * (outer**2 - inner**2)
    height = 4.0 * (outer**3 - inner**3) / (3.0 * np.pi * (outer**2 - inner**2))
    expected = np.pi / 8.0 * (outer**4 - inner**4) - area * height**2
    assert second_moment_mm4(inner * ring, outer * ring) == pytest.approx(expected, rel=1e-6)


def test_a_smooth_wrist_measures_as_the_limbs_own_section() -> None:
    case = case_with({"vents": {"grid": "none"}, "marking": {"style": "none"}})
    orthosis = KIND.build(case)
    measured, plain = measure_second_moments(orthosis.parts[0], orthosis.limb, 0.0)
    assert measured == pytest.approx(plain, rel=0.02)
    assert check_ribs(orthosis, limits_of_case(case)) == []


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize("count", [1, 3])
def test_ridges_stiffen_and_low_ones_are_found(count: int) -> None:
    gains = []
    for height in (1.0, 4.0):
        case = case_with({"wrist_ribs": {"count": count, "height_mm": height}, "marking": {"style": "none"}})
        orthosis = KIND.build(case)
        (found,) = check_ribs(orthosis, limits_of_case(case))
        gains.append(found.measured)
        assert found.holds == (height == 4.0)
        inner, outer = band(orthosis.parts[0], 0.0)
        wall = orthosis.parts[0].definition.wall_mm
        assert np.linalg.norm(inner - outer, axis=1) == pytest.approx(wall, abs=0.05)
        vents = [vent.points.mean(axis=0) for vent in orthosis.parts[0].definition.pattern.vents]
        assert not any(abs(along) < 7.0 for along, _ in vents)
    assert gains[1] > gains[0] > 1.0
