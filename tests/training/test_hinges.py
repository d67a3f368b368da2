"""Jointed fingers: free from straight to 90 degrees, stopped when straight; planted faults are found."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from print3d.errors import InputError
from print3d.geometry.frames import flexion_rotation
from print3d.inputs.model_case import model_case_from_data, read_model_case
from print3d.inputs.toml_file import read_toml
from print3d.limb.finger import FingerPose
from print3d.training import articulated as jointed
from print3d.training.body import finger_body, finger_limb
from print3d.training.booleans import cylinder, mesh_of, placed, solid_of

CASE = Path(__file__).parents[2] / "params" / "models" / "jointed_finger.toml"


@pytest.fixture(scope="module")
def finger() -> tuple[Any, dict[Any, jointed.Hinge], dict[str, Any]]:
    case = read_model_case(CASE)
    limb = finger_limb(case).posed(**vars(FingerPose()))
    hinges = {joint: jointed.hinge_of(case, limb, joint) for joint in ("pip", "dip")}
    whole = solid_of(finger_body(case, limb).mesh())
    return whole, hinges, jointed.cut(whole, hinges)


@pytest.mark.slow(in_ci=True)
def test_all_joints_bend_freely_and_stop_straight(finger: Any) -> None:
    _, hinges, phalanges = finger
    findings = list(jointed.swept("index", phalanges, hinges))
    assert len(findings) == 4
    assert all(finding.holds for finding in findings)


def test_the_stop_is_where_the_dorsal_faces_meet(finger: Any) -> None:
    _, hinges, phalanges = finger
    first, second, _ = phalanges.values()
    assert jointed.stop_deg(first, second, hinges["pip"]) == pytest.approx(jointed.STOP_DEG, abs=0.1)


def test_between_the_steps_of_the_sweep_nothing_touches_either(finger: Any) -> None:
    _, hinges, phalanges = finger
    first, second, _ = phalanges.values()
    for angle in np.random.default_rng(4).uniform(0.0, 90.0, 12):
        assert float((first ^ hinges["pip"].bent(second, float(angle))).volume()) == 0.0


def test_phalanges_are_closed_and_together_are_the_finger_but_for_the_gaps(finger: Any) -> None:
    whole, _, phalanges = finger
    meshes = [mesh_of(body) for body in phalanges.values()]
    assert all(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).is_volume for mesh in meshes)
    share = sum(mesh.volume_mm3() for mesh in meshes) / float(whole.volume())
    assert 0.85 < share < 0.97
    bodies = list(phalanges.values())
    assert float((bodies[0] ^ bodies[1]).volume()) == 0.0


def test_joint_axes_lie_at_the_limbs_joint_centres(finger: Any) -> None:
    _, hinges, _ = finger
    limb = finger_limb(read_model_case(CASE))
    assert {name: hinge.station_mm for name, hinge in hinges.items()} == {
        name: limb.landmarks[name] for name in ("pip", "dip")
    }
    turned = hinges["pip"].bent(cylinder(1.0, 1.0).translate([limb.landmarks["pip"], 0.0, 0.0]), 90.0)
    middle = np.array(mesh_of(turned).vertices).mean(axis=0)
    straight = np.array([0.0, 0.0, 0.5]) @ flexion_rotation(np.pi / 2.0).T
    assert middle == pytest.approx(straight + [limb.landmarks["pip"], 0.0, 0.0], abs=1e-6)


@pytest.mark.parametrize("off_mm", [-1.5, 1.5])
def test_an_axis_in_the_wrong_place_is_found(finger: Any, off_mm: float) -> None:
    _, hinges, phalanges = finger
    wrong = {name: replace(hinge, station_mm=hinge.station_mm + off_mm) for name, hinge in hinges.items()}
    assert not all(finding.holds for finding in jointed.swept("index", phalanges, wrong))


def test_a_stop_filed_away_is_found(finger: Any) -> None:
    _, hinges, phalanges = finger
    hinge = hinges["pip"]
    frame = np.eye(4)
    frame[:3, :3] = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    frame[:3, 3] = [hinge.station_mm, 40.0, 11.0]
    filed = {**phalanges, "middle_phalanx": phalanges["middle_phalanx"] - placed(cylinder(4.5, 80.0), frame)}
    stops = [
        finding for finding in jointed.swept("index", filed, hinges) if finding.key == "model.hinge_stop"
    ]
    assert not stops[0].holds
    assert stops[1].holds


def test_a_finger_too_small_for_its_hinges_is_refused() -> None:
    data = read_toml(CASE)
    small = model_case_from_data({**data, "model": {**data["model"], "scale": 0.4}}, CASE)
    with pytest.raises(InputError, match="choose a larger scale or a finer printer"):
        jointed.build_jointed(small, lambda step: None)


@pytest.mark.slow(in_ci=True)
def test_the_printed_set_holds_and_has_five_parts() -> None:
    model = jointed.build_jointed(read_model_case(CASE), lambda step: None)
    assert not [finding.key for finding in model.findings if not finding.holds]
    assert len(model.parts) == 5
    floors = [mesh.vertices[:, 2].min() for mesh in model.parts.values()]
    assert np.ptp(floors) < 1e-9
