"""Files: what is in them, that they repeat, and that a set is written whole or not at all."""

import json
import subprocess
import sys
import textwrap
import time
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image

from print3d import flow
from print3d.errors import ExportError
from print3d.exports.fileset import MANIFEST, file_set
from print3d.exports.handed import handed
from print3d.exports.raycast import Camera, faces_by_depth_buffer, faces_by_rays
from print3d.exports.stl import write_stl
from print3d.exports.threemf import write_3mf
from print3d.geometry.mesh import Mesh
from tests.conftest import CASES, is_closed

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


@pytest.fixture(scope="module")
def ring() -> Mesh:
    body = trimesh.creation.torus(10.0, 2.0, major_sections=64, minor_sections=24)
    return Mesh(np.asarray(body.vertices, dtype=float), np.asarray(body.faces, dtype=np.int64))


def test_stl_reads_back_closed_with_its_volume(tmp_path: Path, ring: Mesh) -> None:
    write_stl(tmp_path / "a.stl", ring)
    write_stl(tmp_path / "b.stl", ring)
    data = (tmp_path / "a.stl").read_bytes()
    assert data == (tmp_path / "b.stl").read_bytes()
    assert not data.startswith(b"solid")  # a reader would take it for the text form
    assert len(data) == 84 + 50 * len(ring.faces)
    back = trimesh.load(tmp_path / "a.stl")
    assert back.is_watertight
    assert back.volume == pytest.approx(ring.volume_mm3(), rel=1e-5)


def test_3mf_follows_the_core_specification(tmp_path: Path, ring: Mesh) -> None:
    """3MF Core 1.4.0: unit, namespace, content type, start part, named metadata, closed and oriented objects."""
    for name in ("a.3mf", "b.3mf"):
        write_3mf(tmp_path / name, {"ring": ring, "second": ring}, title="PY-001 right", material_name="PETG")
    assert (tmp_path / "a.3mf").read_bytes() == (tmp_path / "b.3mf").read_bytes()
    with zipfile.ZipFile(tmp_path / "a.3mf") as package:
        types = package.read("[Content_Types].xml").decode()
        start = package.read("_rels/.rels").decode()
        model = ET.fromstring(package.read("3D/3dmodel.model"))
    assert "application/vnd.ms-package.3dmanufacturing-3dmodel+xml" in types
    assert "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel" in start
    assert model.tag == f"{{{CORE}}}model"
    assert model.get("unit") == "millimeter"
    metadata = {entry.get("name"): entry.text for entry in model.findall(f"{{{CORE}}}metadata")}
    assert metadata["Title"] == "PY-001 right"
    assert metadata["Application"] == "print3d"
    assert [each.get("name") for each in model.iter(f"{{{CORE}}}object")] == ["ring", "second"]
    assert [each.get("name") for each in model.iter(f"{{{CORE}}}base")] == ["PETG"]
    loaded = trimesh.load(tmp_path / "a.3mf")
    for body in loaded.geometry.values():
        assert body.is_watertight
        assert body.volume == pytest.approx(ring.volume_mm3(), rel=1e-5)


def test_3mf_refuses_an_open_mesh(tmp_path: Path, ring: Mesh) -> None:
    with pytest.raises(ExportError, match="not closed"):
        write_3mf(
            tmp_path / "a.3mf", {"ring": Mesh(ring.vertices, ring.faces[1:])}, title="t", material_name="m"
        )


def test_left_is_the_mirror_image(ring: Mesh) -> None:
    moved = Mesh(ring.vertices + [0, 5.0, 0], ring.faces)
    left = handed(moved, "left")
    assert is_closed(left)
    assert left.volume_mm3() == pytest.approx(ring.volume_mm3())
    assert left.vertices[:, 1].mean() == pytest.approx(-5.0, abs=1e-9)
    assert handed(moved, "right") is moved


def test_both_picture_engines_see_the_same(ring: Mesh) -> None:
    forward = np.array([0.6, 0.0, -0.8])
    camera = Camera(forward, np.array([0.8, 0.0, 0.6]), np.zeros(3), 0.1, (300, 280))
    rays, buffer = faces_by_rays(ring, camera), faces_by_depth_buffer(ring, camera)
    assert ((rays >= 0) == (buffer >= 0)).mean() > 0.995
    both = (rays >= 0) & (buffer >= 0)
    normals = ring.area_vectors()
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    agree = np.einsum("ij,ij->i", normals[rays[both]], normals[buffer[both]])
    assert (agree > 0.9).mean() > 0.99
    rows, columns = np.nonzero(rays >= 0)
    assert np.ptp(columns) * 0.1 == pytest.approx(24.0, abs=0.3)  # the torus is 24 mm wide


def test_a_build_writes_the_whole_set_and_again_the_same_bytes(tmp_path: Path) -> None:
    case = flow.read(CASES / "pip_extension_left_index.toml")
    formats = frozenset({"stl", "3mf", "png", "json"})
    first = flow.build(case, tmp_path / "a", formats, lambda step: None)
    second = flow.build(case, tmp_path / "b", formats, lambda step: None)
    assert {file.suffix for file in first.files} == {".stl", ".3mf", ".png", ".json"}
    for one, other in zip(first.files, second.files, strict=True):
        assert one.read_bytes() == other.read_bytes(), one.name
    data = json.loads((tmp_path / "a" / "PY-033" / "findings.json").read_text(encoding="utf-8"))
    assert data["holds"] is True
    assert all(finding["source"] for finding in data["findings"])
    picture = np.asarray(Image.open(tmp_path / "a" / "PY-033" / "views.png").convert("RGB")).astype(int)
    blue = (picture[..., 2] - picture[..., 0] > 60).mean()
    skin = (picture[..., 0] - picture[..., 2] > 25).mean()
    assert blue > 0.05
    assert skin > 0.05


def test_a_set_replaces_the_old_one_and_keeps_what_the_user_put_there(tmp_path: Path) -> None:
    with file_set(tmp_path, "PY-1") as folder:
        (folder / "old.stl").write_text("old")
        (folder / "same.stl").write_text("old")
    (tmp_path / "PY-1" / "notes.txt").write_text("mine")
    with file_set(tmp_path, "PY-1") as folder:
        (folder / "same.stl").write_text("new")
    names = {path.name for path in (tmp_path / "PY-1").iterdir()}
    assert names == {"same.stl", "notes.txt", MANIFEST}
    assert (tmp_path / "PY-1" / "same.stl").read_text() == "new"


def test_a_failing_build_changes_nothing(tmp_path: Path) -> None:
    with file_set(tmp_path, "PY-1") as folder:
        (folder / "a.stl").write_text("old")

    def fail_halfway() -> None:
        with file_set(tmp_path, "PY-1") as folder:
            (folder / "a.stl").write_text("half")
            raise RuntimeError("in the middle")

    with pytest.raises(RuntimeError, match="in the middle"):
        fail_halfway()
    assert (tmp_path / "PY-1" / "a.stl").read_text() == "old"
    assert {path.name for path in tmp_path.iterdir() if path.is_dir()} == {"PY-1"}


@pytest.mark.parametrize("name", ["../out", "/etc", "a/b", "..", ".", "", ".hidden"])
def test_a_code_cannot_leave_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ExportError, match="cannot name a folder"), file_set(tmp_path / "in", name):
        pytest.fail("must not be entered")
    assert list(tmp_path.iterdir()) == []


KILLED = """
    import os, sys
    from pathlib import Path
    from print3d.exports import fileset
    where, folder = sys.argv[1], Path(sys.argv[2])
    real = fileset._replace
    def dying(target, fresh, old):
        if where == "before the renames":
            os._exit(9)
        rename = Path.rename
        def one_rename(self, to):
            result = rename(self, to)
            os._exit(9)
        Path.rename = one_rename
        real(target, fresh, old)
    fileset._replace = dying
    with fileset.file_set(folder, "PY-1") as fresh:
        (fresh / "a.stl").write_text("new")
        (fresh / "b.stl").write_text("new")
        if where == "while writing":
            os._exit(9)
"""


@pytest.mark.parametrize("where", ["while writing", "before the renames", "between the renames"])
def test_a_killed_build_leaves_one_whole_set(tmp_path: Path, where: str) -> None:
    with file_set(tmp_path, "PY-1") as folder:
        (folder / "a.stl").write_text("old")
    command = [sys.executable, "-c", textwrap.dedent(KILLED), where, str(tmp_path)]
    assert subprocess.run(command, check=False).returncode == 9
    with (
        pytest.raises(RuntimeError),
        file_set(tmp_path, "PY-1"),
    ):  # the next build repairs, whatever comes of it
        raise RuntimeError
    assert (tmp_path / "PY-1" / "a.stl").read_text() == "old"
    assert not (tmp_path / "PY-1" / "b.stl").exists()


def test_two_builds_never_mix(tmp_path: Path) -> None:
    holder = textwrap.dedent("""
        import sys, time
        from pathlib import Path
        from print3d.exports.fileset import file_set
        with file_set(Path(sys.argv[1]), "PY-1") as fresh:
            (fresh / "a.stl").write_text("first")
            print("inside", flush=True)
            sys.stdin.readline()
    """)
    with subprocess.Popen(
        [sys.executable, "-c", holder, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == "inside"
        with pytest.raises(ExportError, match="another build"), file_set(tmp_path, "PY-1"):
            pytest.fail("must not be entered")
        process.communicate("\n", timeout=30)
    time.sleep(0.01)
    assert (tmp_path / "PY-1" / "a.stl").read_text() == "first"
