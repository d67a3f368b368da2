"""Files: what is in them, and that they repeat."""

import hashlib
import json
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import trimesh
from PIL import Image

from print3d import flow
from print3d.built import shape_and_check
from print3d.errors import ExportError
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import mirror_for_side
from print3d.inputs.case import Case
from print3d.language.catalogue import LANGUAGES, lines
from print3d.output.files import write_files
from print3d.output.findings_json import write_findings
from print3d.output.mesh.stl import write_stl
from print3d.output.mesh.threemf import write_3mf
from print3d.output.pictures.caution import SIDES, with_caution
from print3d.output.pictures.of_case import picture_names
from print3d.output.pictures.views import png
from tests.checks.made import made
from tests.conftest import CASES, in_ci, is_closed
from tests.output.paper.conftest import Pdf
from tests.shaped import changed, shaped, written_of

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"


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


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory, ring: Mesh) -> dict[str, bytes]:
    """Part name -> content of a 3MF file with two bodies."""
    path = tmp_path_factory.mktemp("3mf") / "a.3mf"
    second = Mesh(ring.vertices + [0.0, 0.0, 9.0], ring.faces)
    write_3mf(
        path,
        {"ring": ring, "second ring": second},
        says={"Title": "PY-001 <right> & ős"},
        material_name="PETG",
    )
    with zipfile.ZipFile(path) as file:
        return {name: file.read(name) for name in file.namelist()}


def test_3mf_package_leads_to_its_model(package: dict[str, bytes]) -> None:
    """3MF Core 1.4.0, appendix C: content type of the model part, type of the start part's relationship."""
    (start,) = [
        link
        for link in ET.fromstring(package["_rels/.rels"])
        if link.get("Type") == "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
    ]
    part = str(start.get("Target")).lstrip("/")
    assert part in package
    types = {
        each.get("Extension"): each.get("ContentType")
        for each in ET.fromstring(package["[Content_Types].xml"])
    }
    assert types[part.rsplit(".")[-1]] == "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"


def test_3mf_says_millimetre_title_and_material(package: dict[str, bytes]) -> None:
    """3MF Core 1.4.0: unit, namespace, table 3-1 of metadata names, each once."""
    model = ET.fromstring(package["3D/3dmodel.model"])
    assert model.tag == CORE + "model"
    assert model.get("unit") == "millimeter"
    metadata = [(entry.get("name"), entry.text) for entry in model.findall(CORE + "metadata")]
    assert sorted(metadata) == [("Application", "print3d"), ("Title", "PY-001 <right> & ős")]
    (materials,) = model.iter(CORE + "basematerials")
    assert [base.get("name") for base in materials] == ["PETG"]
    for body in model.iter(CORE + "object"):
        assert (body.get("pid"), body.get("pindex")) == (materials.get("id"), "0")


def test_3mf_bodies_are_those_given(package: dict[str, bytes], ring: Mesh) -> None:
    """3MF Core 1.4.0, 4.1: at least 4 triangles, each edge shared by two of opposite direction, outward faces."""
    model = ET.fromstring(package["3D/3dmodel.model"])
    bodies = list(model.iter(CORE + "object"))
    assert [body.get("name") for body in bodies] == ["ring", "second ring"]
    assert {item.get("objectid") for item in model.iter(CORE + "item")} == {body.get("id") for body in bodies}
    for body, lift in zip(bodies, (0.0, 9.0), strict=True):
        vertices = np.array(
            [[float(v.get(axis, "nan")) for axis in "xyz"] for v in body.iter(CORE + "vertex")]
        )
        faces = np.array(
            [[int(t.get(key, "-1")) for key in ("v1", "v2", "v3")] for t in body.iter(CORE + "triangle")]
        )
        assert np.abs(vertices - ring.vertices - [0.0, 0.0, lift]).max() < 2e-6  # single precision at 12 mm
        assert np.array_equal(faces, ring.faces)
        mesh = Mesh(vertices, faces)
        assert is_closed(mesh)
        assert mesh.volume_mm3() > 0.0


def test_3mf_repeats_its_bytes_and_tells_changes_by_its_identifiers(tmp_path: Path, ring: Mesh) -> None:
    def identifiers(name: str, mesh: Mesh) -> set[str]:
        write_3mf(tmp_path / name, {"ring": mesh, "same": mesh}, says={"Title": "t"}, material_name="m")
        model = ET.fromstring(zipfile.ZipFile(tmp_path / name).read("3D/3dmodel.model"))
        return {value for each in model.iter() for key, value in each.items() if key.endswith("UUID")}

    first = identifiers("a.3mf", ring)
    assert len(first) == 5  # the build, two bodies, two items
    assert identifiers("b.3mf", ring) == first
    assert (tmp_path / "a.3mf").read_bytes() == (tmp_path / "b.3mf").read_bytes()
    assert not identifiers("c.3mf", Mesh(1.001 * ring.vertices, ring.faces)) & first


def test_3mf_is_read_by_another_program(tmp_path: Path, ring: Mesh) -> None:
    write_3mf(tmp_path / "a.3mf", {"ring": ring}, says={"Title": "t"}, material_name="m")
    for body in trimesh.load(tmp_path / "a.3mf").geometry.values():
        assert body.is_watertight
        assert body.volume == pytest.approx(ring.volume_mm3(), rel=1e-5)


def test_3mf_refuses_an_open_mesh(tmp_path: Path, ring: Mesh) -> None:
    with pytest.raises(ExportError, match="not closed"):
        write_3mf(
            tmp_path / "a.3mf",
            {"ring": Mesh(ring.vertices, ring.faces[1:])},
            says={"Title": "t"},
            material_name="m",
        )


def test_3mf_refuses_a_mesh_turned_inside_out(tmp_path: Path, ring: Mesh) -> None:
    with pytest.raises(ExportError, match="point inward"):
        write_3mf(
            tmp_path / "a.3mf",
            {"ring": Mesh(ring.vertices, ring.faces[:, ::-1])},
            says={"Title": "t"},
            material_name="m",
        )
    assert not (tmp_path / "a.3mf").exists()


def test_findings_name_the_case_and_the_parts(
    tmp_path: Path, ring: Mesh, make_case: Callable[..., Case]
) -> None:
    case = make_case({"kind": "mallet"})
    finding = made("wall.thinnest", 1.8, 2.0, where=(1.0, 2.0, 3.0))
    write_findings(tmp_path / "a.json", written_of(case, [finding], {"ring": ring}))
    text = (tmp_path / "a.json").read_text(encoding="utf-8")
    data = json.loads(text)
    assert (data["case"], data["side"], data["finger"], data["kind"]) == (
        "PY-001",
        "right",
        "middle",
        "mallet",
    )
    assert data["holds"] is False
    assert data["findings"][0]["margin"] == pytest.approx(-0.2)
    assert list(data) == sorted(data)
    expected = hashlib.sha256(ring.vertices.astype("<f4").tobytes() + ring.faces.astype("<u4").tobytes())
    assert data["parts"]["ring"]["sha256"] == expected.hexdigest()


@pytest.mark.parametrize(
    "numbers",
    [
        {"measured": float("nan")},
        {"limit": float("inf")},
        {"limit": (0.0, float("nan"))},
        {"where": (0.0, 0.0, float("nan"))},
    ],
)
def test_findings_that_are_not_finite_are_refused(
    tmp_path: Path, ring: Mesh, make_case: Callable[..., Case], numbers: dict[str, Any]
) -> None:
    fields = {"measured": 1.8, "limit": 2.0, "where": None, **numbers}
    finding = replace(made("wall.thinnest", 1.8, 2.0), **fields)
    with pytest.raises(ExportError, match="thinnest wall.*only finite"):
        write_findings(
            tmp_path / "a.json", written_of(make_case({"kind": "mallet"}), [finding], {"ring": ring})
        )
    assert not (tmp_path / "a.json").exists()


def test_left_is_the_mirror_image(ring: Mesh) -> None:
    moved = Mesh(ring.vertices + [0, 5.0, 0], ring.faces)
    left = mirror_for_side(moved, "left")
    assert is_closed(left)
    assert left.volume_mm3() == pytest.approx(ring.volume_mm3())
    assert left.vertices[:, 1].mean() == pytest.approx(-5.0, abs=1e-9)
    assert mirror_for_side(moved, "right") is moved


def test_a_build_writes_the_whole_set_and_again_the_same_bytes(tmp_path: Path) -> None:
    case = flow.read(CASES / "pip_extension_left_index.toml")
    formats = frozenset({"stl", "3mf", "png", "json"})
    first = flow.write(shape_and_check(case), tmp_path / "a", formats)
    second = flow.write(shape_and_check(case), tmp_path / "b", formats)
    assert {file.suffix for file in first} == {".stl", ".3mf", ".png", ".json"}
    for one, other in zip(first, second, strict=True):
        assert one.read_bytes() == other.read_bytes(), one.name
    data = json.loads((tmp_path / "a" / "PY-033" / "findings.json").read_text(encoding="utf-8"))
    assert data["holds"] is True
    assert all(finding["source"] for finding in data["findings"])
    picture = np.asarray(Image.open(tmp_path / "a" / "PY-033" / "views.png").convert("RGB")).astype(int)
    blue = (picture[..., 2] - picture[..., 0] > 60).mean()
    skin = (picture[..., 0] - picture[..., 2] > 25).mean()
    assert blue > 0.05
    assert skin > 0.05


# --- cautions --------------------------------------------------------------------------------------------------------


def said_by(path: Path) -> str:
    """Return the words of a file that leaves the program by itself."""
    if path.suffix == ".pdf":
        return Pdf(path).text()
    if path.suffix == ".3mf":
        with zipfile.ZipFile(path) as package:
            model = ET.fromstring(package.read("3D/3dmodel.model"))
        return " ".join(str(each.text) for each in model if each.get("name") == "Description")
    if path.suffix == ".dxf":
        return " ".join(each.dxf.text for each in ezdxf.readfile(path).modelspace().query("TEXT"))
    rows = [each.text for each in ET.fromstring(path.read_text()).iter("{http://www.w3.org/2000/svg}text")]
    return " ".join(map(str, rows))


@pytest.mark.parametrize("language", [LANGUAGES[0], *map(in_ci, LANGUAGES[1:])])
def test_what_may_be_handed_on_alone_carries_the_cautions(tmp_path: Path, language) -> None:
    built = shaped("pip_extension")
    header = built.case.header.model_copy(update={"language": language})
    built = changed(built, case=replace(built.case, header=header))
    names = write_files(built, tmp_path, frozenset({"pattern", "3mf"}))
    assert len(names) == 4
    for name in names:
        said = " ".join(said_by(tmp_path / name).split())
        assert [each for each in lines("cautions.all", language) if each not in said] == [], name
    assert len(Pdf(tmp_path / "pattern.pdf").document) == 1


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("width", [1080, 1360])
def test_a_picture_carries_a_caution_that_ends_inside(language, width: int) -> None:
    white = np.full((300, width, 3), 255, dtype=np.uint8)
    picture = np.asarray(Image.open(BytesIO(with_caution(png(Image.fromarray(white)), language))))
    below = np.argwhere(picture[300:].min(axis=-1) < 200)
    assert len(picture) > 300
    assert below[:, 1].min() < 40
    assert 0.5 * width < below[:, 1].max() < width - SIDES


def test_every_picture_that_is_written_carries_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    built = shaped("pip_extension")
    blank = png(Image.new("RGB", (1080, 300), "white"))
    monkeypatch.setattr(
        "print3d.output.pictures.of_case.pictures_of", lambda _: dict.fromkeys(picture_names(built), blank)
    )
    names = write_files(built, tmp_path, frozenset({"png"}))
    assert {"views.png", "wall.png"} <= set(names)
    assert {(tmp_path / name).read_bytes() for name in names} == {with_caution(blank, "en")}
