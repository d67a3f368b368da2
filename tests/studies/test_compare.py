"""Variants side by side: how they are asked for, measured in parallel, kept, ordered and written."""

import csv
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Sequence
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from print3d import workers as parallel
from print3d.built import Built, shape_case
from print3d.checks.donning import check_donning
from print3d.checks.finding import Finding
from print3d.checks.gap import check_gap
from print3d.checks.limits import limits_of_case
from print3d.errors import InputError, StudyError
from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.kinds.registry import KINDS
from print3d.language.message import message
from print3d.limb.bodies import closed_tube
from print3d.output.studies.compare_files import as_csv, as_data, files_of
from print3d.output.studies.difference import measure_difference
from print3d.studies import store
from print3d.studies.compare import compare
from print3d.studies.outcome import Outcome, measure, outcome_from, relative_margin
from print3d.studies.run import Run
from print3d.studies.store import Store, key_of
from print3d.studies.variants import Variant, read_variants, read_vary
from print3d.workers import Workers, run_all
from tests.checks.made import made

CASES = Path(__file__).parents[2] / "params" / "cases"
PIP = CASES / "pip_extension.toml"
OPTIONS = {name: kind.options for name, kind in KINDS.items()}
TWO = Workers(n_workers=2)


def fit_check(case: Case) -> Built:
    """Build a case and measure gap and donning only, so that many variants take seconds."""
    built, limits = shape_case(case), limits_of_case(case)
    return replace(
        built, findings=(*check_gap(built.modelled, limits), *check_donning(built.modelled, limits))
    )


def variants(*varied: str, paired: bool = False, paths: Sequence[Path] = (PIP,)) -> list[Variant]:
    return read_variants(paths, [read_vary(text) for text in varied], OPTIONS, paired=paired)


def refused(*varied: str, paired: bool = False) -> str:
    with pytest.raises(InputError) as refusal:
        variants(*varied, paired=paired)
    return str(refusal.value)


# asking -------------------------------------------------------------------------------------------------------


def test_values_are_read_as_in_a_case_file() -> None:
    assert read_vary("wall_mm=2,2.5, 3").values == (2, 2.5, 3)
    assert read_vary("wall_mm=2").key == "orthosis.wall_mm"
    assert read_vary("orthosis.vents.pitch_mm=6").key == "orthosis.vents.pitch_mm"
    assert read_vary("print.material=petg, pla").values == ("petg", "pla")
    assert read_vary('case.note="a, b",c').values == ("a, b", "c")
    assert read_vary("override.allow=[],['a','b']").values == ([], ["a", "b"])


@pytest.mark.parametrize("text", ["wall_mm", "=2", "wall_mm=", "wall_mm=2,,3", "wall_mm=2,2"])
def test_what_is_no_vary_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="--vary"):
        read_vary(text)


def test_a_grid_has_every_combination_and_pairs_have_the_first_with_the_first() -> None:
    grid = variants("wall_mm=2,2.5", "clearance_mm=0.3,0.5,0.8")
    assert [tuple(each.values.values()) for each in grid] == [
        (w, c) for w in (2, 2.5) for c in (0.3, 0.5, 0.8)
    ]
    assert all(each.case.orthosis.wall_mm == each.values["orthosis.wall_mm"] for each in grid if each.case)
    pairs = variants("wall_mm=2,2.5", "clearance_mm=0.3,0.5", paired=True)
    assert [tuple(each.values.values()) for each in pairs] == [(2, 0.3), (2.5, 0.5)]
    (alone,) = variants()
    assert alone.values == {}
    assert "wall_mm: 1, orthosis.clearance_mm: 2" in refused("wall_mm=2", "clearance_mm=1,2", paired=True)


def test_bad_keys_and_values_are_refused_all_at_once_as_in_a_file() -> None:
    message = refused("wal_mm=2", "clearance_mm=0.3,9", "print.material=pteg,pla")
    assert "orthosis.wal_mm = 2: not a known key; the nearest is orthosis.wall_mm" in message
    assert "orthosis.clearance_mm = 9: accepted is a number from 0 to 6 mm" in message
    assert 'print.material = "pteg": not a known material; the nearest is "petg"' in message
    assert "0.3" not in message
    assert all(line.startswith(str(PIP)) for line in message.splitlines())
    assert "orthosis.wall_mm is no table" in refused("orthosis.wall_mm.x=2")
    assert "given twice" in refused("wall_mm=2", "orthosis.wall_mm=3")


def test_a_grid_is_counted_before_it_is_made() -> None:
    thousand = ",".join(map(str, range(1000)))
    tracemalloc.start()
    message = refused(
        *(f"{key}={thousand}" for key in ("wall_mm", "clearance_mm", "flare.length_mm", "flare.height_mm"))
    )
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "1000000000000" in message
    assert peak < 10_000_000


def test_values_that_contradict_each_other_are_a_row_with_its_message() -> None:
    found = variants("wall_mm=1.4,2", "rim_radius_mm=0.6,0.9")
    assert [each.case is None for each in found] == [False, True, False, False]
    assert (
        found[1]
        .problems[0]
        .said("en")
        .startswith("orthosis.rim_radius_mm = 0.9: must be below half of wall_mm = 1.4")
    )
    assert "rim_radius_mm" in refused("wall_mm=1.4,1.5")  # nothing would be left


# order --------------------------------------------------------------------------------------------------------


ASKED = message("sources.of_case", option="orthosis.wall_mm")


def finding(measured: float, limit: Any, key: str = "wall.thinnest", **other: Any) -> Finding:
    return made(key, measured, limit, **other)


def test_margins_are_shares_of_limits() -> None:
    assert relative_margin(finding(2.5, 2.0)) == pytest.approx(0.25)
    assert relative_margin(finding(9.0, (8.0, 12.0), sense="between")) == pytest.approx(0.5)
    assert relative_margin(finding(0.0, -0.05)) == pytest.approx(0.5)  # limits near nought count as 0.1 mm
    assert relative_margin(finding(1.5, 2.0, sense="at most", unit="deg")) == pytest.approx(0.25)


def test_counts_and_what_was_asked_do_not_decide_unless_they_fail() -> None:
    telling = finding(3.0, 2.0)
    full = finding(90.0, 90.0, "motion.free", unit="deg")
    asked = replace(finding(2.0, 1.99, "wall.asked"), source=ASKED)
    assert Outcome((telling, full, asked)).tightest == (pytest.approx(0.5), telling)
    failing = replace(asked, measured=1.9)
    assert Outcome((telling, failing)).tightest == (pytest.approx(-0.09 / 1.99), failing)
    assert not Outcome((telling, failing)).holds
    assert Outcome((telling, failing)).failing == [failing]


def test_figures_come_from_the_findings_of_their_checks() -> None:
    pressure = [finding(p, 10.0, "pressure.zone", sense="at most", unit="kPa") for p in (3.0, 7.0)]
    loss = finding(1.5, 5.0, "stiffness.lost", sense="at most", unit="deg")
    outcome = Outcome((*pressure, loss))
    assert (outcome.figure("pressure_kpa"), outcome.figure("angle_loss_deg")) == (7.0, 1.5)
    assert outcome.figure("gap_mm") is None


@pytest.mark.slow(in_ci=True)
def test_twenty_four_variants_rank_the_planted_best_first(tmp_path: Path) -> None:
    """The mouth widens with the clearance and the mass falls with the wall: the best is known before it is measured."""
    found = compare(variants("wall_mm=2.6,2,2.3", "clearance_mm=0.2,0.3,1.1,0.4,0.5,0.6,0.7,0.8"), fit_check,
                    Run(Store(tmp_path), TWO))  # fmt: skip
    assert len(found.rows) == 24
    best = found.best
    assert best is not None
    assert best.variant.values == {"orthosis.wall_mm": 2, "orthosis.clearance_mm": 1.1}
    margins = [round(100 * (row.outcome.figure("margin") or 0.0)) for row in found.rows]
    assert margins == sorted(margins, reverse=True)
    masses = {
        row.variant.values["orthosis.wall_mm"]: row.outcome.mass_g
        for row in found.rows
        if row.variant.values["orthosis.clearance_mm"] == 0.5
    }
    # a shell's volume is nearly area times wall: 2.6 / 2.0 = 1.3; the outside is a little larger
    assert masses[2.6] / masses[2] == pytest.approx(1.3, abs=0.06)
    by_mass = compare(
        variants("wall_mm=2.6,2,2.3", "clearance_mm=0.2,1.1"),
        fit_check,
        Run(Store(tmp_path), TWO),
        best_by="mass_g",
    )
    assert by_mass.n_reused == 6
    assert by_mass.best is not None
    assert by_mass.best.variant.values == {"orthosis.wall_mm": 2, "orthosis.clearance_mm": 0.2}
    assert "least mass" in by_mass.rule()


@pytest.mark.slow(in_ci=True)
def test_a_failing_variant_comes_after_all_that_hold_and_an_impossible_one_last(tmp_path: Path) -> None:
    """Planted: at 0 mm of clearance the mouth is too narrow for a soft tissue that does not yield."""
    asked = variants(
        "wall_mm=1.4,2", "clearance_mm=0,1", "rim_radius_mm=0.6,0.9", "soft_tissue_compression.donning_mm=0"
    )
    found = compare(asked, fit_check, Run(Store(tmp_path), TWO))
    kinds = ["message" if row.outcome.refused else row.outcome.holds for row in found.rows]
    assert kinds == sorted(kinds, key=lambda kind: (kind == "message", kind is False))
    assert kinds.count("message") == 2


def test_why_a_variant_has_no_shape_is_kept_and_said_in_any_language() -> None:
    (thin,) = (each for each in variants("wall_mm=1.4,2", "rim_radius_mm=0.9") if each.case is None)
    kept = outcome_from(json.loads(json.dumps(Outcome(refused=thin.problems).as_data())))
    assert not kept.holds
    assert kept.figure("mass_g") is None
    (problem,) = kept.refused
    assert problem.said("de").startswith(
        "orthosis.rim_radius_mm = 0.9: muss unter der Hälfte von wall_mm = 1,4 liegen"
    )
    assert problem.said("en") == thin.problems[0].said("en")


def test_an_unknown_figure_is_refused_with_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(InputError, match='the nearest is "mass_g"'):
        compare(variants(), fit_check, Run(Store(tmp_path)), best_by="mas_g")


# kept ---------------------------------------------------------------------------------------------------------


class Stopped(Exception):  # noqa: N818 (stands for Ctrl-C)
    """Raised where a person would press Ctrl-C."""


@pytest.mark.slow(in_ci=True)
def test_a_stopped_run_goes_on_without_loss(tmp_path: Path) -> None:
    asked, told = variants("clearance_mm=0.3,0.4,0.5,0.6"), list[int]()

    def stop(done: int, of: int) -> None:
        told.append(done)
        if done == 2:
            raise Stopped

    with pytest.raises(Stopped):
        compare(asked, fit_check, Run(Store(tmp_path), TWO, stop))
    assert told == [0, 1, 2]
    resumed = compare(asked, fit_check, Run(Store(tmp_path), TWO))
    assert resumed.n_reused == 2
    for row in resumed.rows:
        fresh = measure(fit_check, row.variant.case)  # type: ignore[arg-type]
        assert row.outcome.findings == fresh.findings
        assert row.outcome.mass_g == fresh.mass_g
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def test_results_of_another_program_case_or_material_are_not_reused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (one,), (other,) = variants(), variants("wall_mm=2.1")
    assert one.case is not None
    assert other.case is not None
    softer = one.case.material.model_copy(update={"title": "softer"})
    keys = [key_of(one.case), key_of(other.case), key_of(replace(one.case, material=softer))]
    monkeypatch.setattr(store, "program_text_hash", lambda: "another program")
    assert len({*keys, key_of(one.case)}) == 4
    again = variants()[0].case
    assert again is not None
    monkeypatch.undo()
    assert key_of(again) == keys[0]


@pytest.mark.parametrize("library", store.LIBRARIES)
def test_results_of_another_library_are_not_reused(library: str, monkeypatch: pytest.MonkeyPatch) -> None:
    (one,) = variants()
    assert one.case is not None
    before = key_of(one.case)
    monkeypatch.setattr(store, "version", lambda name: "0.0.1" if name == library else version(name))
    store.program_text_hash.cache_clear()
    other = key_of(one.case)
    store.program_text_hash.cache_clear()
    assert other != before


def test_results_of_another_regimen_of_the_clinic_are_not_reused(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    (tmp_path / "protocols").mkdir()
    case, own = tmp_path / "cases" / "a.toml", tmp_path / "protocols" / "own.toml"
    text = (CASES / "dorsal_blocking.toml").read_text(encoding="utf-8")
    case.write_text(re.sub(r"(?m)^mcp_flexion_deg = .*\n", "", text))
    keys = set()
    for angle in (40, 45):
        own.write_text(
            f'[early_active]\ntitle = "ours"\nmcp_flexion_deg = {angle}\nsource = "clinic, 2024"\nmark = "seen"\n'
        )
        (variant,) = variants(paths=[case])
        assert variant.case is not None
        keys.add(key_of(variant.case))
    own.write_text("[early_active]\n")
    assert variant.case is not None
    assert key_of(variant.case) not in keys
    assert len(keys) == 2


def test_a_damaged_result_is_measured_again(tmp_path: Path) -> None:
    (one,) = variants()
    assert one.case is not None
    kept = Store(tmp_path)
    outcome = Outcome((finding(3.0, 2.0),), mass_g=1.5)
    kept.write(key_of(one.case), outcome.as_data())
    assert (
        outcome_from(kept.read(key_of(one.case)) or {}).findings
        == outcome_from(json.loads(json.dumps(outcome.as_data()))).findings
    )
    (tmp_path / f"{key_of(one.case)}.json").write_text('{"findings": [')
    assert kept.read(key_of(one.case)) is None


# in parallel --------------------------------------------------------------------------------------------------


def my_process(seconds: float) -> tuple[int, bool, str]:
    """Return who worked, whether it loaded the CAD kernel for a check, and how many threads it may use."""
    from print3d.built import shape_and_check

    assert shape_and_check
    time.sleep(seconds)
    return os.getpid(), "cadquery" in sys.modules or "OCP" in sys.modules, os.environ["OMP_NUM_THREADS"]


@pytest.mark.slow(in_ci=True)
def test_every_core_works_on_one_thread_without_the_cad_kernel() -> None:
    before = os.environ.get("OMP_NUM_THREADS")
    found = dict(run_all(my_process, [0.4] * 6, TWO))
    assert sorted(found) == list(range(6))
    assert len({pid for pid, _, _ in found.values()}) == 2
    assert os.getpid() not in {pid for pid, _, _ in found.values()}
    assert {(kernel, threads) for _, kernel, threads in found.values()} == {(False, "1")}
    assert os.environ.get("OMP_NUM_THREADS") == before
    assert parallel.n_cores() >= 1


def dies_once(job: tuple[str, int]) -> int:
    """End the process of job 3 the first time, as the system does when memory runs out."""
    folder, number = job
    mark = Path(folder) / "died"
    if number == 3 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def dies(job: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return job


@pytest.mark.slow(in_ci=True)
def test_a_lost_worker_loses_no_result(tmp_path: Path) -> None:
    found = dict(run_all(dies_once, [(str(tmp_path), number) for number in range(8)], TWO))
    assert found == {number: number * number for number in range(8)}
    assert (tmp_path / "died").exists()


ORPHANED = """
import os, time
from print3d.workers import Workers, run_all
from tests.studies.test_compare import sleeps
if __name__ == "__main__":
    for _, pid in run_all(sleeps, [0.0, 300.0], Workers(n_workers=1)):
        print(pid, flush=True)
"""


def sleeps(seconds: float) -> int:
    time.sleep(seconds)
    return os.getpid()


def is_running(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.slow(in_ci=True)
@pytest.mark.skipif(sys.platform != "linux", reason="asks /proc")
def test_a_killed_program_takes_its_workers_with_it(tmp_path: Path) -> None:
    script = tmp_path / "orphaned.py"
    script.write_text(ORPHANED, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, text=True, env=environment
    ) as run:
        assert run.stdout is not None
        worker = int(run.stdout.readline())
        assert is_running(worker)
        run.kill()
    end = time.monotonic() + 15.0
    while is_running(worker) and time.monotonic() < end:
        time.sleep(0.05)
    left = is_running(worker)
    if left:
        os.kill(worker, signal.SIGKILL)
    assert not left


STOPPED = """
import sys
from print3d.workers import Workers, run_all
from tests.studies.test_compare import marks_its_end
if __name__ == "__main__":
    list(run_all(marks_its_end, [(sys.argv[1], number) for number in range(6)], Workers(n_workers=1)))
"""


def marks_its_end(job: tuple[str, int]) -> None:
    folder, number = job
    (Path(folder) / f"{number} begun").touch()
    time.sleep(1.5)
    (Path(folder) / f"{number} done").touch()


@pytest.mark.slow(in_ci=True)
@pytest.mark.skipif(os.name != "posix", reason="a group of processes is stopped as a terminal does it")
def test_after_ctrl_c_workers_finish_what_they_have_and_begin_little_more(tmp_path: Path) -> None:
    """One further job may wait in the pipe to a worker already."""
    script = tmp_path / "stopped.py"
    script.write_text(STOPPED, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(
        [sys.executable, script, tmp_path], stderr=subprocess.PIPE, text=True, env=environment,
        start_new_session=True, preexec_fn=heeds_ctrl_c,
    ) as run:  # fmt: skip
        while run.poll() is None and not (tmp_path / "0 begun").exists():
            time.sleep(0.02)
        os.killpg(run.pid, signal.SIGINT)
        run.communicate(timeout=60)
    assert (tmp_path / "0 done").exists()
    assert len(list(tmp_path.glob("* begun"))) == len(list(tmp_path.glob("* done"))) <= 3


@pytest.mark.slow(in_ci=True)
def test_workers_that_are_lost_again_and_again_end_the_study() -> None:
    with pytest.raises(StudyError, match="1 of 1 are open"):
        list(run_all(dies, [1], TWO))


# files --------------------------------------------------------------------------------------------------------


@pytest.mark.slow(in_ci=True)
def test_files_say_the_same_and_the_page_stands_alone(tmp_path: Path) -> None:
    asked = variants("wall_mm=1.4,2", "clearance_mm=0.3,0.8")[1:]
    found = compare(asked, fit_check, Run(Store(tmp_path / "kept"), TWO))
    files = files_of(found, shape_case)
    names = files.write(tmp_path)
    assert {
        "compare.html",
        "compare.csv",
        "compare.json",
        "trade_off.png",
        "effects.png",
        "margins.png",
        "difference.png",
    } == set(names)
    data, rows = (
        json.loads((tmp_path / "compare.json").read_text()),
        list(csv.DictReader(io.StringIO(as_csv(found)))),
    )
    assert data == json.loads(json.dumps(as_data(found)))
    assert [int(row["variant"]) for row in rows] == [each["variant"] for each in data["variants"]]
    assert float(rows[0]["mass_g"]) == pytest.approx(data["variants"][0]["figures"]["mass_g"], rel=1e-5)
    assert rows[-1]["message"].startswith("orthosis.rim_radius_mm = 0.9")
    html = (tmp_path / "compare.html").read_text()
    assert html.count("data:image/webp;base64,") == 2 + 4
    assert 'src="http' not in html  # nothing is fetched
    assert "href=" not in html
    assert "Caution" in html or "not a medical device" in html


def tube(radius: float, length: float = 40.0) -> Any:
    along, angle = np.linspace(0.0, length, 60), np.linspace(0.0, 2.0 * np.pi, 240, endpoint=False)
    rows = np.stack(
        np.broadcast_arrays(along[:, None], radius * np.sin(angle), radius * np.cos(angle)), axis=-1
    )
    mesh: Mesh = closed_tube(rows, np.zeros(3), np.array([length, 0.0, 0.0]))
    return SimpleNamespace(meshes={"tube": mesh})


def test_a_difference_is_the_distance_between_the_surfaces() -> None:
    """Coaxial cylinders of 10.0 and 10.5 mm: half a millimetre on the sides, nothing on the ends (geometry)."""
    difference = measure_difference(tube(10.0), tube(10.5))
    inside = (difference.mesh.vertices[:, 0] > 2.0) & (difference.mesh.vertices[:, 0] < 38.0)
    np.testing.assert_allclose(difference.signed_mm[inside], -0.5, atol=0.002)
    assert difference.farthest_mm == pytest.approx(0.5, abs=0.002)
    assert measure_difference(tube(10.5), tube(10.0)).signed_mm[inside].min() == pytest.approx(0.5, abs=0.002)


# the command --------------------------------------------------------------------------------------------------


def command(out: Path, *arguments: str) -> list[str]:
    return [sys.executable, "-m", "print3d", "compare", str(PIP), "--out", str(out), *arguments]


def heeds_ctrl_c() -> None:
    """A shell that starts the tests in the background makes them, and what they start, deaf to Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.slow
def test_twenty_four_variants_by_the_command_stopped_by_ctrl_c_and_resumed(tmp_path: Path) -> None:
    """All checks; the planted best has the widest clearance and the thinnest wall of those that hold."""
    line = command(
        tmp_path, "--vary", "wall_mm=2.4,2,2.2", "--vary", "clearance_mm=0.3,0.35,0.4,0.45,0.7,0.5,0.55,0.6"
    )
    kept = tmp_path / ".print3d-results"
    run = subprocess.Popen(
        line, start_new_session=True, stderr=subprocess.PIPE, text=True, preexec_fn=heeds_ctrl_c
    )
    while run.poll() is None and len(list(kept.glob("*.json"))) < 4:
        time.sleep(0.1)
    os.killpg(run.pid, signal.SIGINT)
    _, said = run.communicate(timeout=120)
    assert run.returncode == 130
    assert "the same command goes on from there" in said
    assert not (tmp_path / "compare-PY-014").exists()
    n_kept = len(list(kept.glob("*.json")))
    assert 4 <= n_kept < 24
    again = subprocess.run([*line, "--json"], check=False, capture_output=True, text=True, timeout=600)
    data = json.loads(again.stdout)
    assert again.returncode == 0
    assert data["variants"][0]["values"] == {"orthosis.wall_mm": 2, "orthosis.clearance_mm": 0.7}
    assert (tmp_path / "compare-PY-014" / "compare.html").exists()
    third = subprocess.run(line, check=False, capture_output=True, text=True, timeout=600)
    assert "24 kept from an earlier run" in third.stdout
