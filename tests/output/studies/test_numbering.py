"""A series goes on: no number twice, what was worn keeps its files and its record, and letters tell every orthosis from all others."""

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from print3d.cli.main import main
from print3d.output.place import STAMP
from print3d.output.studies import numbering
from tests.conftest import CASES
from tests.output.test_place import shape, shapes_by_letters

SERIES = CASES / "pip_extension_series.toml"
Run = Callable[..., int]


@pytest.fixture
def series(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Return a function that runs `print3d series` with a stand-in for the build, in this process."""

    def run_all(task: Any, jobs: Any, workers: Any = None) -> Any:
        yield from ((place, task(job)) for place, job in enumerate(jobs))

    monkeypatch.setattr("print3d.studies.series.run_all", run_all)
    monkeypatch.setattr("print3d.built.shape_and_check", shape)

    def run(*arguments: object, case: Path = SERIES) -> int:
        with pytest.raises(SystemExit) as end:
            main(["series", str(case), "--out", str(tmp_path), "--formats", "stl", *map(str, arguments)])
        return int(end.value.code or 0)

    return run


def steps(home: Path) -> dict[str, bytes]:
    return {path.name: (path / "pip_extension.stl").read_bytes() for path in sorted(home.glob("step_*"))}


def changed_case(folder: Path, *edits: tuple[str, str]) -> Path:
    text = SERIES.read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "changed.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_after_a_new_measure_both_sets_are_there_and_numbers_go_on(tmp_path: Path, series: Run) -> None:
    home = tmp_path / "PY-080" / "series"
    assert series() == 0
    first = steps(home)
    plan = (home / "plan.json").read_bytes()
    assert series("--remeasured", "pip_flexion_deg=30,pip_girth_mm=66", "--worn", "37.5") == 0
    after = steps(home)
    assert {name: after[name] for name in first} == first
    assert sorted(set(after) - set(first))[:2] == ["step_08_30_deg", "step_09_22_5_deg"]
    assert all((home / name / STAMP).is_file() for name in after)
    assert (home / "plan_from_01.json").read_bytes() == plan
    data = json.loads((home / "plan.json").read_text(encoding="utf-8"))
    assert [each["step"] for each in data["steps"]] == [8, 9, 10, 11, 12]
    letters = shapes_by_letters(tmp_path)
    assert set(letters) == {f"PY-080/{number}" for number in range(1, 13)}
    assert {len(found) for found in letters.values()} == {1}
    assert "Print and fit orthosis 8 now" in (home / "plan.txt").read_text(encoding="utf-8")


def test_the_same_plan_again_changes_nothing(tmp_path: Path, series: Run) -> None:
    home = tmp_path / "PY-080" / "series"
    again = ("--remeasured", "pip_flexion_deg=30", "--worn", "37.5")
    series()
    series(*again)
    before = steps(home)
    series(*again)
    assert steps(home) == before
    series()
    assert steps(home) == before
    names = {path.name for path in home.iterdir()}
    assert {"plan.pdf", "plan_from_08.pdf"} <= names
    assert "plan_from_01.pdf" not in names  # it is the last one again


def test_a_changed_case_is_refused_unless_it_goes_on(tmp_path: Path, series: Run, capsys) -> None:
    home = tmp_path / "PY-080" / "series"
    series()
    before = steps(home)
    capsys.readouterr()
    other = changed_case(tmp_path, ("[orthosis]", "[orthosis]\nwall_mm = 2.5"))
    assert series(case=other) == 2
    message = capsys.readouterr().err
    assert "orthosis.wall_mm = 2.5, there 2" in message
    assert all(words in message for words in ("--remeasured", "--replace", "visit = 2", "number 8"))
    assert steps(home) == before
    assert series("--replace", case=other) == 0
    assert {name: steps(home)[name] for name in before} == before
    assert len(steps(home)) == 2 * len(before)


def test_the_next_visit_has_a_series_of_its_own(tmp_path: Path, series: Run) -> None:
    series()
    second = changed_case(tmp_path, ("[case]", "[case]\nvisit = 2"))
    assert series("--goal", "30", case=second) == 0
    assert (tmp_path / "PY-080.2" / "series" / "plan.json").is_file()
    letters = shapes_by_letters(tmp_path)
    assert {"PY-080.2/1", "PY-080/1"} <= set(letters)
    assert {len(found) for found in letters.values()} == {1}


def test_an_orthosis_that_would_come_out_otherwise_stays(
    tmp_path: Path, series: Run, monkeypatch, capsys
) -> None:
    """As with another version of the program: the plan is the same, the shapes are not."""
    series()
    before = steps(tmp_path / "PY-080" / "series")
    monkeypatch.setattr("tests.output.test_place.CORNERS", numbering_corners())
    assert series() == 2
    assert "stay" in capsys.readouterr().err
    assert steps(tmp_path / "PY-080" / "series") == before


def numbering_corners() -> Any:
    from tests.output.test_place import CORNERS

    return CORNERS * 1.01


def test_a_plan_of_an_older_program_keeps_its_orthoses(tmp_path: Path, series: Run) -> None:
    home = tmp_path / "PY-080" / "series"
    series("--goal", "30")
    data = json.loads((home / "plan.json").read_text(encoding="utf-8"))
    for step in data["steps"]:
        del step["asked"]
    (home / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    before = steps(home)
    assert series("--goal", "30") == 2
    assert series("--remeasured", "pip_flexion_deg=40") == 0
    assert {name: steps(home)[name] for name in before} == before
    assert min(set(steps(home)) - set(before)).startswith("step_04")


@pytest.mark.parametrize("plan", ["{", "[]", '{"steps": 5}', '{"steps": [{"step": "x"}]}'])
def test_a_damaged_plan_frees_no_number(tmp_path: Path, series: Run, plan: str) -> None:
    home = tmp_path / "PY-080" / "series"
    series("--goal", "30")
    before = steps(home)
    (home / "plan.json").write_text(plan, encoding="utf-8")
    assert series("--remeasured", "pip_flexion_deg=40") == 0
    assert {name: steps(home)[name] for name in before} == before
    assert {len(found) for found in shapes_by_letters(tmp_path).values()} == {1}


def test_no_number_comes_twice_over_a_long_course(tmp_path: Path, series: Run) -> None:
    draw = random.Random(3)
    home = tmp_path / "PY-080" / "series"
    for _ in range(8):
        before = steps(home)
        if draw.random() < 0.3:
            series("--goal", "30")
        else:
            series("--remeasured", f"pip_flexion_deg={draw.choice([30, 35, 40])}", "--goal", "30")
        after = steps(home)
        assert {name: after[name] for name in before} == before
    assert {len(found) for found in shapes_by_letters(tmp_path).values()} == {1}


@pytest.mark.parametrize("moment", ["keep_earlier", "write_plan"])
def test_a_series_that_is_stopped_changes_nothing(
    tmp_path: Path, series: Run, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    series("--goal", "30")
    home = tmp_path / "PY-080" / "series"
    before = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    where = "numbering" if moment == "keep_earlier" else "plan_sheet"

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(f"print3d.output.studies.{where}.{moment}", full)
    assert series("--remeasured", "pip_flexion_deg=40") == 2
    assert {path: path.read_bytes() for path in home.rglob("*") if path.is_file()} == before


def test_without_keeping_a_new_measure_would_take_the_worn_one_away(
    tmp_path: Path, series: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The planted fault."""
    series("--goal", "30")
    monkeypatch.setattr(numbering, "keep_earlier", lambda *_: None)
    series("--remeasured", "pip_flexion_deg=40", "--goal", "30")
    assert not (tmp_path / "PY-080" / "series" / "step_01_45_deg").exists()
