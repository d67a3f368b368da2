"""Class sets: lists from CSV and TOML, bad rows that stop no other, plates on which nothing overlaps."""

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh
from typer.testing import CliRunner

from print3d.checks.finding import Finding, values
from print3d.cli.main import app
from print3d.errors import InputError, StudyError
from print3d.forms.orthosis import part_name
from print3d.geometry.mesh import Mesh
from print3d.inputs.class_list import ListRow, read_class_list
from print3d.language.catalogue import text
from print3d.language.message import as_it_stands, message
from print3d.output.training.teacher_sheet import PICTURE, picture_of, write_teacher_sheet
from print3d.training import class_set
from print3d.training.class_set import ClassSet, ModelOutcome, build_class_set, build_row
from print3d.training.names import BODIES, body_name
from print3d.training.plates import APART_MM, overlap_mm, packed
from print3d.workers import n_cores
from tests.output.paper.conftest import Pdf
from tests.output.paper.test_paper import faults

HEAD = "case.code,case.side,case.finger,measured.sex,measured.hand_length_mm,measured.wrist_girth_mm,model.pose,model.is_jointed\n"
GOOD = "PY-C01,right,ring,woman,178,152,mallet,\n"
NO_SUCH_POSE = "PY-C02,left,index,man,195,176,swan_nek,\n"
GIANT = "PY-C03,right,middle,woman,1720,150,boutonniere,\n"
TWICE = "py-c01,left,index,man,195,176,swan_neck,\n"
SHARED = {"print": {"material": "petg", "printer": "extrusion"}}


def write(folder: Path, text: str, name: str = "harbour.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_csv_row_is_a_model_case(tmp_path: Path) -> None:
    (row,) = read_class_list(write(tmp_path, HEAD + GOOD), SHARED)
    assert row.data == {
        "case": {"code": "PY-C01", "side": "right", "finger": "ring"},
        "measured": {"sex": "woman", "hand_length_mm": 178.0, "wrist_girth_mm": 152.0},
        "model": {"pose": "mallet"},
        **SHARED,
    }
    assert row.place.endswith("line 2")


def test_semicolons_and_empty_lines_do_not_matter(tmp_path: Path) -> None:
    with_commas = read_class_list(write(tmp_path, HEAD + GOOD), SHARED)
    other = write(tmp_path, "\ufeff" + (HEAD + ",,,,,,,\n" + GOOD).replace(",", ";"))
    assert [row.data for row in read_class_list(other, SHARED)] == [row.data for row in with_commas]


def test_a_toml_list_shares_its_defaults(tmp_path: Path) -> None:
    text = (
        '[defaults.measured]\nsex = "woman"\nhand_length_mm = 178\nwrist_girth_mm = 152\n[[models]]\n'
        'case = {code = "PY-C01", side = "right", finger = "ring"}\nmodel = {pose = "mallet"}\n'
    )
    (row,) = read_class_list(write(tmp_path, text, "harbour.toml"), SHARED)
    (same,) = read_class_list(write(tmp_path, HEAD + GOOD), SHARED)
    assert row.data == same.data


@pytest.mark.parametrize("text", ["", "code,side\nPY,left\n", HEAD])
def test_a_list_without_rows_or_columns_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError):
        read_class_list(write(tmp_path, text), SHARED)


def test_our_own_mistake_in_a_row_is_reported_with_its_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("print3d.training.class_set.model_case_from_data", lambda data, source: 1 / 0)
    outcome = build_row(ListRow("line 7", {}))
    assert not outcome.is_built
    assert "line 7" in outcome.refused[0].said("en")
    assert "ZeroDivisionError" in outcome.mistake


@pytest.mark.slow(in_ci=True)
def test_bad_rows_stop_no_other_and_are_reported(tmp_path: Path) -> None:
    path = write(tmp_path, HEAD + GOOD + NO_SUCH_POSE + GIANT + TWICE)
    result = CliRunner().invoke(app, ["class-set", str(path), "--out", str(tmp_path), "--workers", "1"])
    assert result.exit_code == 2
    assert "1 of 4 models, 1 plates" in result.output
    for words in ("swan_nek", "hand_length_mm = 1720", "an earlier row has it too"):
        assert words in result.output
    folder = tmp_path / "harbour"
    assert (folder / "teachers_sheet.pdf").read_bytes().startswith(b"%PDF")
    scene = trimesh.load(folder / "extrusion_plate_01.3mf")
    assert list(scene.geometry) == ["PY-C01 Mallet finger"]
    assert all(mesh.is_volume for mesh in scene.geometry.values())


def rows_of(folder: Path, count: int) -> list[ListRow]:
    lines = [GOOD.replace("C01", f"C{number:02}") for number in range(count)]
    return read_class_list(write(folder, HEAD + "".join(lines)), SHARED)


@pytest.mark.slow  # 12 s; a study's workers, the same ones, are ended in tests/studies/test_compare.py each time
def test_a_process_that_is_ended_takes_no_other_row_with_it(tmp_path: Path) -> None:
    """As the system does it when memory runs out."""
    ended = list[int]()

    def end_the_worker(step: str) -> None:
        if not ended and step.startswith("1 of 3"):
            ended.extend(each.pid or 0 for each in multiprocessing.active_children())
            os.kill(ended[0], signal.SIGKILL)

    done = build_class_set(rows_of(tmp_path, 3), end_the_worker, workers=1)
    assert ended
    assert [outcome.code for outcome in done.outcomes] == ["PY-C00", "PY-C01", "PY-C02"]
    assert [outcome.refused for outcome in done.outcomes] == [(), (), ()]


def test_a_row_that_ends_every_process_is_reported_and_stops_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def ends(*_: object, **__: object) -> Iterator[tuple[int, ModelOutcome]]:
        yield 1, ModelOutcome("line 3", "PY-C01", parts=boxes(1))
        raise StudyError(as_it_stands("workers ended 3 times without a result; 1 of 2 are open"))

    monkeypatch.setattr(class_set, "run_all", ends)
    lost, built = build_class_set(rows_of(tmp_path, 2), lambda step: None).outcomes
    assert built.is_built
    assert not lost.is_built
    assert lost.refused[0].said("en").startswith(f"{lost.place}: its process ended: workers ended 3 times")


def heeds_ctrl_c() -> None:
    """A shell that starts the tests in the background makes them, and what they start, deaf to Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


STOPPED_SET = """
import sys
from pathlib import Path
from tests.training.test_class_set import rows_of
from print3d.training.class_set import build_class_set
if __name__ == "__main__":
    build_class_set(rows_of(Path(sys.argv[1]), 30), lambda step: print(step, flush=True), workers=1)
"""


@pytest.mark.slow  # 18 s; as above
@pytest.mark.skipif(os.name != "posix", reason="a group of processes is stopped as a terminal does it")
def test_ctrl_c_stops_the_rows_that_have_not_begun(tmp_path: Path) -> None:
    script = tmp_path / "stopped.py"
    script.write_text(STOPPED_SET, encoding="utf-8")
    run = subprocess.Popen(
        [sys.executable, script, tmp_path], start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=heeds_ctrl_c, env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    assert run.stdout is not None
    assert run.stdout.readline().startswith("1 of 30")
    began = time.monotonic()
    os.killpg(run.pid, signal.SIGINT)
    out, error = run.communicate(timeout=120)
    assert run.returncode != 0
    assert out.count(" of 30") <= 2
    assert (
        error.count("Traceback") == error.count("KeyboardInterrupt") == 1
    )  # of the script itself; no worker tells of its own
    assert time.monotonic() - began < 30.0  # not the minute or more of those that were left


def a_set(count: int) -> ClassSet:
    """Boxes under the names of poses, one with a failing check, and a row without a model."""
    poses = list(BODIES)
    thin = Finding(
        "wall.thinnest",
        0.4,
        0.8,
        "mm",
        "at least",
        message("sources.own_wall"),
        values=values(part=part_name("yoke")),
    )
    outcomes = [
        ModelOutcome(f"line {number}", f"PY-C{number:02}", title=body_name(BODIES[poses[number % 5]]), shows=message(f"training.shows.{poses[number % 5]}"),
                printer="extrusion", parts={name: mesh}, failed=(thin,) if number == 1 else ())
        for number, (name, mesh) in enumerate(boxes(count).items())
    ]  # fmt: skip
    plate = {name: mesh for outcome in outcomes[1:] for name, mesh in outcome.bodies.items()}
    missing = ModelOutcome(
        "line 99", "PY-X1", (as_it_stands("model.pose = 'swan_nek': the nearest is 'swan_neck' " * 4),)
    )
    return ClassSet((*outcomes, missing), {"extrusion": [plate]})


@pytest.mark.parametrize(("language", "size"), [("en", "letter"), ("de", "a4")])
def test_the_teachers_sheet_shows_every_model_and_every_row_without_one(
    tmp_path: Path, language, size
) -> None:
    models = a_set(9)
    for name in ("a", "b"):
        write_teacher_sheet(tmp_path / f"{name}.pdf", models, language, size)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    assert not faults(tmp_path / "a.pdf")
    words = Pdf(tmp_path / "a.pdf").text()
    assert all(outcome.code in words for outcome in models.outcomes)
    assert words.count("extrusion_plate_01") == 8
    assert words.count(text("models.no_plate", language)) == 1
    assert {"en": "thinnest wall: 0.40 mm", "de": "dünnste Wand: 0,40 mm"}[language] in words
    assert "swan_nek" in words[words.index(text("models.missing", language)) :]
    assert {"en": "Swan neck", "de": "Schwanenhals"}[language] in words
    assert len(Pdf(tmp_path / "a.pdf").document) > 1


def test_a_model_stands_whole_in_its_picture() -> None:
    """A tall body on one end of a long plate: the middle of its box is not the middle of what is seen."""
    plate, post = (trimesh.creation.box(size) for size in ((80.0, 40.0, 4.0), (8.0, 8.0, 90.0)))
    post.apply_translation([36.0, -16.0, 47.0])
    parts = {
        str(k): Mesh(np.array(each.vertices), np.array(each.faces)) for k, each in enumerate((plate, post))
    }
    dark = np.asarray(picture_of(ModelOutcome("line 1", "PY-C01", parts=parts))).min(axis=2) < 250
    assert not np.concatenate([dark[[0, -1]].ravel(), dark[:, [0, -1]].ravel()]).any()
    spans = [np.flatnonzero(dark.any(axis=axis)) for axis in (0, 1)]
    middles = [(span[0] + span[-1]) / 2 for span in spans]
    assert middles == pytest.approx([(side - 1) / 2 for side in PICTURE], abs=1.0)


def boxes(count: int) -> dict[str, Mesh]:
    rng = np.random.default_rng(8)
    bodies = {}
    for number in range(count):
        box = trimesh.creation.box(rng.uniform([15, 15, 20], [90, 60, 120]))
        bodies[f"box {number}"] = Mesh(np.array(box.vertices), np.array(box.faces))
    return bodies


def test_plates_hold_every_part_once_inside_the_bed_and_apart() -> None:
    parts, bed = boxes(60), (220.0, 220.0, 250.0)
    plates = packed(parts, bed)
    assert sorted(name for plate in plates for name in plate) == sorted(parts)
    for plate in plates:
        points = np.vstack([mesh.vertices for mesh in plate.values()])
        assert (points.min(axis=0) >= [APART_MM - 0.05, APART_MM - 0.05, -1e-9]).all()
        assert (points.max(axis=0) <= np.array(bed) - [APART_MM - 0.1, APART_MM - 0.1, 0.0]).all()
        assert overlap_mm(plate) <= -(APART_MM - 0.05)
        for name, mesh in plate.items():
            assert mesh.volume_mm3() == pytest.approx(parts[name].volume_mm3())
    area = sum(float(np.prod(np.ptp(mesh.vertices, axis=0)[:2] + APART_MM)) for mesh in parts.values())
    assert len(plates) <= 1.35 * area / 214.0**2 + 1.0


def test_parts_that_share_a_place_are_found() -> None:
    (first, second) = boxes(2).values()
    assert overlap_mm({"first": first, "second": second}) > 0.0


def test_a_part_larger_than_the_bed_is_refused() -> None:
    with pytest.raises(InputError, match="does not fit the bed"):
        packed(boxes(1), (40.0, 20.0, 10.0))


@pytest.mark.slow
def test_a_class_of_twenty_four_uses_all_cores_and_survives_two_bad_rows(tmp_path: Path) -> None:
    poses, fingers = ("mallet", "swan_neck", "boutonniere", "neutral"), ("index", "middle", "ring", "little")
    lines = [
        f"PY-C{number:02d},{'left' if number % 2 else 'right'},{fingers[number // 4 % 4]},woman,{165 + number},150,{poses[number % 4]},\n"
        for number in range(22)
    ]
    path = write(
        tmp_path,
        HEAD
        + "".join(lines[:11])
        + NO_SUCH_POSE.replace("C02", "X1")
        + "".join(lines[11:])
        + GIANT.replace("C03", "X2"),
    )
    rows = read_class_list(path, SHARED)
    assert len(rows) == 24
    done = build_class_set(rows, lambda step: None)
    built = [outcome for outcome in done.outcomes if outcome.is_built]
    assert len(built) == 22
    assert not [outcome.failed for outcome in built if outcome.failed]
    assert len({outcome.process for outcome in built}) == n_cores()
    plates = done.plates["extrusion"]
    assert sum(len(plate) for plate in plates) == 22
    assert all(overlap_mm(plate) < 0.0 for plate in plates)
