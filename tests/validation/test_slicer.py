"""Every shipped STL and 3MF against PrusaSlicer, where it is installed (Debian package prusa-slicer).

The very files of a build are sliced: an STL is turned by the slicer as its plan says, a 3MF lies as it was written. The constants
of the time model were fitted to six finger parts (`tests/benchmarks/calibrate_print_time.py`); the others, and all hand and forearm
parts, were left out of that. `python -m pytest -s` prints the comparison, `python -m tests.validation.test_slicer [case ...]` too.
"""

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from print3d import flow
from print3d.built import Built, shape_case
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.materials import Material, Printer, read_materials, read_printers
from print3d.output.files import writers
from print3d.output.mesh.stl import write_stl
from print3d.printing.plan import PrintPlan
from tests.conftest import CASES
from tests.validation import slicer

pytestmark = pytest.mark.skipif(slicer.PROGRAM is None, reason="prusa-slicer is not installed")

PRINTER, MATERIAL = read_printers()["extrusion_large"], read_materials()["petg"]
"""What a case is compared on if its own printer is no extruder, which is all that the slicer knows."""
ALL = sorted(path.stem for path in CASES.glob("*.toml"))
QUICK = "figure_of_eight_reverse"
REPEATED = 0.03
"""The same body in an STL and in a 3MF: turned by 0.001 degrees, or a few supports differ (measured: 0.6 percent)."""


@dataclass(frozen=True, eq=False)
class Shipped:
    """The files of one case, and how its parts are printed.

    stl : the file of each part
    """

    name: str
    built: Built
    stl: tuple[Path, ...]
    three_mf: Path

    @property
    def settings(self) -> tuple[Printer, Material]:
        """Printer and material that it was planned for."""
        return self.built.case.printer, self.built.case.material

    def volume_mm3(self) -> float:
        """All parts together."""
        return sum(mesh.volume_mm3() for mesh in self.built.meshes.values())


@dataclass(frozen=True)
class Compared:
    """One sliced file beside our own figures."""

    name: str
    file: str
    seconds: float
    mass_g: float
    slicer: slicer.Estimate

    def __str__(self) -> str:
        theirs = self.slicer
        return (
            f"{self.name:32}{self.file:58}{self.seconds / 60:5.0f} min, slicer {theirs.seconds / 60:5.0f} "
            f"({self.seconds / theirs.seconds - 1:+4.0%}); {self.mass_g:6.1f} g, slicer {theirs.mass_g:6.1f} "
            f"({self.mass_g / theirs.mass_g - 1:+4.0%})"
        )


def shipped(name: str, folder: Path) -> Shipped:
    """Write the files of a worked case, on an extruder."""
    case = _on_an_extruder(flow.read(CASES / f"{name}.toml"))
    built = shape_case(case)
    files = writers(built, frozenset({"stl", "3mf"}))
    for file, write in files.items():
        write(folder / file)
    stl = tuple(folder / file for file in files if file.endswith(".stl"))
    (three_mf,) = (folder / file for file in files if file.endswith(".3mf"))
    return Shipped(name, built, stl, three_mf)


def _on_an_extruder(case: Case) -> Case:
    return case if case.printer.process == "extrusion" else replace(case, printer=PRINTER, material=MATERIAL)


def sliced_stl(files: Shipped, number: int, folder: Path) -> Compared:
    """One part, turned by the slicer as its plan lays it on the bed."""
    plan, path = files.built.plans[number], files.stl[number]
    theirs = slicer.estimate(path, folder, *files.settings, plan.bed_from_limb)
    return _compared(files.name, path, [plan], theirs)


def sliced_3mf(files: Shipped, folder: Path) -> Compared:
    """All parts of a case in one job, as they lie in the file."""
    found = slicer.estimate(files.three_mf, folder, *files.settings)
    return _compared(files.name, files.three_mf, files.built.plans, found)


def _compared(name: str, path: Path, plans: Sequence[PrintPlan], theirs: slicer.Estimate) -> Compared:
    seconds = [plan.seconds for plan in plans if plan.seconds is not None]
    assert len(seconds) == len(plans), "the printer's file does not say how fast it is"
    return Compared(
        name, path.name, sum(seconds), sum(plan.mass_g + plan.support_mass_g for plan in plans), theirs
    )


def compare(name: str, folder: Path) -> list[Compared]:
    """Slice every file of a case."""
    files = shipped(name, folder)
    found = [sliced_stl(files, number, folder) for number in range(len(files.stl))]
    return [*found, sliced_3mf(files, folder)]


def assert_alike(compared: list[Compared]) -> None:
    print("", *compared, sep="\n")
    for each in compared:
        assert each.seconds == pytest.approx(each.slicer.seconds, rel=0.25)
        assert each.mass_g == pytest.approx(each.slicer.mass_g, rel=0.25)
    if len(compared) == 2:  # one part: both files hold the same job
        first, second = (each.slicer for each in compared)
        assert first.seconds == pytest.approx(second.seconds, rel=REPEATED)
        assert first.mass_g == pytest.approx(second.mass_g, rel=REPEATED)


@pytest.mark.slow(in_ci=True)
def test_a_ring_as_a_slicer_sees_it(tmp_path: Path) -> None:
    assert_alike(compare(QUICK, tmp_path))


@pytest.mark.slow
@pytest.mark.parametrize("name", [each for each in ALL if each != QUICK])
def test_mass_and_time_of_every_file(name: str, tmp_path: Path) -> None:
    assert_alike(compare(name, tmp_path))


@pytest.mark.slow
@pytest.mark.parametrize("name", ALL)
def test_files_need_no_repair_and_keep_their_volume(name: str, tmp_path: Path) -> None:
    """STL and 3MF as they are shipped, all parts of a case together."""
    files = shipped(name, tmp_path)
    for paths in (files.stl, (files.three_mf,)):
        found = [slicer.info(path) for path in paths]
        assert sum(each.volume_mm3 for each in found) == pytest.approx(files.volume_mm3(), rel=0.01)
        for each in found:
            assert each.is_manifold
            assert (each.open_edges, each.repairs) == (0, ())


def test_a_broken_file_is_seen(tmp_path: Path) -> None:
    """The slicer's own verdict on a mesh that lacks triangles, so that the test above can fail."""
    whole = shipped(QUICK, tmp_path).built.modelled.parts[0].shell.mesh
    write_stl(tmp_path / "whole.stl", whole)
    write_stl(tmp_path / "torn.stl", Mesh(whole.vertices, whole.faces[25:]))
    assert slicer.info(tmp_path / "whole.stl").is_manifold
    torn = slicer.info(tmp_path / "torn.stl")
    assert not torn.is_manifold
    assert torn.open_edges > 0


if __name__ == "__main__":
    for each_name in sys.argv[1:] or ALL:
        with tempfile.TemporaryDirectory() as work:
            print(*compare(each_name, Path(work)), sep="\n", flush=True)
