"""The CAD solid: one valid closed body that agrees with the mesh, for every shipped case and for a wrap-around ring."""

from pathlib import Path

import cadquery as cq
import igl
import numpy as np
import pytest
from OCP.BRepMesh import BRepMesh_IncrementalMesh

from print3d import flow
from print3d.exports.step import write_step
from print3d.geometry.mesh import Mesh
from print3d.orthoses.registry import KINDS
from print3d.shell.curves import circle, edge
from print3d.shell.definition import ShellDefinition
from print3d.shell.letters import letter_loops
from print3d.shell.mesh import build_mesh
from print3d.shell.pattern import Pattern
from print3d.shell.solid import build_solid
from tests.conftest import CASES
from tests.test_shell import PERIOD, WALL, faces, grid_of_vents, gutter


def tessellated(solid: cq.Solid, tolerance_mm: float = 0.01) -> Mesh:
    """Triangles within an absolute distance of the solid (`Shape.tessellate` alone takes it as relative)."""
    BRepMesh_IncrementalMesh(solid.wrapped, tolerance_mm, False, 0.1, True)
    points, triangles = solid.tessellate(tolerance_mm, 0.1)
    return Mesh(np.array([p.toTuple() for p in points]), np.array(triangles, dtype=np.int64))


def assert_agree(definition: ShellDefinition, distance_mm: float = 0.03) -> None:
    """Volume within 0.3 %, two-sided distance within `distance_mm`."""
    solid, mesh = build_solid(definition), build_mesh(definition).mesh
    assert solid.isValid()
    assert solid.ShapeType() == "Solid"
    assert all(shell.wrapped.Closed() for shell in solid.Shells())
    assert solid.Volume() == pytest.approx(mesh.volume_mm3(), rel=0.003)
    cad = tessellated(solid)
    for points, other in ((mesh.vertices, cad), (cad.vertices, mesh)):
        squared = igl.point_mesh_squared_distance(points, other.vertices, other.faces)[0]
        assert np.sqrt(squared.max()) <= distance_mm


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_case_as_mesh_and_as_solid(path: Path) -> None:
    case = flow.read(path)
    for part in KINDS[case.orthosis.kind].build(case).parts:
        assert_agree(part.definition)


def test_plain_gutter_with_vents() -> None:
    assert_agree(gutter(grid_of_vents()))


@pytest.mark.parametrize("height", [0.5, -0.5])
def test_letters_with_counters(height: float) -> None:
    assert_agree(gutter(marks=letter_loops("B8 →", (22.0, 0.0), 4.0), mark_height=height))


def test_wrap_around_ring_with_vents() -> None:
    low = edge(lambda around: 3 + 2 * np.sin(around / 9.0), PERIOD, 0.4, is_distal=False)
    high = edge(lambda around: 17 + 2 * np.cos(2 * around / 9.0), PERIOD, 0.4, is_distal=True)
    vents = tuple(
        circle(np.array([10.0, y]), 1.5, "vent", 0.006) for y in (-20.0, -12.0, -4.0, 4.0, 12.0, 20.0)
    )
    assert_agree(ShellDefinition(Pattern((low, high), vents, period_mm=PERIOD), *faces(PERIOD), WALL, 0.9))


def test_step_file_is_in_millimetres_named_and_repeatable(tmp_path: Path) -> None:
    solid = build_solid(gutter())
    for name in ("first.step", "second.step"):
        write_step(tmp_path / name, {"gutter": solid}, product_name="PY-001 gutter", mirror=False)
    text = (tmp_path / "first.step").read_text(encoding="utf-8")
    assert text.startswith("ISO-10303-21;")
    assert "PY-001 gutter" in text
    assert ".MILLI.,.METRE." in text
    back = cq.importers.importStep(str(tmp_path / "first.step"))
    assert back.val().Volume() == pytest.approx(solid.Volume(), rel=1e-6)
    assert len(back.solids().vals()) == 1


def test_left_step_is_the_mirror_image(tmp_path: Path) -> None:
    definition = gutter(marks=letter_loops("R7", (22.0, 5.0), 4.0))
    solid = build_solid(definition)
    write_step(tmp_path / "left.step", {"gutter": solid}, product_name="PY-002", mirror=True)
    left = cq.importers.importStep(str(tmp_path / "left.step")).val()
    assert left.Volume() == pytest.approx(solid.Volume(), rel=1e-6)
    assert left.isValid()
    assert left.Center().y == pytest.approx(-solid.Center().y, abs=1e-4)
    assert abs(solid.Center().y) > 0.001
