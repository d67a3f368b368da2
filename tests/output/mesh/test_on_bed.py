"""Where a slicer finds the parts: each in its planned position on the bed, beside each other, meshes as they are."""

import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from print3d.built import Built
from print3d.geometry.frames import mirrored
from print3d.output.files import writers
from print3d.printing.bed_layout import APART_MM, places_on_bed
from tests.output.test_finished_parts import CORE, model_of
from tests.shaped import shaped

NAMES = ("mallet_with_pip_block_two_piece", "pip_extension")
"""Two parts of a left hand, one of a right hand."""
WRITTEN_MM = 5e-4
"""lib3mf writes where a part stands with six digits: half of the last one, from 100 mm on."""


def written(built: Built, folder: Path) -> Path:
    ((name, write),) = writers(built, frozenset({"3mf"})).items()
    write(folder / name)
    return folder / name


def placed(path: Path) -> dict[str, trimesh.Trimesh]:
    """Bodies as trimesh, an independent reader, places them."""
    scene = trimesh.load(path)
    return {node: scene.geometry[name].copy().apply_transform(turn)
            for node in scene.graph.nodes_geometry for turn, name in [scene.graph[node]]}  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_a_slicer_opens_each_part_as_it_is_best_printed(name: str, tmp_path: Path) -> None:
    built = shaped(name)
    bed = np.array(built.case.printer.bed_mm)
    bodies = placed(written(built, tmp_path))
    sizes = {tuple(np.round(plan.size_mm, 2)) for plan in built.plans}
    assert {tuple(np.round(body.extents, 2)) for body in bodies.values()} == sizes
    assert len(sizes) == len(built.modelled.parts)
    boxes = [body.bounds for body in bodies.values()]
    for low, high in boxes:
        assert low[2] == pytest.approx(0.0, abs=1e-4)
        assert (low > -1e-4).all()
        assert (high < bed).all()
    for number, (low, high) in enumerate(boxes):
        for other_low, other_high in boxes[:number]:
            apart = np.maximum(low - other_high, other_low - high)[:2].max()
            assert apart >= APART_MM - 2 * WRITTEN_MM
    whole = np.array([np.min(boxes, axis=0)[0], np.max(boxes, axis=0)[1]])
    assert whole.mean(axis=0)[:2] == pytest.approx(bed[:2] / 2, abs=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_the_meshes_stay_in_their_own_frame_and_are_only_turned(name: str, tmp_path: Path) -> None:
    """3MF Core 1.4.0, 4.2: vertices are the object's own; the item's matrix has 4 rows of 3, points being rows."""
    built = shaped(name)
    model = model_of(written(built, tmp_path))
    meshes = list(built.meshes.values())
    for body, mesh in zip(model.iter(f"{CORE}object"), meshes, strict=True):
        kept = [[float(v.get(axis, "")) for axis in "xyz"] for v in body.iter(f"{CORE}vertex")]
        assert np.allclose(kept, mesh.vertices, atol=1e-4)
    for item in model.iter(f"{CORE}item"):
        rotation = np.array((item.get("transform") or "").split(), dtype=float).reshape(4, 3)[:3]
        assert np.allclose(rotation @ rotation.T, np.eye(3), atol=1e-5)
        assert np.linalg.det(rotation) == pytest.approx(1.0, abs=1e-5)


def test_the_left_part_lies_as_the_mirror_image_of_the_right_one() -> None:
    built = shaped("pip_extension")
    (part,), (plan,) = built.modelled.parts, built.plans
    right, left = (plan.for_side(side).bed_from_limb for side in ("right", "left"))
    vertices = part.shell.mesh.vertices
    on_right = vertices @ right[:3, :3].T + right[:3, 3]
    on_left = mirrored(vertices) @ left[:3, :3].T + left[:3, 3]
    assert np.allclose(on_left, on_right * [-1.0, 1.0, 1.0])


def test_the_same_parts_give_the_same_bytes_and_another_place_another_identifier(tmp_path: Path) -> None:
    built, texts = shaped("pip_extension"), list[str]()
    small = built.case.printer.bed_width_mm.model_copy(update={"value": 200.0})
    other = replace(built.case, printer=built.case.printer.model_copy(update={"bed_width_mm": small}))
    for folder, case in ((tmp_path / "a", built.case), (tmp_path / "b", built.case), (tmp_path / "c", other)):
        folder.mkdir()
        path = written(replace(built, case=case), folder)
        texts.append(zipfile.ZipFile(path).read("3D/3dmodel.model").decode())
        assert folder == tmp_path / "c" or path.read_bytes() == (tmp_path / "a" / path.name).read_bytes()
    first, _, moved = texts
    assert first.count("<vertex ") == moved.count("<vertex ")
    assert first.split("<build")[0] == moved.split("<build")[0]
    assert first.split("<build")[1] != moved.split("<build")[1]


def planned(part: str, width: float, depth: float) -> Any:
    """A part that lies in the middle of the bed with its own frame."""
    plan = shaped("pip_extension").plans[0]
    return replace(plan, part=part, size_mm=(width, depth, 10.0), bed_from_limb=np.eye(4))


def test_rows_are_as_long_as_the_bed_is_wide() -> None:
    plans = [planned(name, 50.0, depth) for name, depth in (("a", 20.0), ("b", 30.0), ("c", 10.0))]
    places = places_on_bed(plans, (120.0, 120.0, 120.0))
    middles = {name: place[:2, 3] for name, place in places.items()}
    assert middles["b"] - middles["a"] == pytest.approx([50.0 + APART_MM, 5.0])  # front edges in line
    assert middles["c"] - middles["a"] == pytest.approx([0.0, 30.0 + APART_MM - 5.0])
    tight = places_on_bed(plans, (40.0, 40.0, 120.0))
    assert all((tight[plan.part][:2, 3] - np.array(plan.size_mm[:2]) / 2 >= 0.0).all() for plan in plans)
