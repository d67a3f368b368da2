"""What the page's viewer is given: the same shapes, the checks' numbers, and joints that move as the limb does."""

from dataclasses import replace

import matplotlib
import numpy as np
import pytest
from matplotlib.colors import to_rgb

from print3d.checks.limits import limits_of_case
from print3d.checks.pressure import pressed_at_rest
from print3d.forms.orthosis import ray_views
from print3d.geometry.frames import apply, mirrored
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.mechanics.contact import contact_at
from print3d.output.mesh.thinning import pieces, thinned, thinned_tube
from print3d.output.page.scene_pack import packed, planes
from print3d.output.pictures.colour_scale import (
    HEX,
    NO_VALUE,
    RGB,
    colours,
    even_range,
    range_from_nought,
    range_to,
)
from print3d.output.pictures.joint_chain import chain_of, hinges, moved
from print3d.output.pictures.map_pictures import posed
from print3d.output.pictures.of_case import scene_of
from tests.conftest import is_closed
from tests.output.reports import SMALL, columns, unpacked
from tests.shaped import checked


@pytest.mark.parametrize("name", SMALL)
def test_hinges_move_segments_as_the_limb_does(name: str) -> None:
    """Seen from the hand, whose frame the finger's own one leaves as its MCP bends."""
    orthosis = checked(name).modelled
    by_key = {each.key: each for each in hinges(orthosis, [])}
    for view in ray_views(orthosis):
        angles = {arc.joint: arc.to_deg - 7.0 for arc in view.freed}
        ray = "" if view.is_alone else view.ray
        keys = {f"{ray}-{joint.joint}".strip("-"): angle for joint, angle in angles.items()}
        placed = orthosis.limb.place(view.ray)
        for segment in view.chain.segments:
            built, bent = (view.chain.transform(segment, each) for each in ({}, angles))
            hand_built, hand_bent = (view.chain.transform("hand", each) for each in ({}, angles))
            expected = placed @ hand_built @ np.linalg.inv(hand_bent) @ bent
            found = moved(chain_of(view, segment), by_key, keys) @ placed @ built
            assert np.abs(found - expected).max() < 1e-9


def test_the_left_hand_is_the_mirror_of_the_right_at_every_angle() -> None:
    for hinge in hinges(checked("figure_of_eight").modelled, []):
        points = np.random.default_rng(3).normal(size=(20, 3)) * 20.0
        right = mirrored(apply(hinge.turn(hinge.to_deg), points))
        left = apply(hinge.for_side("left").turn(hinge.to_deg), mirrored(points))
        assert np.abs(right - left).max() < 1e-9


def test_a_loose_ring_goes_where_the_check_of_motion_puts_it() -> None:
    """At an angle that was computed, its least gap to the posed segments is the check's own."""
    built = checked("figure_of_eight")
    orthosis, scene = built.modelled, scene_of(built)
    (drift,) = (body.drift for body in scene.of_role("part"))
    assert drift is not None
    angle = drift.angles[len(drift.angles) // 2]
    contact = contact_at(ray_views(orthosis)[0], orthosis, orthosis.stops[0].joint)
    for each in drift.angles[: len(drift.angles) // 2 + 1]:  # the part follows the joint in steps
        touch = contact.touch(each)
    (part,), limb, _ = posed(scene, {"pip": angle})
    gap = min(Surface(body).signed(part.vertices).min() for body in limb[1:])
    assert gap == pytest.approx(touch.gap_mm, abs=0.06)  # facets of the thinned segments lie 0.04 mm inside


def test_free_ends_are_those_of_the_findings() -> None:
    built = checked("relative_motion_flexion")
    measured = {each.said("en"): each.measured for each in built.findings if each.check == "motion"}
    assert len(scene_of(built).hinges) == len(measured) == 4
    for hinge in scene_of(built).hinges:
        assert hinge.free_to_deg == measured[f"{hinge.ray} PIP free to flex"]
    blocked = [replace(each, measured=42.0) for each in built.findings if each.check == "motion"]
    assert {each.free_to_deg for each in hinges(built.modelled, blocked)} == {42.0}


@pytest.mark.parametrize("name", SMALL)
def test_maps_agree_with_the_findings(name: str) -> None:
    built = checked(name)
    for body, part in zip(scene_of(built).of_role("part"), built.modelled.parts, strict=True):
        found = {(each.key, each.about.part): each.measured for each in built.findings}
        wall, gap = body.fields["wall"], body.fields["gap"]
        assert np.isfinite(gap).all()
        assert 0.2 < np.isfinite(wall).mean() < 1.0  # rims and letters have none
        assert np.nanmin(wall) >= found["wall.thinnest", part.name] - 0.02
        assert np.nanmin(wall) <= found["wall.thinnest", part.name] + 0.5
        assert gap.min() == pytest.approx(found["gap.least", part.name], abs=0.02)


@pytest.mark.parametrize("name", SMALL)
def test_stress_and_displacement_are_the_largest_of_all_joints(name: str) -> None:
    """The map, from neighbouring points, stays within the peak that the finding gives for a joint in effort."""
    built = checked(name)
    peaks = [
        each.measured
        for each in built.findings
        if each.key == "stiffness.peak" and ("load", "in_effort") in each.about.of
    ]
    limits = {each.limit for each in built.findings if each.key == "stiffness.peak"}
    stress = np.concatenate([body.fields["stress"] for body in scene_of(built).of_role("part")])
    assert 0.7 * max(peaks) < stress.max() <= max(peaks) + 1e-9
    scale = scene_of(built).scales["stress"]
    assert (scale.low, scale.limit, scale.sense, scale.unit) == (0.0, min(limits), "at most", "MPa")
    assert scale.high >= max(peaks)
    moved = np.concatenate([body.fields["displacement"] for body in scene_of(built).of_role("part")])
    assert moved.min() >= 0.0
    assert moved.max() > 0.0


@pytest.mark.parametrize("name", SMALL)
def test_the_pressure_on_the_skin_is_the_first_map_and_its_scale_holds_the_peak(name: str) -> None:
    """The limb carries it: as much as the check finds, only where orthosis or strap lie, and none where nothing touches."""
    built = checked(name)
    scene, rest = scene_of(built), pressed_at_rest(built.modelled, limits_of_case(built.case))
    peak = max(each.kpa.max() for each in rest)
    assert next(iter(scene.scales)) == "pressure"
    assert scene.scales["pressure"].high >= peak
    shown = np.concatenate([each.fields["pressure"] for each in scene.of_role("skin", "still")])
    assert 0.5 * peak < np.nanmax(shown) <= peak
    assert np.nanmin(shown) == 0.0
    assert 0.02 < np.isfinite(shown).mean() < 0.9
    assert not any("pressure" in each.fields for each in scene.of_role("part", "segment"))


def test_a_strap_presses_on_its_own_side() -> None:
    """The strap of a volar gutter colours the back of the finger, as wide as it is, and the gutter the palm side."""
    built = checked("pip_extension")
    (skin,) = scene_of(built).of_role("skin")
    dorsal = skin.mesh.vertices[:, 2] > np.median(skin.mesh.vertices[:, 2])
    pressed = np.nan_to_num(skin.fields["pressure"]) > 0.5
    assert pressed[dorsal].any()
    assert pressed[~dorsal].any()
    along = skin.mesh.vertices[pressed & dorsal & (np.abs(skin.mesh.vertices[:, 1]) < 3.0), 0]
    strap = built.modelled.parts[0].slot_straps_mm[0]
    assert strap - 3.0 < np.ptp(along) < np.ptp(skin.mesh.vertices[pressed, 0])


@pytest.mark.parametrize("name", SMALL)
def test_every_scale_covers_what_is_reported(name: str) -> None:
    built = checked(name)
    scales = scene_of(built).scales
    units = {"stiffness": ("stress", "MPa"), "wall": ("wall", "mm"), "gap": ("gap", "mm")}
    for finding in built.findings:
        if finding.check in units and finding.unit == units[finding.check][1] and finding.sense != "at most":
            scale = scales[units[finding.check][0]]
            assert scale.low - 0.06 <= finding.measured <= scale.high + 0.06, finding.said("en")
        if finding.check == "stiffness" and finding.unit == "MPa":
            assert finding.measured <= scales["stress"].high


def test_a_packed_scene_reads_back() -> None:
    scene = scene_of(checked("relative_motion_flexion"))
    head, blob = unpacked(packed(scene))
    assert head["side"] == "left"
    assert set(head["joints"]) == {hinge.key for hinge in scene.hinges}
    for entry, body in zip(head["bodies"], scene.bodies, strict=True):
        points = columns(blob, *entry["at"]["points"]).T * entry["step"] + entry["low"]
        faces = columns(blob, *entry["at"]["faces"]).T
        read = Mesh(points, faces)
        assert is_closed(read)
        rounded = (
            0.5 * entry["step"] * np.linalg.norm(body.mesh.area_vectors(), axis=1).sum()
        )  # the most that skins can take or give, a mark's thin one too
        assert read.volume_mm3() == pytest.approx(body.mesh.volume_mm3(), abs=rounded)
        assert np.abs(points.min(axis=0) - body.mesh.vertices.min(axis=0)).max() <= 0.006
        for name, values in body.fields.items():
            steps = columns(blob, *entry["at"][f"field {name}"])[0]
            assert (steps == 0).sum() == np.isnan(values).sum()
            back = entry["fieldLows"][name] + (steps[steps > 0] - 1) * entry["fieldSteps"][name]
            assert np.sort(back) == pytest.approx(
                np.sort(values[np.isfinite(values)]), abs=0.51 * entry["fieldSteps"][name]
            )


def test_byte_planes_hold_any_difference() -> None:
    numbers = np.array([[0, 5, -70_000, 3_000_000, 3_000_000, -1], [7, 7, 8, 6, 0, 0]])
    assert np.array_equal(columns(planes(numbers), 0, *numbers.shape), numbers)


def test_thinning_keeps_the_shape() -> None:
    full = checked("figure_of_eight").modelled.parts[0].shell.mesh
    light = thinned(full, len(full.faces) // 3)
    assert len(light.faces) <= len(full.faces) // 3
    assert Surface(full).nearest(light.corners().mean(axis=1))[0].max() < 0.06
    assert thinned(full, len(full.faces)) is full


def test_a_hand_falls_into_its_fingers_and_each_thins_to_a_closed_body() -> None:
    skin = checked("relative_motion_flexion").modelled.limb.skin_mesh()
    fingers = pieces(skin)
    assert len(fingers) == 4
    assert sum(each.volume_mm3() for each in fingers) == pytest.approx(skin.volume_mm3(), rel=1e-12)
    for finger in fingers:
        light = thinned_tube(finger, 2)
        assert is_closed(light)
        assert light.volume_mm3() == pytest.approx(finger.volume_mm3(), rel=0.005)
        assert Surface(finger).nearest(light.corners().mean(axis=1))[0].max() < 0.06


def test_the_scale_is_viridis() -> None:
    """Against matplotlib's own table; its lightness rises all the way (ITU-R BT.709 luma), so it reads in grey too."""
    table = matplotlib.colormaps["viridis"]
    expected = [table(k / (len(HEX) - 1))[:3] for k in range(len(HEX))]
    assert np.abs(np.array([to_rgb(f"#{each}") for each in HEX]) - expected).max() < 0.003
    assert (np.diff(RGB @ [0.2126, 0.7152, 0.0722]) > 0).all()
    assert np.array_equal(colours(np.array([np.nan]), 0.0, 1.0)[0], NO_VALUE)
    assert np.abs(colours(np.array([-5.0, 0.5, 9.0]), 0.0, 1.0)[[0, 2]] - RGB[[0, -1]]).max() == 0.0


def test_a_scale_has_room_for_its_values() -> None:
    values = np.append(np.linspace(2.0, 2.03, 500), np.nan)
    assert even_range(values, least_span=1.0) == (1.5, 2.5)
    assert even_range(values, least_span=1.0, anchor=0.0) == (0.0, 2.1)
    assert even_range(np.array([np.nan]), least_span=1.0) == (0.0, 1.0)
    assert even_range(values, least_span=1.0, reported=0.92) == (0.9, 2.1)
    assert range_from_nought(values) == (0.0, 2.4)
    assert range_from_nought(values, 5.03) == (0.0, 6.0)
    assert [range_to(each)[1] for each in (0.0, 1.0, 1.01, 8.1)] == [0.004, 1.0, 1.2, 10.0]
