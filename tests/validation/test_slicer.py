"""Our files, masses and print times against PrusaSlicer, where it is installed (Debian package prusa-slicer).

The constants of the time model were fitted to six finger parts (`tests/benchmarks/calibrate_print_time.py`); the other six, and
all hand and forearm parts, were left out of that. `python -m pytest -s` prints the comparison.
"""

from pathlib import Path
from typing import Any

import pytest

from print3d import flow
from print3d.exports.handed import handed
from print3d.exports.stl import write_stl
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.inputs.materials import read_materials, read_printers
from print3d.orthoses.built import Part
from print3d.orthoses.registry import KINDS
from print3d.printing.plan import PrintPlan, plan_print
from tests import slicer
from tests.conftest import CASES

pytestmark = pytest.mark.skipif(slicer.PROGRAM is None, reason="prusa-slicer is not installed")

PRINTER, MATERIAL = read_printers()["extrusion_large"], read_materials()["petg"]
"""Every shipped part is compared on the printer of the time model, whatever its case asks for."""
ALL = sorted(path.stem for path in CASES.glob("*.toml"))


def parts_of(name: str) -> tuple[Any, tuple[Part, ...]]:
    case = flow.read(CASES / f"{name}.toml")
    return case, KINDS[case.orthosis.kind].build(case).parts


def sliced(part: Part, side: str, folder: Path) -> tuple[PrintPlan, slicer.Estimate]:
    """Slice a part as its plan lays it on the bed."""
    plan = plan_print(part, PRINTER, MATERIAL)
    body = handed(part.mesh.mesh, side)
    path = folder / f"{part.name.replace(' ', '_')}.stl"
    write_stl(path, Mesh(apply(plan.for_side(side), body.vertices), body.faces))
    return plan, slicer.estimate(path, folder, PRINTER, MATERIAL)


def compare(name: str, folder: Path) -> None:
    case, parts = parts_of(name)
    for part in parts:
        plan, theirs = sliced(part, case.case.side, folder)
        assert plan.seconds is not None
        mass = plan.mass_g + plan.support_mass_g
        print(
            f"\n{name}, {part.name}: {plan.seconds / 60:.0f} min, slicer {theirs.seconds / 60:.0f} "
            f"({plan.seconds / theirs.seconds - 1:+.0%}); {mass:.1f} g, slicer {theirs.mass_g:.1f} "
            f"({mass / theirs.mass_g - 1:+.0%})"
        )
        assert plan.seconds == pytest.approx(theirs.seconds, rel=0.25)
        assert mass == pytest.approx(theirs.mass_g, rel=0.25)


def test_a_ring_as_a_slicer_sees_it(tmp_path: Path) -> None:
    compare("figure_of_eight_reverse", tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("name", [each for each in ALL if each != "figure_of_eight_reverse"])
def test_mass_and_time_of_every_part(name: str, tmp_path: Path) -> None:
    compare(name, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("name", ALL)
def test_files_need_no_repair_and_keep_their_volume(name: str, tmp_path: Path) -> None:
    """STL and 3MF as they are shipped, all parts of a case together."""
    case = flow.read(CASES / f"{name}.toml")
    built = flow.build(case, tmp_path, frozenset({"stl", "3mf"}), lambda _: None)
    volume = sum(part.mesh.mesh.volume_mm3() for part in built.orthosis.parts)
    for suffix in (".stl", ".3mf"):
        found = [slicer.info(path) for path in built.files if path.suffix == suffix]
        assert sum(each.volume_mm3 for each in found) == pytest.approx(volume, rel=0.01)
        for each in found:
            assert each.is_manifold
            assert (each.open_edges, each.repairs) == (0, ())


def test_a_broken_file_is_seen(tmp_path: Path) -> None:
    """The slicer's own verdict on a mesh that lacks triangles, so that the test above can fail."""
    _, parts = parts_of("figure_of_eight_reverse")
    whole = parts[0].mesh.mesh
    write_stl(tmp_path / "whole.stl", whole)
    write_stl(tmp_path / "torn.stl", Mesh(whole.vertices, whole.faces[25:]))
    assert slicer.info(tmp_path / "whole.stl").is_manifold
    torn = slicer.info(tmp_path / "torn.stl")
    assert not torn.is_manifold
    assert torn.open_edges > 0
