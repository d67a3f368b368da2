"""Layers against bodies whose sections are known, and against trimesh's own sections."""

import numpy as np
import pytest
import shapely
import trimesh

from print3d.geometry.mesh import Mesh
from print3d.inputs.materials import read_printers
from print3d.printing.layers import cut_into_layers
from print3d.printing.timing import print_seconds
from tests.shell.shapes import vented

UP = np.array([0.0, 0.0, 1.0])


def mesh_of(body: trimesh.Trimesh) -> Mesh:
    return Mesh(np.asarray(body.vertices, dtype=float), np.asarray(body.faces, dtype=np.int64))


def test_a_box() -> None:
    layers = cut_into_layers(mesh_of(trimesh.creation.box((10.0, 20.0, 6.0))), UP, 0.2)
    assert layers.count == 30
    assert layers.outline_mm == pytest.approx(60.0)
    assert layers.area_mm2 == pytest.approx(200.0)
    assert set(layers.contours) == {1}


def test_a_box_on_its_corner_keeps_its_volume() -> None:
    """Areas of evenly spaced sections times their spacing are the volume (midpoint rule)."""
    up = np.ones(3) / np.sqrt(3.0)
    layers = cut_into_layers(mesh_of(trimesh.creation.box((10.0, 10.0, 10.0))), up, 0.1)
    assert layers.count == int(np.ceil(np.sqrt(300.0) / 0.1))
    assert layers.area_mm2.mean() * np.sqrt(300.0) == pytest.approx(1000.0, rel=0.002)


def test_a_plate_with_two_holes_has_three_contours() -> None:
    plate = shapely.box(0, 0, 30, 10).difference(
        shapely.Point(8, 5).buffer(2).union(shapely.Point(20, 5).buffer(3))
    )
    body = trimesh.creation.extrude_polygon(plate, 2.0)
    layers = cut_into_layers(mesh_of(body), UP, 0.2)
    assert set(layers.contours) == {3}
    assert layers.area_mm2 == pytest.approx(plate.area, rel=1e-6)
    assert layers.outline_mm == pytest.approx(plate.length, rel=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_a_vented_shell_against_trimesh(seed: int) -> None:
    from print3d.shell.mesh import build_mesh

    up = np.random.default_rng(seed).normal(size=3)
    up /= np.linalg.norm(up)
    mesh = build_mesh(vented(12)).mesh
    layers = cut_into_layers(mesh, up, 2.0)
    body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    height = mesh.vertices @ up
    spacing = np.ptp(height) / layers.count
    for number in range(layers.count):
        section = body.section(up, up * (height.min() + (number + 0.5) * spacing))
        flat, _ = section.to_2D()
        assert layers.area_mm2[number] == pytest.approx(flat.area, rel=1e-3, abs=0.01)
        assert layers.outline_mm[number] == pytest.approx(section.length, rel=1e-3)
        assert layers.contours[number] == len(section.entities)


def test_time_by_hand() -> None:
    """A box of 10 x 20 x 6 mm: 30 layers of 60 mm outline and 200 / 0.45 - 60 mm of filling lines, one contour each."""
    printer = read_printers()["extrusion"]
    pace = printer.pace
    layers = cut_into_layers(mesh_of(trimesh.creation.box((10.0, 20.0, 6.0))), UP, 0.2)
    layer = 60.0 / pace.outline_mm_per_s.value + (200.0 / 0.45 - 60.0) / pace.fill_mm_per_s.value
    layer += pace.contour_s.value + printer.layer_s.value
    assert print_seconds(layers, 0.0, printer) == pytest.approx(30.0 * layer + printer.start_s.value)
    supported = print_seconds(layers, 90.0, printer)
    lines = 90.0 / (0.45 * 0.2) / pace.support_mm_per_s.value
    assert supported == pytest.approx(30.0 * layer + printer.start_s.value + lines)


def test_a_small_layer_takes_its_cooling_time_and_a_bed_of_powder_its_layers() -> None:
    printers = read_printers()
    pin = cut_into_layers(mesh_of(trimesh.creation.box((1.0, 1.0, 10.0))), UP, 0.2)
    nozzle, powder = printers["extrusion"], printers["powder_bed_laser"]
    assert print_seconds(pin, 0.0, nozzle) == pytest.approx(
        50 * nozzle.pace.cooling_s.value + nozzle.start_s.value
    )
    assert print_seconds(pin, 0.0, powder) == pytest.approx(50 * powder.layer_s.value + powder.start_s.value)
    assert print_seconds(pin, 0.0, powder.model_copy(update={"layer_s": None})) is None
