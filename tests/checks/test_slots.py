"""Straps pass their slots: closed forms of flat and bent slots, and slots that are planted wrong are found and nothing else."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from print3d.checks.finding import Finding
from print3d.checks.gap import measure_gap
from print3d.checks.limits import limits_of_case
from print3d.checks.slots import bend_of, check_slots, height_mm, passing_width_mm, slots_of
from print3d.checks.suite import run_suite
from print3d.design.advice import changes_that_hold
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.nearest import Surface
from print3d.kinds.registry import KINDS
from print3d.shell.mesh import build_mesh
from print3d.shell.pattern import Loop

MakeCase = Callable[..., Any]
BARE = {"marking": {"style": "none"}}
FOREARM = {"measured": {"sex": "man", "hand_length_mm": 191.0, "hand_breadth_mm": 87.0, "wrist_girth_mm": 174.0,
                        "forearm_girth_mm": 280.0, "forearm_length_mm": 262.0},
           "print": {"material": "petg", "printer": "extrusion_large"}}  # fmt: skip


def flat_slot(length: float, gap: float) -> np.ndarray:
    """Both edges (2, n, 3) of the wall of a slot with round ends in a flat plate 2 mm thick."""
    half = (length - gap) / 2.0
    ring = shapely.LineString([(-half, 0.0), (half, 0.0)]).segmentize(0.3).buffer(gap / 2.0, quad_segs=32)
    flat = np.array(shapely.segmentize(ring.exterior, 0.3).coords)[:-1]
    return np.array([np.column_stack([flat, np.full(len(flat), height)]) for height in (0.0, 2.0)])


@pytest.mark.parametrize("thickness", [0.5, 1.5, 2.4])
def test_a_strap_of_a_thickness_reaches_into_the_round_ends_as_far_as_it_fits(thickness: float) -> None:
    """Chord of a circle: a slot of length L and height g lets L - g + sqrt(g^2 - t^2) through (plane geometry)."""
    passing = passing_width_mm(flat_slot(11.0, 2.5), thickness)
    assert passing == pytest.approx(11.0 - 2.5 + np.sqrt(2.5**2 - thickness**2), abs=0.03)


def test_nothing_passes_that_is_thicker_than_the_slot_is_high() -> None:
    assert passing_width_mm(flat_slot(11.0, 2.5), 2.6) == 0.0
    assert height_mm(flat_slot(11.0, 2.5)) == pytest.approx(2.5, abs=0.01)


@pytest.mark.parametrize("radius", [20.0, 40.0])
def test_a_slot_is_as_long_as_it_is_along_its_bend(radius: float) -> None:
    """Rolled about an axis across the slot, as on a bent joint: lengths along the arc stay."""
    flat = flat_slot(11.0, 2.5)
    angle = flat[..., 0] / radius
    rolled = np.stack([radius * np.sin(angle), flat[..., 1], radius * np.cos(angle) + flat[..., 2]], axis=-1)
    assert passing_width_mm(rolled[:1], 1.5) == pytest.approx(passing_width_mm(flat[:1], 1.5), abs=0.05)


@pytest.mark.parametrize("roll", [25.0, 1e4])
@pytest.mark.parametrize("bend_deg", [0.0, 5.0, 28.0])
def test_a_slot_along_an_arc_turns_as_far_as_the_arc(bend_deg: float, roll: float) -> None:
    """Bent within the shell and rolled with it: the turn between its ends is left, worn and laid flat (plane geometry)."""
    ring = flat_slot(26.0, 4.0)[0]
    share = 1.0 - 2.0 * 0.75 * 4.0 / 26.0 - 0.25 * (1.0 - 2.0 * 0.75 * 4.0 / 26.0)
    if bend_deg:
        radius = 26.0 / np.radians(bend_deg)
        angle, out = ring[:, 0] / radius, radius + ring[:, 1]
        ring = np.column_stack([out * np.sin(angle), out * np.cos(angle) - radius, ring[:, 2]])
    across = ring[:, 1] / roll
    rolled = np.column_stack([ring[:, 0], roll * np.sin(across), roll * np.cos(across)])
    bend = bend_of(rolled)
    assert bend.turn_deg == pytest.approx(bend_deg * share, abs=0.3 + 0.03 * bend_deg)
    assert bend.bow_mm == pytest.approx(
        20.0 * np.radians(bend_deg * 20.0 / 26.0) / 8.0, abs=0.03 + 0.1 * np.radians(bend_deg)
    )


def test_a_slot_that_bends_with_its_shell_is_straight_in_it_laid_flat_but_not_worn() -> None:
    """Sagitta of an arc: 60 (1 - cos(10 / 60)) over the middle 20 mm (plane geometry)."""
    flat_ring = flat_slot(26.0, 4.0)[0]
    angle = flat_ring[:, 0] / 60.0
    ring = np.column_stack([60.0 * np.sin(angle), flat_ring[:, 1], 60.0 * np.cos(angle)])
    bend = bend_of(ring)
    assert bend.turn_deg < 0.3
    assert bend.bow_mm == pytest.approx(60.0 * (1.0 - np.cos(10.0 / 60.0)), abs=0.1)


@pytest.fixture(scope="module")
def case(make_case: MakeCase) -> Any:
    return make_case({"kind": "pip_extension", **BARE})


@pytest.fixture(scope="module")
def orthosis(case: Any) -> Orthosis:
    return KINDS["pip_extension"].build(case)


def with_slots(orthosis: Orthosis, change: Callable[[np.ndarray], np.ndarray]) -> Orthosis:
    """The orthosis meshed again with the points (n, 2) of every slot changed; `change` takes them about their middle."""
    (part,) = orthosis.parts

    def changed(loop: Loop) -> Loop:
        middle = loop.points.mean(axis=0)
        return Loop("slot", middle + change(loop.points - middle)) if loop.kind == "slot" else loop

    holes = tuple(map(changed, part.definition.pattern.holes))
    definition = replace(part.definition, pattern=replace(part.definition.pattern, holes=holes))
    mesh = build_mesh(definition)
    meshed = replace(part, definition=definition, shell=mesh, skin_vertices=mesh.inner_vertices)
    planned = measure_gap(meshed, Surface(orthosis.limb.skin_mesh()))
    return replace(orthosis, parts=(replace(meshed, planned_gap_mm=planned),))


def of_slots(orthosis: Orthosis, case: Any) -> list[Finding]:
    return check_slots(orthosis, limits_of_case(case))


def test_sound_slots_let_their_straps_through_and_say_where(orthosis: Orthosis, case: Any) -> None:
    findings = of_slots(orthosis, case)
    assert [finding.holds for finding in findings] == [True] * 5
    pip = orthosis.limb.landmarks["pip"]  # type: ignore[union-attr]
    for finding in findings:
        assert finding.where is not None
        assert abs(finding.where[0] - pip) < 18.0
        assert finding.source


def test_a_slot_too_short_for_its_strap_is_found_and_nothing_else(orthosis: Orthosis, case: Any) -> None:
    short = with_slots(orthosis, lambda points: points * [0.88, 1.0])
    failing = [each for each in run_suite(short, limits_of_case(case)) if not each.holds]
    assert [each.check for each in failing] == ["slots"]
    assert failing[0].key == "slots.strap"
    whole, cut = of_slots(orthosis, case)[0], failing[0]
    assert whole.measured - cut.measured == pytest.approx(
        0.12 * (case.orthosis.straps.width_mm + 1.0), abs=0.35
    )


def test_a_slot_too_low_for_its_strap_is_found(orthosis: Orthosis, make_case: MakeCase) -> None:
    case = make_case({"kind": "pip_extension", "straps": {"thickness_mm": 2.7}, **BARE})
    found = {each.key: each.holds for each in of_slots(orthosis, case)}
    assert not found["slots.height"]
    assert {each.option for each in changes_that_hold(case, of_slots(orthosis, case))} == {
        "orthosis.straps.slot_gap_mm"
    }


def test_a_bent_slot_is_found_and_nothing_else(orthosis: Orthosis, case: Any) -> None:
    """Both slots are bent by some 12 degrees, which the strap that follows them does not feel."""
    bent = with_slots(
        orthosis, lambda points: points + np.column_stack([0.0 * points[:, 0], 0.012 * points[:, 0] ** 2])
    )
    failing = [each for each in run_suite(bent, limits_of_case(case)) if not each.holds]
    assert "slots.straight" in {each.key for each in failing} <= {"slots.straight", "slots.bow"}
    assert 6.0 < failing[0].measured < 15.0


def test_slots_beside_a_joint_held_bent_are_straight(make_case: MakeCase) -> None:
    """Straight in the pattern they bent by 29 degrees over a PIP held at 35."""
    case = make_case({"kind": "pip_extension", "pip_flexion_deg": 35, **BARE})
    found = {each.key: each.holds for each in of_slots(KINDS["pip_extension"].build(case), case)}
    assert found == dict.fromkeys(found, True)


def test_a_slot_too_near_to_the_trim_line_is_found(orthosis: Orthosis, case: Any) -> None:
    """Both slots are moved outwards by 1.6 mm each."""
    (part,) = orthosis.parts
    holes = tuple(
        Loop("slot", loop.points + [0.0, 1.6 * np.sign(loop.points[:, 1].mean())])
        if loop.kind == "slot"
        else loop
        for loop in part.definition.pattern.holes
    )
    definition = replace(
        part.definition, pattern=replace(part.definition.pattern, holes=holes), rim_radius_mm=0.6
    )
    moved = replace(part, definition=definition, shell=build_mesh(definition))
    found = of_slots(replace(orthosis, parts=(moved,)), case)
    assert [each.holds for each in found] == [True, True, False, True, True]
    assert found[2].measured == pytest.approx(of_slots(orthosis, case)[2].measured - 1.6, abs=0.6)


@pytest.mark.slow(in_ci=True)
def test_straps_of_a_forearm_pass_and_the_slot_of_another_strap_is_too_short(make_case: MakeCase) -> None:
    """Straps of 25 and 50 mm; planted: the wide one is to go through the slots of a narrow one."""
    case = make_case({"kind": "dorsal_blocking", **BARE}, **FOREARM)
    orthosis = KINDS["dorsal_blocking"].build(case)
    assert all(each.holds for each in of_slots(orthosis, case))
    (part,) = orthosis.parts
    assert sorted({slot.strap_mm for slot in slots_of(part)}) == [25.0, 50.0]
    swapped: Part = replace(part, straps=part.straps[::-1])
    found = of_slots(replace(orthosis, parts=(swapped,)), case)
    assert not found[0].holds
    assert "(asked 50)" in found[0].said("en")
    assert found[0].measured < 30.0
