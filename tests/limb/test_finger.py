"""The finger: girths kept, segments rigid, joints not at creases."""

import numpy as np
import pytest
import trimesh

from print3d.geometry.frames import apply
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.finger import FingerLimb, build_finger
from print3d.limb.unrolled import UnrolledFinger
from tests.conftest import is_closed

GIRTHS = {
    "web_girth_mm": 68.0, "proximal_girth_mm": 64.0, "pip_girth_mm": 66.0,
    "middle_girth_mm": 60.0, "dip_girth_mm": 56.0, "nail_fold_girth_mm": 53.0,
}  # fmt: skip
PLACES = ("web", "mid_proximal", "pip", "mid_middle", "dip", "nail_fold")


def finger(name: str = "middle", **angles: float) -> FingerLimb:
    return build_finger(
        name, estimate_finger(name, GIRTHS, estimate_hand({"hand_length_mm": 193.0}, "man"))
    ).posed(**angles)


def tape(limb: FingerLimb, place: str) -> float:
    """Perimeter of the skin's section across the axis, as a tape reads it."""
    skin = limb.skin_mesh()
    axis, dorsal = limb.spine.at(np.array([limb.landmarks[place]]))
    normal = np.cross(np.array([0.0, 1.0, 0.0]), dorsal[0])
    section = trimesh.Trimesh(skin.vertices, skin.faces, process=False).section(
        plane_origin=axis[0], plane_normal=normal
    )
    near = min(section.discrete, key=lambda loop: np.linalg.norm(loop.mean(axis=0) - axis[0]))
    return float(np.linalg.norm(np.diff(near, axis=0), axis=1).sum())


@pytest.mark.parametrize(("place", "girth"), list(zip(PLACES, GIRTHS.values(), strict=True)))
def test_the_tape_reads_the_given_girths(place: str, girth: float) -> None:
    assert tape(finger(), place) == pytest.approx(girth, rel=0.005)


@pytest.mark.parametrize("place", ["mid_proximal", "nail_fold"])
def test_bending_leaves_the_girths_between_the_joints(place: str) -> None:
    limb = finger(pip_flexion_deg=40.0, dip_flexion_deg=-8.0)
    assert tape(limb, place) == pytest.approx(
        float(limb.girth_mm(np.array([limb.landmarks[place]]))[0]), rel=0.005
    )


@pytest.mark.parametrize("pip", [-25.0, 0.0, 35.0, 60.0])
def test_skin_beyond_the_bending_zones_moves_with_its_bone(pip: float) -> None:
    straight, bent = finger(), finger(pip_flexion_deg=pip, dip_flexion_deg=12.0)
    fraction = np.linspace(0, 1, 36, endpoint=False)
    dip, zone = bent.landmarks["dip"], bent.blend_mm("dip")
    for station, segment in (
        (dip + zone + 0.1, "distal"),
        ((bent.landmarks["pip"] - bent.blend_mm("pip") - 0.1), "proximal"),
    ):
        at = np.full(36, station)
        move = bent.segment_transform(segment) @ np.linalg.inv(straight.segment_transform(segment))
        np.testing.assert_allclose(
            bent.skin_points(at, fraction), apply(move, straight.skin_points(at, fraction)), atol=1e-9
        )


@pytest.mark.parametrize("name", ["index", "middle", "ring", "little"])
def test_every_body_is_closed_and_symmetric(name: str) -> None:
    limb = finger(name, pip_flexion_deg=20.0)
    for body in (limb.skin_mesh(), *(limb.body(segment) for segment in limb.segments)):
        assert is_closed(body)
        assert body.volume_mm3() > 0.0
        assert body.vertices[:, 1].max() == pytest.approx(-body.vertices[:, 1].min(), abs=1e-6)


def test_flexion_goes_volar_and_radial_is_towards_the_thumb() -> None:
    limb = finger(pip_flexion_deg=60.0)
    tip = limb.skin_mesh().vertices[-1]
    assert tip[2] < -20.0
    radial = limb.skin_points(np.array([30.0]), np.array([0.25]))[0]
    assert radial[1] > 0.0
    assert limb.skin_points(np.array([30.0]), np.array([0.0]))[0, 2] > 0.0


def test_joints_are_not_creases() -> None:
    """Bugbee and Botte 1993: DIP crease 7 to 8 mm proximal of the DIP joint line, PIP crease 2 to 3 mm.

    The joint centre lies one condyle radius (2.5 and 4 mm, from memory) proximal of the joint line.
    """
    palmar = {
        "web_crease_to_pip_crease_mm": 25.1, "pip_crease_to_dip_crease_mm": 21.3, "dip_crease_to_tip_mm": 28.9,
    }  # fmt: skip
    limb = build_finger("middle", estimate_finger("middle", {**GIRTHS, **palmar}, estimate_hand({}, "man")))
    marks = limb.landmarks
    assert marks["dip"] + 2.5 - marks["dip_crease"] == pytest.approx(7.5, abs=0.01)
    assert marks["pip"] + 4.0 - marks["pip_crease"] == pytest.approx(2.5, abs=0.01)
    # Buryanov and Kotiuk 2010: middle phalanx III 26.33 between joint lines; centres lie 4 and 2.5 proximal of them
    assert limb.middle_mm == pytest.approx(26.33 + 4.0 - 2.5, abs=0.1)
    # middle finger by Buchholz et al. 1992 at hand length 185: 49.2
    assert limb.proximal_mm == pytest.approx(49.2, abs=1.0)


def test_rolling_out_keeps_small_circles_round() -> None:
    limb = finger()
    skin = UnrolledFinger(limb, 0.5)
    angle = np.linspace(0, 2 * np.pi, 200)
    for station in (limb.landmarks["mid_proximal"], limb.landmarks["mid_middle"], limb.landmarks["dip"]):
        along = float(skin.along(station))
        ring = skin.points(along + np.cos(angle), np.sin(angle))
        middle = skin.points(np.array([along]), np.array([0.0]))
        reach = np.linalg.norm(ring - middle, axis=1) / skin.scale(station)
        assert reach.max() < 1.06
        assert reach.min() > 0.94
    assert float(skin.station(skin.along(40.0))) == pytest.approx(40.0, abs=1e-3)
