"""The public API: five verbs and four nouns, true to the asked hand, cheap to import, and the README's own lines."""

import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import print3d
from print3d import Built, Case, Finding, advise, check, read, shape, write
from print3d.errors import ExportError, InputError
from print3d.geometry.frames import apply, mirrored
from print3d.geometry.mirror import mirror_for_side
from print3d.geometry.nearest import Surface
from print3d.inputs.toml_file import read_toml
from print3d.limb.finger import FingerLimb
from print3d.output.mesh.stl import TRIANGLE
from tests.conftest import CASES, in_ci
from tests.shaped import checked, shaped

HOME = Path(print3d.__file__).parents[1]
LEFT = [path.stem for path in sorted(CASES.glob("*.toml")) if read_toml(path)["case"]["side"] == "left"]
QUICK = ("figure_of_eight", "relative_motion_flexion")
"""A ring on one finger and a band over four, both of left hands."""
PLACE_MM = 1.0
"""A place of a finding lies no farther from part or skin; places are rounded, and some lie at the middle of a wall or an opening."""
ON_MM = 0.1
"""A place on a surface lies within this of its mesh."""
MOST_LINES = 12


# --- names ------------------------------------------------------------------------------------------------------------


def test_nine_names_are_public_and_none_leaks() -> None:
    assert sorted(print3d.__all__) == [
        "Built", "Case", "Finding", "JointId", "advise", "check", "read", "shape", "write",
    ]  # fmt: skip
    assert all(getattr(print3d, name).__name__ == name for name in print3d.__all__)
    assert dir(print3d) == sorted([*print3d.__all__, "__version__"])
    rooms = {path.stem for path in (HOME / "print3d").iterdir()}
    assert {name for name in vars(print3d) if not name.startswith("_")} <= rooms
    with pytest.raises(AttributeError, match="no attribute 'version'"):
        _ = print3d.version


def test_importing_it_loads_nothing() -> None:
    program = (
        "import sys; import print3d; print3d.__version__\n"
        "print(sorted(name for name in sys.modules if name.split('.')[0] in ('numpy', 'scipy', 'pydantic', 'typer')"
        " or name.startswith('print3d.')))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=HOME)
    assert done.stdout.strip() == "[]", done.stderr


def test_the_lines_of_the_readme_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    readme = (HOME / "README.md").read_text(encoding="utf-8")
    (program,) = re.findall(r"<!-- python -->\n```python\n(.*?)```", readme, re.DOTALL)
    assert len(program.splitlines()) <= MOST_LINES
    (tmp_path / "params").symlink_to(HOME / "params")
    monkeypatch.chdir(tmp_path)
    exec(compile(program, "README.md", "exec"), {})
    printed = capsys.readouterr().out
    assert "figure-of-eight_ring (" in printed
    assert "holds wall.thinnest 2." in printed
    assert {path.suffix for path in (tmp_path / "outputs").rglob("*.*") if path.stem != ""} >= {
        ".stl",
        ".json",
    }


# --- the verbs --------------------------------------------------------------------------------------------------------


def test_where_a_clinic_keeps_its_own_is_an_argument(tmp_path: Path) -> None:
    (tmp_path / "here" / "printers").mkdir(parents=True)
    text = (HOME / "print3d" / "inputs" / "data" / "printers.toml").read_text(encoding="utf-8")
    own = text[text.index("[extrusion]") : text.index("[extrusion_large]")].replace("[extrusion", "[ours")
    (tmp_path / "here" / "printers" / "ours.toml").write_text(own, encoding="utf-8")
    path = tmp_path / "elsewhere.toml"
    case = (CASES / "mallet.toml").read_text(encoding="utf-8")
    path.write_text(re.sub(r'printer = ".*?"', 'printer = "ours"', case), encoding="utf-8")
    with pytest.raises(InputError, match="ours"):
        read(path)
    found = read(str(path), libraries=str(tmp_path / "here"))
    assert isinstance(found, Case)
    assert found.print.printer == "ours"


def test_a_shape_is_not_checked_and_does_not_hold() -> None:
    built = shape(read(CASES / "mallet.toml"))
    assert isinstance(built, Built)
    assert not built.findings
    assert not built.is_checked
    assert not built.holds


def test_findings_come_one_by_one_and_checks_can_be_left() -> None:
    """Whoever listens may stop: what comes after is not measured."""
    came = list[Finding]()

    def listen(finding: Finding) -> None:
        came.append(finding)
        if finding.check == "wall":
            raise InterruptedError

    with pytest.raises(InterruptedError):
        check(shaped("mallet"), on_finding=listen)
    assert [each.check for each in came][-1] == "wall"
    assert len(came) < len(checked("mallet").findings)
    assert tuple(came) == checked("mallet").findings[: len(came)]


def test_what_says_whether_it_holds_is_not_written_unchecked(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match=r"PY-021: html, json say whether the checks hold.*check it first"):
        write(shaped("mallet"), tmp_path, ("stl", "json", "html"))
    assert not list(tmp_path.iterdir())
    (stl,) = write(shaped("mallet"), str(tmp_path), ["stl"])
    assert stl == tmp_path / "PY-021" / "mallet.stl"
    assert stl.is_file()


@pytest.mark.parametrize("formats", [(), ("stl", "obj"), "stl"])
def test_unknown_formats_are_refused(formats, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="accepted are stl, 3mf"):
        write(shaped("mallet"), tmp_path, formats)


def test_nothing_to_advise_where_all_holds() -> None:
    built = checked("mallet")
    assert built.holds
    assert advise(built) == ()


# --- true to the side -------------------------------------------------------------------------------------------------


def corners_in(path: Path) -> np.ndarray:
    return np.frombuffer(path.read_bytes()[84:], dtype=TRIANGLE)["corners"]


@pytest.mark.parametrize("name", [name if name in QUICK else in_ci(name) for name in LEFT])
def test_meshes_of_a_left_hand_are_those_of_its_files(name: str, tmp_path: Path) -> None:
    """Vertex by vertex; the modelled right hand is another body."""
    built = shaped(name)
    files = write(built, tmp_path, ("stl",))
    assert len(files) == len(built.meshes)
    for path, mesh, part in zip(files, built.meshes.values(), built.modelled.parts, strict=True):
        assert np.array_equal(corners_in(path), mesh.corners().astype("<f4"))
        assert np.array_equal(mesh.vertices, mirrored(part.shell.mesh.vertices))
        assert mesh.volume_mm3() == pytest.approx(part.shell.mesh.volume_mm3())


@pytest.mark.parametrize("name", [name if name in QUICK else in_ci(name) for name in LEFT])
def test_places_of_findings_lie_on_the_asked_hand(name: str) -> None:
    """Each is the mirror image of the place on the right hand, which is another one."""
    left = checked(name)
    head = left.case.header.model_copy(update={"side": "right"})
    right = check(replace(left, case=replace(left.case, header=head), findings=()))
    assert [each.measured for each in left.findings] == [each.measured for each in right.findings]
    places = [(one.where, other.where) for one, other in zip(left.findings, right.findings, strict=True)]
    assert all((one is None) == (other is None) for one, other in places)
    on_left, on_right = (
        np.array([each for each in side if each is not None]) for side in zip(*places, strict=True)
    )
    assert np.array_equal(on_left, mirrored(on_right))
    assert np.abs(on_left[:, 1]).max() > PLACE_MM
    for built, points in ((left, on_left), (right, on_right)):
        bodies = [*built.meshes.values(), built.skin]
        away = np.min([Surface(body).nearest(points)[0] for body in bodies], axis=0)
        wrong = np.min([Surface(mirror_for_side(body, "left")).nearest(points)[0] for body in bodies], axis=0)
        on_a_body, on_its_image = (np.count_nonzero(far < ON_MM) for far in (away, wrong))
        assert on_a_body > 0.2 * len(points)  # others lie at hinges, inside the finger
        assert on_a_body >= on_its_image  # a lone finger is its own mirror image
        assert on_a_body > 3 * on_its_image or isinstance(built.modelled.limb, FingerLimb)


@pytest.mark.parametrize("name", QUICK)
def test_print_plans_are_of_the_asked_hand(name: str) -> None:
    built = shaped(name)
    for plan, mesh, part in zip(built.plans, built.meshes.values(), built.modelled.parts, strict=True):
        on_bed = apply(plan.bed_from_limb, mesh.vertices)
        assert np.ptp(on_bed, axis=0) == pytest.approx(plan.size_mm)
        assert on_bed[:, 2].min() == pytest.approx(0.0, abs=1e-9)
        assert plan.side == built.side == "left"
        assert plan.part == part.name


def test_the_findings_file_says_whose_frame_it_is_in(tmp_path: Path) -> None:
    built = checked("figure_of_eight")
    (path,) = write(built, tmp_path, ("json",))
    data = json.loads(path.read_text(encoding="utf-8"))
    assert "of the asked hand" in data["frame"]
    places = [each["where"] for each in data["findings"]]
    assert places == [None if each.where is None else list(each.where) for each in built.findings]
    assert data["print"][0]["bed_from_limb"] == np.round(built.plans[0].bed_from_limb, 6).tolist()
