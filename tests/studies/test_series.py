"""A series: the published steps come out, no orthosis is past the joint's limit, no step loses another, old sets stay whole."""

import csv
import json
import os
import tomllib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from print3d import flow
from print3d.built import Built, shape_and_check
from print3d.cli.main import main
from print3d.errors import ExportError, InputError, ShapingError
from print3d.guidance.tables import read_step_rules
from print3d.inputs.cautions import CAUTIONS
from print3d.inputs.libraries import Libraries
from print3d.inputs.toml_text import toml_text
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, number
from print3d.language.message import as_it_stands
from print3d.mechanics.loads import pull_of_case
from print3d.output.files import write_files
from print3d.output.fileset import file_set, part_of_file_set
from print3d.output.paper.words import Words
from print3d.output.studies.plan_sheet import NAMES, plan_text, write_plan
from print3d.output.studies.plan_words import PlanWords
from print3d.studies.series import StepJob, StepOutcome, build_series, build_step, folder_of, skin_bears
from print3d.studies.series_plan import Request, SeriesPlan, read_plan, read_remeasured
from print3d.studies.steps import Course, flags_of, steps_of
from tests.checks.made import made, pressed
from tests.output.paper.conftest import Pdf

CASES = Path(__file__).parents[2] / "params" / "cases"
SERIES = CASES / "pip_extension_series.toml"
OPTIONS = {name: kind.options for name, kind in KINDS.items()}
DEFICIT = "pip_passive_extension_deficit_deg"
JSON = frozenset({"json"})
SHEETS = frozenset({"json", "sheets"})
RULES = read_step_rules(Libraries())
PIP = RULES["pip_extension"]


def planned(request: Request | None = None, path: Path = SERIES) -> SeriesPlan:
    return read_plan(path, OPTIONS, request or Request())


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]):
    """Return a function that runs the command line and returns its exit code, output and error output."""

    def command(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as end:
            main([str(each) for each in arguments])
        printed = capsys.readouterr()
        return int(end.value.code or 0), printed.out, printed.err

    return command


# --- angles -----------------------------------------------------------------------------------------------------------


def test_45_degrees_to_straight_by_7_and_a_half() -> None:
    """A worked plan of the trade: first orthosis and six steps (5 to 10 degrees each, common practice, no single source)."""
    steps = steps_of(Course("extension", 45.0, 0.0, 7.5))
    assert [step.angle_deg for step in steps] == [45.0, 37.5, 30.0, 22.5, 15.0, 7.5, 0.0]
    assert [step.gives_deg for step in steps] == [45.0, 37.5, 30.0, 22.5, 15.0, 7.5, 0.0]


angles = st.integers(0, 180).map(lambda half: half / 2)
margins = st.integers(0, 150).map(lambda tenth: tenth / 10)  # finer than anybody reads a goniometer


@given(angles, angles, st.floats(2.0, 20.0), margins, st.sampled_from(["extension", "flexion"]))
def test_steps_are_monotone_end_at_the_goal_and_stay_short_of_the_joint(
    today: float, goal: float, step: float, margin: float, towards: Any
) -> None:
    course = Course(towards, today, goal, step, margin)
    steps = steps_of(course)
    held = [each.angle_deg for each in steps]
    gains = [course.way * (after - before) for before, after in zip(held, held[1:], strict=False)]
    assert all(0.0 < gain <= step + 0.5 for gain in gains)
    assert held[-1] == pytest.approx(goal, abs=1e-9)
    assert course.way * (today - held[0]) >= margin - 1e-9 or len(held) == 1
    for each in steps:  # worn only when the joint gives the angle and the margin
        assert course.way * (each.gives_deg - each.angle_deg) >= margin - 1e-9 or each.gives_deg == 0.0


def test_the_margin_keeps_the_first_orthosis_short_of_the_joint() -> None:
    first, second, *_ = steps_of(Course("extension", 45.0, 0.0, 7.5, 5.0))
    assert (first.angle_deg, first.gives_deg) == (50.0, 45.0)
    assert second.angle_deg - second.gives_deg == 5.0


@pytest.mark.parametrize(
    ("course", "flags"),
    [
        (Course("extension", 45.0, 0.0, 7.5), []),
        (Course("extension", 45.0, 0.0, 10.0), []),
        (Course("extension", 45.0, 0.0, 10.5), ["large step"]),
        (Course("extension", 40.0, 0.0, 7.5, worn_deg=45.0), []),
        (Course("extension", 42.0, 0.0, 7.5, worn_deg=45.0), []),
        (Course("extension", 42.5, 0.0, 7.5, worn_deg=45.0), ["no gain"]),
        (Course("extension", 45.0, 0.0, 7.5, worn_deg=45.0), ["no gain"]),
        (Course("extension", 50.0, 0.0, 7.5, worn_deg=45.0), ["ground lost"]),
        (Course("extension", 35.0, 0.0, 7.5, worn_deg=45.0), []),
        (Course("extension", 30.0, 0.0, 7.5, worn_deg=45.0), ["large step"]),
        (Course("extension", 30.0, 0.0, 7.5, 5.0, worn_deg=45.0), []),
        (Course("extension", 40.0, 0.0, 7.5, worn_deg=45.0, girths_mm=(("pip_girth_mm", 64.0, 66.5),)), ["girth changed"]),
        (Course("extension", 40.0, 0.0, 7.5, worn_deg=45.0, girths_mm=(("pip_girth_mm", 64.0, 66.0),)), []),
        (Course("extension", 0.0, 0.0, 7.5, worn_deg=7.5), ["goal reached"]),
        (Course("flexion", 40.0, 45.0, 10.0, worn_deg=30.0), []),
        (Course("flexion", 20.0, 45.0, 10.0, worn_deg=30.0), ["ground lost"]),
    ],
)  # fmt: skip
def test_flags(course: Course, flags: list[str]) -> None:
    """Gains of a cast are 3.0 and 5.3 degrees on average (after Flowers and LaStayo 1994, from memory); usual steps 5 to 10."""
    rule = PIP if course.towards == "extension" else RULES["figure_of_eight_flexion"]
    assert [each.flag for each in flags_of(course, rule)] == flags


# --- planning ---------------------------------------------------------------------------------------------------------


def test_the_next_step_follows_from_what_was_measured_again() -> None:
    again = read_remeasured("pip_flexion_deg=30, pip_girth_mm=66")
    plan = planned(Request(worn_deg=37.5, remeasured=again))
    assert [step.angle_deg for step in plan.steps] == [30.0, 22.5, 15.0, 7.5, 0.0]
    assert plan.flags == ()
    first = plan.variants[0][0].case
    assert first.measured.middle.pip_girth_mm == 66.0
    assert (first.orthosis.pip_flexion_deg, first.measured.motion_deg("middle", DEFICIT)) == (30.0, 30.0)


def test_without_worn_the_orthosis_of_the_case_was_worn() -> None:
    plan = planned(Request(remeasured={DEFICIT: 44.0}))
    assert plan.course.worn_deg == 45.0
    assert [each.flag for each in plan.flags] == ["no gain"]


def test_every_step_is_a_case_file_that_reads_back(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    for step, variants in zip(planned().steps, planned().variants, strict=True):
        path = tmp_path / "cases" / "step.toml"
        path.write_text(variants[0].text, encoding="utf-8")
        case = flow.read(path)
        assert (case.header.code, case.orthosis.pip_flexion_deg) == ("PY-080", step.angle_deg)
        assert str(variants[0].case.mark) == f"PY-080/{step.number}"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("pip_flexion=30", 'the nearest is "pip_flexion_deg"'),
        ("pip_girth_mm=wide", "give pip_girth_mm=number"),
        ("", "give pip_flexion_deg=number"),
        ("pip_girth_mm=66,colour=3", "colour=3: not a known measure"),
    ],
)
def test_a_slip_in_what_was_remeasured_is_named(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_remeasured(text)


@pytest.mark.parametrize(
    ("request_", "message"),
    [
        (Request(step_deg=1.0), "--step 1: 2 to 20 degrees are accepted"),
        (Request(step_deg=25.0), "--step 25"),
        (Request(margin_deg=-5.0), "--margin -5: 0 to 15 degrees"),
        (Request(goal_deg=-10.0), "--goal -10"),
        (Request(remeasured={DEFICIT: 95.0, "pip_max_flexion_deg": 110.0}), "orthosis.pip_flexion_deg = 95: accepted is a number from 0 to 90"),
        (Request(remeasured={DEFICIT: 30.0, "pip_girth_mm": 300.0}), "pip_girth_mm = 300"),
    ],
)  # fmt: skip
def test_what_no_joint_takes_is_refused(request_: Request, message: str) -> None:
    with pytest.raises(InputError, match=message):
        planned(request_)


@pytest.mark.parametrize(
    ("case", "message"),
    [
        ("mallet.toml", 'orthosis.kind = "mallet": a series is made of'),
        ("figure_of_eight.toml", 'orthosis.kind = "figure_of_eight"'),
        ("mallet_with_pip_block.toml", "no published steps are known"),
        ("pip_extension.toml", f"measured.middle.{DEFICIT} is missing"),
    ],
)
def test_a_case_without_steps_is_refused(case: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        planned(path=CASES / case)


def test_a_ring_that_stops_flexion_opens_by_10_degrees() -> None:
    """Short arc motion: the arc grows by 10 degrees a week without lag (after Evans 1994, from memory)."""
    plan = planned(path=CASES / "figure_of_eight_reverse.toml")
    assert [step.angle_deg for step in plan.steps] == [15.0, 22.5, 30.0]
    assert all(len(variants) == 1 for variants in plan.variants)  # no letters and no forms to choose from
    assert "carry no letters" in " ".join(plan_text(plan, [StepOutcome() for _ in plan.steps]))
    further = planned(Request(goal_deg=45.0), CASES / "figure_of_eight_reverse.toml")
    assert [step.angle_deg for step in further.steps] == [15.0, 25.0, 35.0, 45.0]


def test_a_clinic_sets_its_own_step(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    (tmp_path / "guidance").mkdir()
    path = tmp_path / "cases" / "PY-080.toml"
    path.write_text(SERIES.read_text(encoding="utf-8"), encoding="utf-8")
    rule = PIP.model_dump(mode="json", exclude_none=True)
    rule["step_deg"] |= {"value": 9, "source": "own clinic's protocol"}
    (tmp_path / "guidance" / "series.toml").write_text(toml_text({"pip_extension": rule}), encoding="utf-8")
    assert [step.angle_deg for step in planned(path=path).steps] == [45.0, 36.0, 27.0, 18.0, 9.0, 0.0]


# --- building ---------------------------------------------------------------------------------------------------------


@pytest.mark.slow(in_ci=True)
def test_every_orthosis_of_the_plan_passes_its_checks_and_is_written_as_one_set(run, tmp_path: Path) -> None:
    code, out, _ = run("series", SERIES, "--out", tmp_path, "--formats", "stl,json")
    home = tmp_path / "PY-080" / "series"
    data = json.loads((home / "plan.json").read_text(encoding="utf-8"))
    assert code == 0
    assert [step["pip_flexion_deg"] for step in data["steps"]] == [45.0, 37.5, 30.0, 22.5, 15.0, 7.5, 0.0]
    for step in data["steps"]:
        assert {"pip_extension.stl", "findings.json", "case.toml"} == set(step["files"])
        assert all((home / step["folder"] / name).stat().st_size for name in step["files"])
        assert step["form"] == "volar"
        assert step["findings"]
        (held,) = [each for each in step["findings"] if each["words"]["what"].startswith("PIP flexion held")]
        assert abs(held["measured"] - step["pip_flexion_deg"]) < 0.1
        assert all(each["holds"] for each in step["findings"])
    assert {path.name for path in home.iterdir()} == {
        *NAMES,
        ".print3d-files",
        *(step["folder"] for step in data["steps"]),
    }
    assert out.splitlines()[: len(plan_of(home))] == plan_of(home)
    with (home / "plan.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["pip_flexion_deg"]) for row in rows] == [45.0, 37.5, 30.0, 22.5, 15.0, 7.5, 0.0]
    assert all(row["planned_date"] == row["fitted_date"] == "" for row in rows)  # the therapist's


def plan_of(home: Path) -> list[str]:
    return (home / "plan.txt").read_text(encoding="utf-8").splitlines()


# --- hours ------------------------------------------------------------------------------------------------------------

HOLDS = made("wall.thinnest", 2.0, 0.8)
FAILS = made("wall.thinnest", 0.5, 0.8)


def series_with(tmp_path: Path, options: dict[str, object]) -> Path:
    """Return the worked series without force and hours of its own, but with other options."""
    data = tomllib.loads(SERIES.read_text())
    kept = {
        key: value
        for key, value in data["orthosis"].items()
        if key not in ("end_force_n", "wear_hours_per_day")
    }
    path = tmp_path / "cases" / "series.toml"
    path.parent.mkdir(parents=True)
    path.write_text(toml_text({**data, "orthosis": {**kept, **options}}))
    return path


@pytest.mark.parametrize(("options", "hours"), [({}, 20.0), ({"wear_hours_per_day": 9}, 9.0)])
def test_the_hours_of_the_plan_are_those_of_every_step(tmp_path: Path, options, hours: float) -> None:
    assert PIP.wear_hours is not None
    assert PIP.wear_hours.value == 20.0
    plan = planned(path=series_with(tmp_path, options))
    cases = [variant.case for variants in plan.variants for variant in variants]
    assert {pull_of_case(case).wear_hours for case in cases} == {hours} == {plan.wear_hours_per_day}
    assert {case.orthosis.wear_hours_per_day for case in cases} == {hours}
    text = " ".join(" ".join(plan_text(plan, [StepOutcome() for _ in plan.steps])).split())
    assert f"Wear {hours:g} " in text
    assert ("[" in text.split(f"Wear {hours:g} ")[1].split("hours a day")[0]) == (not options)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_plan_names_the_force_and_the_area_that_skin_bears(tmp_path: Path, language) -> None:
    """At 14 kPa against 10 the pull of 200 g (1.96 N) has to fall to 1.4 N, or 1.4 times the area has to bear."""
    plan = planned(path=series_with(tmp_path, {}))
    too_hard = pressed(14.0, watch=None)
    outcomes = [StepOutcome("volar", True, (too_hard, HOLDS)) for _ in plan.steps]
    outcomes[1] = StepOutcome("volar", True, (HOLDS,))
    found = skin_bears(plan, outcomes)
    assert found is not None
    assert found.places == (0, *range(2, len(plan.steps)))
    assert found.force_n == pytest.approx(1.4)
    assert found.times_area == pytest.approx(1.4)
    assert skin_bears(plan, [outcomes[1]] * len(outcomes)) is None
    said = [told for note, told in PlanWords(Words(language), plan).notes(outcomes) if note == "fails"]
    assert f"{number(1.4, language)} (143 g)" in said[-1]


@pytest.mark.slow(in_ci=True)
def test_plan_findings_and_sheets_name_the_same_hours_and_what_skin_bears(
    tmp_path: Path, in_this_process: None
) -> None:
    """200 g on a stiff PIP are too much for 20 hours: the plan says which force holds, and with it every step does."""
    request = Request(goal_deg=37.5)
    plan = planned(request, series_with(tmp_path, {"form": "volar"}))
    plan = replace(plan, variants=tuple(each[:1] for each in plan.variants))
    outcomes = dict(build_series(plan, tmp_path / "set", SHEETS, (shape_and_check, write_files)))
    write_plan(tmp_path / "set", plan, [outcomes[place] for place in range(len(plan.steps))])
    told = json.loads((tmp_path / "set" / "plan.json").read_text())
    bears = told["skin_bears"]
    assert told["wear_hours_per_day"] == 20.0
    assert bears["places"] == [0, 1]
    text = " ".join((tmp_path / "set" / "plan.txt").read_text().split())
    assert f"end_force_n = {bears['force_n']:g} " in text
    for step in plan.steps:
        folder = tmp_path / "set" / folder_of(step)
        findings = json.loads((folder / "findings.json").read_text())["findings"]
        pressures = [each for each in findings if each["key"] in ("pressure.zone", "pressure.peak")]
        assert pressures
        assert all("20 h" in json.dumps(each) for each in pressures)
        assert "worn 20 hours a day" in Pdf(folder / "wear_and_care.pdf").text()
        assert "Planned wear: 20 hours a day" in Pdf(folder / "fit_check.pdf").text()
    gentle = planned(
        request, series_with(tmp_path / "gentle", {"form": "volar", "end_force_n": bears["force_n"]})
    )
    findings = [shape_and_check(variants[0].case).failing for variants in gentle.variants]
    assert [each.key for failing in findings for each in failing if each.check == "pressure"] == []


@pytest.mark.slow(in_ci=True)
def test_a_form_that_folds_gives_way_to_one_that_builds(tmp_path: Path) -> None:
    """At 70 degrees a volar shell folds in the bend, one on the back does not."""
    plan = planned(
        Request(remeasured={DEFICIT: 70.0}),
        series_with(tmp_path, {"straps": {"style": "wrap"}}),
    )
    variants = tuple(each for each in plan.variants[0] if each.case.orthosis.marking.style != "none")
    outcome = build_step(shape_and_check, write_files, StepJob(variants, tmp_path / "step", JSON))
    assert outcome.form == "dorsal"
    assert {each.check for each in outcome.failing} <= {"pressure"}  # of a PIP bent by 70 degrees
    assert outcome.message.said("en").startswith(
        "dorsal form; as asked: orthosis.wall_mm = 2: the shell folds over itself"
    )
    assert tomllib.loads((tmp_path / "step" / "case.toml").read_text())["orthosis"]["form"] == "dorsal"


def stand_in(case: Any) -> Any:
    """Stands for the check: one step cannot be built, one fails, one hits a mistake of ours; none is slow."""
    angle = case.orthosis.pip_flexion_deg
    if angle == 37.5:
        raise ShapingError(as_it_stands("the shell folds"))
    if angle == 30.0:
        raise ZeroDivisionError("ours")
    return Built(case, SimpleNamespace(), (FAILS if angle == 22.5 else HOLDS,))


def lethal(case: Any) -> Any:
    """Stands for a check that ends its worker, as the system does when memory runs out."""
    if case.orthosis.pip_flexion_deg == 15.0:
        os._exit(9)
    return Built(case, SimpleNamespace(), (HOLDS,))


def write_one(built: Any, folder: Path, formats: frozenset[str]) -> list[str]:
    (folder / "part.stl").write_text("solid")
    return ["part.stl"]


def full_disk(built: Any, folder: Path, formats: frozenset[str]) -> list[str]:
    raise OSError(28, "No space left on device")


def built(
    plan: SeriesPlan, folder: Path, check: Any, write: Any = write_one, n_workers: int = 2
) -> list[StepOutcome]:
    outcomes = dict(build_series(plan, folder, JSON, (check, write), n_workers))
    assert sorted(outcomes) == list(range(len(plan.steps)))
    return [outcomes[place] for place in range(len(plan.steps))]


@pytest.fixture
def in_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Do the jobs of a series one after the other, without workers, for what has nothing to do with them."""

    def run_all(task: Any, jobs: Any, workers: Any = None) -> Any:
        yield from ((place, task(job)) for place, job in enumerate(jobs))

    monkeypatch.setattr("print3d.studies.series.run_all", run_all)


@pytest.mark.usefixtures("in_this_process")
def test_a_failing_step_never_loses_the_others(tmp_path: Path) -> None:
    plan = planned()
    outcomes = built(plan, tmp_path, stand_in)
    there = [(tmp_path / folder_of(step) / "part.stl").is_file() for step in plan.steps]
    assert [each.is_built for each in outcomes] == there == [True, False, False, True, True, True, True]
    assert outcomes[1].message.said("en") == "the shell folds"
    assert "ZeroDivisionError" in outcomes[2].trace
    assert outcomes[3].failing == [FAILS]
    write_plan(tmp_path, plan, outcomes)
    text = (tmp_path / "plan.txt").read_text(encoding="utf-8")
    assert "x Orthosis 2 could not be built: the shell folds" in text
    assert "x Orthosis 4, does not hold: volar PIP orthosis: thinnest wall" in text
    assert json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))["holds"] is False


@pytest.mark.slow(in_ci=True)
def test_a_step_that_ends_its_worker_loses_no_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("print3d.workers.MOST_LOSSES", 1)
    plan = planned(Request(remeasured={DEFICIT: 22.5}, goal_deg=7.5))
    outcomes = built(plan, tmp_path, lethal, n_workers=1)
    assert [each.is_built for each in outcomes] == [True, False, True]
    assert "workers ended" in outcomes[1].message.said("en")
    assert not (tmp_path / folder_of(plan.steps[1])).exists()


@pytest.mark.usefixtures("in_this_process")
def test_a_full_disk_leaves_the_old_set(tmp_path: Path) -> None:
    with part_of_file_set(tmp_path, "PY-080", "series") as folder:
        (folder / "plan.txt").write_text("old")
    with (
        pytest.raises(ExportError, match="No space left"),
        part_of_file_set(tmp_path, "PY-080", "series") as folder,
    ):
        built(planned(), folder, stand_in, full_disk)
    assert (tmp_path / "PY-080" / "series" / "plan.txt").read_text() == "old"
    assert not list((tmp_path / "PY-080").glob(".series.new"))


@pytest.mark.usefixtures("in_this_process")
def test_exit_code_2_if_a_step_is_not_built_and_1_if_one_fails(
    run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("print3d.built.shape_and_check", stand_in)
    monkeypatch.setattr("print3d.output.files.write_files", write_one)
    code, out, err = run("series", SERIES, "--out", tmp_path)
    assert code == 2
    assert "ZeroDivisionError" in err  # our own mistake keeps its traceback
    assert "step_01_45_deg" in out
    assert "step_02_37_5_deg" not in out
    code, _, _ = run(
        "series", SERIES, "--out", tmp_path, "--remeasured", "pip_flexion_deg=22.5", "--worn", "30"
    )
    assert code == 1
    assert {path.name for path in (tmp_path / "PY-080" / "series").glob("step_*")} == {
        "step_01_45_deg", "step_04_22_5_deg", "step_05_15_deg", "step_06_7_5_deg", "step_07_0_deg",
        "step_08_22_5_deg", "step_09_15_deg", "step_10_7_5_deg", "step_11_0_deg",
    }  # fmt: skip


def test_planning_alone_writes_nothing(run, tmp_path: Path) -> None:
    code, out, _ = run("series", SERIES, "--plan-only", "--out", tmp_path)
    assert code == 0
    assert not list(tmp_path.iterdir())
    assert all(text in " ".join(out.split()) for text in CAUTIONS)


def test_worn_alone_is_refused(run) -> None:
    code, _, err = run("series", SERIES, "--worn", "40")
    assert code == 2
    assert "--worn 40: goes with --remeasured" in err


def test_the_plan_names_sources_flags_first(run) -> None:
    plan = planned(Request(remeasured={DEFICIT: 44.0}))
    lines = list(plan_text(plan, [StepOutcome() for _ in plan.steps]))
    text = " ".join(" ".join(lines).split())
    assert next(each for each in lines if "!" in each).startswith("  ! No gain: measured 44, worn 45 degrees")
    assert (
        text.index("! No gain")
        < text.index("no. held worn when the PIP")
        < text.index("HOW TO GO ON")
        < text.index("SOURCES")
    )
    assert "a gain counts from 3 [1]; after two such" in text
    assert ", from memory]" in text


# --- the set of files -------------------------------------------------------------------------------------------------


def test_a_series_outlives_a_build_of_the_same_case(tmp_path: Path) -> None:
    with part_of_file_set(tmp_path, "PY-080", "series") as folder:
        (folder / "plan.txt").write_text("plan")
    with file_set(tmp_path, "PY-080") as folder:
        (folder / "part.stl").write_text("solid")
    assert (tmp_path / "PY-080" / "series" / "plan.txt").read_text() == "plan"
    with part_of_file_set(tmp_path, "PY-080", "series") as folder:
        (folder / "plan.json").write_text("{}")
    assert (tmp_path / "PY-080" / "part.stl").read_text() == "solid"
    assert not (tmp_path / "PY-080" / "series" / "plan.txt").exists()


def test_no_build_of_the_case_while_its_series_is_written(tmp_path: Path) -> None:
    with (
        part_of_file_set(tmp_path, "PY-080", "series"),
        pytest.raises(ExportError, match="another build is writing there"),
        file_set(tmp_path, "PY-080"),
    ):
        pass


names = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=12)
values = st.one_of(
    names, st.booleans(), st.integers(-(10**9), 10**9), st.floats(allow_nan=False, allow_infinity=False)
)
tables = st.recursive(
    st.dictionaries(names.filter(bool), st.one_of(values, st.lists(values, max_size=3)), max_size=4),
    lambda inner: st.dictionaries(names.filter(bool), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=150)
@given(tables)
def test_tables_written_as_toml_read_back_the_same(tables: dict[str, Any]) -> None:
    assert tomllib.loads(toml_text(tables)) == tables
