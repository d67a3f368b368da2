"""Supports, strength and positions against bodies whose truth is plain geometry."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh

from print3d.geometry.bed import build_directions, fits_bed, frame_on_bed, on_bed, rooms_mm
from print3d.geometry.frames import apply, mirrored
from print3d.inputs.materials import read_printers
from print3d.kinds.figure_of_eight import kind as figure_of_eight
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.printing.plan import plan_print
from print3d.printing.strength import layer_strength, stressed_along
from print3d.printing.supports import Hanging
from tests.printing.test_layers import UP, mesh_of

Y_UP = np.array([0.0, 1.0, 0.0])


def extruded(*corners: tuple[float, float]) -> Hanging:
    """A polygon, extruded by 4 mm, drawn with y upward; triangles of 1 mm at most so that rays are evenly spread."""
    body = trimesh.creation.extrude_polygon(shapely.Polygon(corners), 4.0).subdivide_to_size(1.0)
    mesh = mesh_of(body)
    return Hanging(mesh, np.zeros(len(mesh.faces), dtype=bool), 45.0, 0.2)


def test_supports_below_a_table() -> None:
    """A foot of 4 mm under a board of 20 mm, 10 mm above the bed: 16 x 4 mm hang over, and 640 mm3 lie below."""
    table = extruded((8, 0), (12, 0), (12, 10), (20, 10), (20, 12), (0, 12), (0, 10), (8, 10))
    found = table.supports(Y_UP)
    assert found.overhang_mm2 == pytest.approx(64.0)
    assert found.volume_mm3 == pytest.approx(640.0, rel=1e-3)
    upside_down = table.supports(-Y_UP)
    assert upside_down.overhang_mm2 == pytest.approx(0.0, abs=1e-9)


def test_supports_stand_on_the_body_where_that_lies_below() -> None:
    """A C of three 2 mm bars: its upper arm hangs 6 mm above the lower one."""
    letter = extruded((0, 0), (10, 0), (10, 2), (2, 2), (2, 8), (10, 8), (10, 10), (0, 10))
    found = letter.supports(Y_UP)
    assert found.overhang_mm2 == pytest.approx(32.0)
    assert found.volume_mm3 == pytest.approx(8 * 4 * 6, rel=1e-3)


@pytest.mark.parametrize(("lean_mm", "hangs"), [(9.0, False), (11.0, True)])
def test_a_wall_that_leans_by_more_than_45_degrees_hangs_over(lean_mm: float, hangs: bool) -> None:
    leaning = extruded((0, 0), (4, 0), (4 + lean_mm, 10), (lean_mm, 10))
    assert (leaning.supports(Y_UP).volume_mm3 > 0.0) is hangs


def test_layers_across_a_pull() -> None:
    """Stress on a plane whose normal is at angle t to the pull: s cos2 t (any text on mechanics of materials)."""
    tangents = np.array([[1.0, 0.0, 0.0]])
    tilted = np.array([np.cos(np.radians(60.0)), 0.0, np.sin(np.radians(60.0))])
    steep = np.array([np.cos(np.radians(30.0)), 0.0, np.sin(np.radians(30.0))])
    share, _ = layer_strength(tangents, np.array([[1.0, 0.0, 0.0], UP, tilted, steep]), 0.6)
    assert share == pytest.approx([0.6, 1.0, 1.0, 0.6 / 0.75])


def test_directions_are_unit_vectors_all_around() -> None:
    directions = build_directions()
    assert np.linalg.norm(directions, axis=1) == pytest.approx(1.0)
    probes = np.random.default_rng(0).normal(size=(500, 3))
    probes /= np.linalg.norm(probes, axis=1, keepdims=True)
    nearest = np.degrees(np.arccos(np.clip((probes @ directions.T).max(axis=1), -1, 1)))
    assert nearest.max() < 13.0  # 200 even directions lie about 14 degrees apart


def test_a_long_bar_fits_across_the_bed_and_only_so() -> None:
    """300 x 10 mm on 220 x 220 mm: turned by 45 degrees it takes (300 + 10) / sqrt 2 = 219.2 mm either way."""
    bar = trimesh.creation.box((300.0, 10.0, 5.0)).vertices
    room, turn = rooms_mm(bar, UP[None], (220.0, 220.0, 40.0))
    assert room[0] == pytest.approx((220.0 - 310.0 / np.sqrt(2.0)) / 2.0)
    assert np.degrees(turn[0]) == pytest.approx(45.0)
    placed = apply(on_bed(bar, UP, turn[0]), bar)
    assert np.ptp(placed, axis=0) == pytest.approx([310.0 / np.sqrt(2.0)] * 2 + [5.0])
    assert placed[:, 2].min() == pytest.approx(0.0)
    assert not fits_bed(bar, (200.0, 200.0, 40.0))


@pytest.mark.parametrize("up", [*np.eye(3), *-np.eye(3), np.ones(3) / np.sqrt(3.0)])
def test_a_frame_on_the_bed_is_a_rotation(up: np.ndarray) -> None:
    frame = frame_on_bed(up, 0.3)
    assert frame @ frame.T == pytest.approx(np.eye(3))
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert frame @ up == pytest.approx([0.0, 0.0, 1.0])


@pytest.fixture(scope="module")
def case(make_case: Callable[..., Any]) -> Any:
    return make_case({"kind": "pip_extension", "marking": {"style": "none"}})


def test_a_gutter_lies_so_that_its_skin_side_stays_clean(case: Any) -> None:
    part = pip_extension.KIND.build(case).parts[0]
    plan = plan_print(part, case.printer, case.material)
    assert plan is plan_print(part, case.printer, case.material)
    assert plan.strength > 0.95
    assert plan.supports.skin_mm2 < 40.0
    assert plan.mass_g == pytest.approx(1.27e-3 * part.shell.mesh.volume_mm3())
    assert plan.cost(30.0) == pytest.approx(0.03 * (plan.mass_g + plan.support_mass_g))
    placed = apply(plan.bed_from_limb, part.shell.mesh.vertices)
    assert np.ptp(placed, axis=0) == pytest.approx(plan.size_mm)
    assert placed[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    assert plan.layers == int(np.ceil(plan.size_mm[2] / 0.2 - 1e-6))


def test_the_left_hands_part_lies_as_the_mirror_image(case: Any) -> None:
    part = pip_extension.KIND.build(case).parts[0]
    plan = plan_print(part, case.printer, case.material)
    vertices = part.shell.mesh.vertices
    left = plan.for_side("left")
    assert np.linalg.det(left.bed_from_limb[:3, :3]) == pytest.approx(1.0)
    assert left.position() == plan.position()
    assert left.weakest_at == pytest.approx(mirrored(plan.weakest_at))
    assert left.for_side("right").bed_from_limb == pytest.approx(plan.bed_from_limb)
    right_on_bed = apply(plan.bed_from_limb, vertices)
    left_on_bed = apply(left.bed_from_limb, mirrored(vertices))
    assert left_on_bed == pytest.approx(right_on_bed * [-1.0, 1.0, 1.0])


def test_a_bed_without_room_to_lie_makes_a_part_stand_and_weak(case: Any) -> None:
    printer = case.printer
    side = {"value": 32.0, "source": "planted", "mark": "memory"}
    narrow = type(printer).model_validate(
        {**printer.model_dump(), "bed_width_mm": side, "bed_depth_mm": side}
    )
    plan = plan_print(pip_extension.KIND.build(case).parts[0], narrow, case.material)
    assert plan.room_mm >= 0.0
    assert plan.strength < 0.7


def test_a_ring_is_bent_around_and_lies_flat(make_case: Callable[..., Any]) -> None:
    case = make_case({"kind": "figure_of_eight", "blocks": "extension", "pip_flexion_deg": 15})
    part = figure_of_eight.KIND.build(case).parts[0]
    tangents = stressed_along(part).tangents
    assert np.linalg.norm(tangents, axis=1) == pytest.approx(1.0)
    assert abs(tangents.mean(axis=0)).max() < 0.35  # once around, a closed line has no direction of its own
    plan = plan_print(part, read_printers()["extrusion"], case.material)
    assert plan.strength >= 0.75


def test_powder_needs_no_supports(make_case: Callable[..., Any]) -> None:
    tables = {"print": {"material": "pa12_laser_sintering", "printer": "powder_bed_laser"}}
    case = make_case({"kind": "pip_extension", "form": "sleeve"}, **tables)
    plan = plan_print(pip_extension.KIND.build(case).parts[0], case.printer, case.material)
    assert (plan.supports.volume_mm3, plan.support_mass_g) == (0.0, 0.0)
    assert plan.seconds > 3600.0
