"""STL, 3MF and findings of finished parts, read back by other readers and held against their specification."""

import json
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from print3d import flow
from print3d.checks.finding import Finding
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import mirror_for_side
from print3d.kinds.registry import KINDS
from print3d.output.findings_json import write_findings
from print3d.output.mesh.stl import write_stl
from print3d.output.mesh.threemf import mesh_hash, write_3mf
from tests.checks.made import made
from tests.conftest import AGAIN, is_closed, worked_cases
from tests.shaped import written_of

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
PRODUCTION = "{http://schemas.microsoft.com/3dmanufacturing/production/2015/06}"


def block(size: tuple[float, float, float], corner: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Mesh:
    body = trimesh.creation.box(size)
    return Mesh(np.asarray(body.vertices) + np.array(corner), np.asarray(body.faces, dtype=np.int64))


def model_of(path: Path) -> ET.Element:
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None
        return ET.fromstring(package.read("3D/3dmodel.model"))


def bodies_on_bed(path: Path) -> list[Mesh]:
    """Every build item as a slicer places it: its object's vertices moved by its transform (3MF Core 1.4.0)."""
    model = model_of(path)
    objects = {each.get("id"): each for each in model.iter(f"{CORE}object")}
    bodies = []
    for item in model.iter(f"{CORE}item"):
        body = objects[item.get("objectid")]
        vertices = [[float(v.get(axis, "")) for axis in "xyz"] for v in body.iter(f"{CORE}vertex")]
        faces = [
            [int(t.get(corner, "")) for corner in ("v1", "v2", "v3")] for t in body.iter(f"{CORE}triangle")
        ]
        rows = np.array((item.get("transform") or "1 0 0 0 1 0 0 0 1 0 0 0").split(), dtype=float).reshape(
            4, 3
        )
        bodies.append(Mesh(np.array(vertices) @ rows[:3] + rows[3], np.array(faces)))
    return bodies


@pytest.mark.parametrize("case_file", worked_cases(left_to_ci=(*AGAIN, "dorsal_blocking_short")))
def test_every_shipped_case_stays_closed_in_the_precision_of_the_files(
    case_file: Path, tmp_path: Path
) -> None:
    """STL welds vertices by their 32-bit coordinates, 3MF writes them as decimals: neither may merge or open anything."""
    case = flow.read(case_file)
    for part in KINDS[case.orthosis.kind].build(case).parts:
        mesh = mirror_for_side(part.shell.mesh, case.header.side)
        write_stl(tmp_path / "part.stl", mesh)
        write_3mf(tmp_path / "part.3mf", {part.name: mesh}, says={"Title": "t"}, material_name="m")
        welded = trimesh.load(tmp_path / "part.stl")
        assert welded.is_watertight
        assert welded.is_winding_consistent
        assert len(welded.faces) == len(mesh.faces)
        assert len(welded.vertices) == len(mesh.vertices)
        assert welded.volume == pytest.approx(mesh.volume_mm3(), rel=1e-5)
        (on_bed,) = bodies_on_bed(tmp_path / "part.3mf")
        assert is_closed(on_bed)
        assert np.array_equal(on_bed.faces, mesh.faces)
        assert np.allclose(np.ptp(on_bed.vertices, axis=0), np.ptp(mesh.vertices, axis=0), atol=1e-4)
        # 3MF Core 1.4.0, 4.1: counter-clockwise seen from outside, non-zero area
        assert on_bed.volume_mm3() == pytest.approx(mesh.volume_mm3(), rel=1e-5)
        assert np.linalg.norm(on_bed.area_vectors(), axis=1).min() > 0.0


def test_stl_normals_point_out_of_the_body(tmp_path: Path) -> None:
    """The STL's own normals, which some readers trust: unit length, away from the middle of a block."""
    mesh = block((2.0, 3.0, 4.0))
    write_stl(tmp_path / "a.stl", mesh)
    stored = np.frombuffer((tmp_path / "a.stl").read_bytes()[84:], dtype="(3,)f4, (3,3)f4, u2")
    normals, corners = stored["f0"], stored["f1"]
    assert np.allclose(np.linalg.norm(normals, axis=1), 1.0)
    assert (np.einsum("ij,ij->i", normals, corners.mean(axis=1)) > 0).all()


def test_3mf_stands_in_the_positive_octant_and_keeps_the_parts_together(tmp_path: Path) -> None:
    """3MF Core 1.4.0: the origin is the bottom, front, left corner of the build space."""
    parts = {
        "volar half": block((10.0, 4.0, 2.0), (-5.0, 1.0, -7.0)),
        "dorsal half": block((10.0, 4.0, 2.0), (-5.0, 1.0, 3.0)),
    }
    write_3mf(tmp_path / "a.3mf", parts, says={"Title": "t"}, material_name="m")
    bodies = bodies_on_bed(tmp_path / "a.3mf")
    assert np.vstack([body.vertices for body in bodies]).min(axis=0) == pytest.approx(
        [0.0, 0.0, 0.0], abs=1e-5
    )
    apart = bodies[1].vertices - bodies[0].vertices
    assert np.allclose(apart, [0.0, 0.0, 10.0], atol=1e-5)


def test_3mf_asks_readers_for_no_extension_and_names_each_thing_once(tmp_path: Path) -> None:
    """3MF Core 1.4.0: a reader refuses a file whose required extension it lacks; each metadata name once; unique UUIDs."""
    mesh = block((1.0, 1.0, 1.0))
    write_3mf(tmp_path / "a.3mf", {"one": mesh, "two": mesh}, says={"Title": "t"}, material_name="m")
    model = model_of(tmp_path / "a.3mf")
    assert not model.get("requiredextensions")
    names = [each.get("name") for each in model.iter(f"{CORE}metadata")]
    assert len(names) == len(set(names))
    uuids = [value for each in model.iter() for key, value in each.items() if key == f"{PRODUCTION}UUID"]
    assert len(uuids) == len(set(uuids)) == 5  # build, two objects, two items
    materials = {each.get("id") for each in model.iter(f"{CORE}basematerials")}
    for body in model.iter(f"{CORE}object"):
        assert body.get("type") == "model"
        assert body.get("pid") in materials
        assert len(list(body.iter(f"{CORE}triangle"))) >= 4


@pytest.fixture
def finding() -> Finding:
    return made("wall.thinnest", 2.01, 1.8, where=(1.0, 2.0, 3.0))


MakeCase = Callable[..., Any]


def test_findings_are_plain_sorted_json_with_the_hash_of_the_part(
    tmp_path: Path, make_case: MakeCase, finding: Finding
) -> None:
    case, mesh = make_case({"kind": "pip_extension"}), block((1.0, 1.0, 1.0))
    of_numpy = replace(
        finding, measured=np.float32(1.5), limit=(np.float64(1.0), np.int64(2)), sense="between", where=None
    )
    write_findings(tmp_path / "a.json", written_of(case, [finding, of_numpy], {"gutter": mesh}))
    text = (tmp_path / "a.json").read_text(encoding="utf-8")
    data = json.loads(text)
    assert text == json.dumps(data, indent=2, sort_keys=True, ensure_ascii=False) + "\n"
    assert (data["case"], data["holds"]) == ("PY-001", True)
    first, second = data["findings"]
    assert (first["margin"], first["holds"], first["where"]) == (pytest.approx(0.21), True, [1.0, 2.0, 3.0])
    assert (second["measured"], second["limit"], second["margin"]) == (1.5, [1.0, 2.0], 0.5)
    assert data["parts"]["gutter"]["sha256"] == mesh_hash(mesh)
    assert data["parts"]["gutter"]["volume_mm3"] == 1.0


def test_two_mirrors_are_the_part_itself() -> None:
    mesh = block((1.0, 2.0, 3.0), (0.0, 5.0, 0.0))
    left = mirror_for_side(mesh, "left")
    again = mirror_for_side(left, "left")
    assert np.array_equal(again.vertices, mesh.vertices)
    assert np.array_equal(again.faces, mesh.faces)
    assert left.volume_mm3() == pytest.approx(6.0)
    assert left.vertices[:, 1].max() == pytest.approx(-4.0)
