"""The command line: exit codes, text and JSON, several cases, Ctrl-C, and what it must not import."""

import json
import os
import subprocess
import sys
import textwrap
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
import typer

from print3d import flow
from print3d.built import Built
from print3d.checks.finding import Finding
from print3d.cli.case_report import outcome_of
from print3d.cli.console import a_number
from print3d.cli.main import main
from print3d.errors import LimbError
from print3d.inputs.cautions import CAUTIONS
from print3d.language.catalogue import LANGUAGES, lines
from print3d.language.message import as_it_stands
from tests.checks.made import made, pressed
from tests.conftest import in_ci
from tests.shaped import changed, checked, written_of

CASES = Path(__file__).parents[2] / "params" / "cases"
MALLET, PIP = CASES / "mallet.toml", CASES / "pip_extension.toml"

WIDE = made("openings.bridge", 3.0, 2.0, how="nearest points")
THIN = made("wall.thinnest", 0.5, 0.8, how="shrinking ball", where=(1.0, 2.0, 3.04))
TIGHT = made("gap.least", 0.9, 1.0, how="signed distance")
WATCHED = replace(pressed(), how=(as_it_stands("103 mm2 carry"),), where=(1.0, 2.0, 3.0))
BENT = made("flare.end", 0.2, (-1.0, 1.0), "deg", "between", how="rigid fit", end=as_it_stands("near"))


@dataclass
class Printed:
    code: int
    out: str
    err: str


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]):
    """Return a function that runs the command line and returns its exit code and what it printed."""

    def command(*arguments: object) -> Printed:
        with pytest.raises(SystemExit) as end:
            main([str(each) for each in arguments])
        printed = capsys.readouterr()
        return Printed(int(end.value.code or 0), printed.out, printed.err)

    return command


@pytest.fixture
def findings(monkeypatch: pytest.MonkeyPatch) -> dict[str, list[Finding]]:
    """Findings by case code that the stand-in for the build returns; a missing code is an error of the limb."""
    chosen: dict[str, list[Finding]] = {}

    def shape(case, *_: object) -> Built:
        if case.header.code not in chosen:
            raise LimbError(as_it_stands("the lengths leave no finger"))
        return changed(
            written_of(case, chosen[case.header.code], {}),
            warnings=(as_it_stands("hand_length_mm looks odd"),),
        )

    monkeypatch.setattr(flow, "shape", shape)
    monkeypatch.setattr(flow, "check", lambda built, *_: built)
    monkeypatch.setattr(flow, "write", lambda *_: ())
    return chosen


@pytest.mark.parametrize(("found", "code"), [([WIDE, BENT], 0), ([WIDE, THIN], 1)])
def test_exit_code_tells_whether_all_checks_hold(run, findings, found: list[Finding], code: int) -> None:
    findings["PY-021"] = found
    assert run("check", MALLET).code == code
    assert run("build", MALLET).code == code


def test_what_is_to_be_watched_holds_and_is_counted(run, findings) -> None:
    findings["PY-021"] = [WIDE, WATCHED]
    printed = run("check", MALLET)
    assert printed.code == 0
    assert "2 checks, all hold, 1 to watch" in printed.out
    (report,) = json.loads(run("check", MALLET, "--json").out)["cases"]
    assert (report["holds"], report["watched"]) == (True, 1)
    assert [each["verdict"] for each in report["findings"]] == ["holds", "watch"]


def test_plain_text_has_the_worst_first_and_no_boxes(run, findings) -> None:
    findings["PY-021"] = [WIDE, TIGHT, BENT, WATCHED, THIN]
    printed = run("check", "-v", MALLET)
    rows = [line for line in printed.out.splitlines() if " | " in line]
    assert rows == [
        "  x fails | volar PIP orthosis: thinnest wall | 0.50 mm | at least 0.8 mm | shrinking ball; at (1.0, 2.0, 3.0) mm",
        "  x fails | volar PIP orthosis: least gap to the skin | 0.90 mm | at least 1 mm | signed distance",
        "  ! watch | PIP at rest, proximal phalanx, volar side: mean pressure (40 mmHg) | 5.33 kPa | at most 10 kPa, watch above 4.27 kPa | 103 mm2 carry; at (1.0, 2.0, 3.0) mm",
        "  + holds | volar PIP orthosis: narrowest bridge between openings, or to a trim line | 3.00 mm | at least 2 mm | nearest points",
        "  + holds | volar PIP orthosis: near end stands off beyond the clearance | 0.20 deg | -1 to 1 deg | rigid fit",
    ]
    assert "5 checks, 2 fail, 1 to watch" in printed.out
    assert "measure again: hand_length_mm looks odd" in printed.out
    assert all(caution in printed.out for caution in CAUTIONS)
    assert printed.out.isascii()
    assert printed.err == ""


def test_without_v_only_what_fails_or_is_to_be_watched_is_told(run, findings) -> None:
    findings["PY-021"] = [WIDE, TIGHT, BENT, WATCHED, THIN]
    printed = run("check", MALLET)
    assert [line for line in printed.out.splitlines() if " | " in line] == [
        "  x fails | volar PIP orthosis: thinnest wall | 0.50 mm | at least 0.8 mm",
        "  x fails | volar PIP orthosis: least gap to the skin | 0.90 mm | at least 1 mm",
        "  ! watch | PIP at rest, proximal phalanx, volar side: mean pressure (40 mmHg) | 5.33 kPa | at most 10 kPa",
    ]
    assert "2 hold and are not told: -v shows them" in printed.out
    assert "measure again: hand_length_mm looks odd" in printed.out
    assert all(caution in printed.out for caution in CAUTIONS)
    assert run("check", "--json", MALLET).out == run("check", "--json", "-v", MALLET).out


def test_every_case_is_reported_and_the_worst_code_counts(run, findings, tmp_path: Path) -> None:
    findings["PY-021"] = [THIN]
    missing = tmp_path / "missing.toml"
    printed = run("check", missing, PIP, MALLET)
    assert printed.code == 2
    assert printed.err.splitlines() == [
        f"{missing}: there is no such file; give the path of a TOML file",
        f"{PIP}: the lengths leave no finger",
    ]
    assert f"{MALLET}: 1 checks, 1 fail" in printed.out


def test_json_is_all_that_is_printed(run, findings, tmp_path: Path) -> None:
    findings["PY-021"] = [WIDE, THIN]
    missing = tmp_path / "missing.toml"
    printed = run("check", "--json", MALLET, missing)
    report = json.loads(printed.out)
    built, refused = report["cases"]
    assert printed.code == 2
    assert (built["code"], built["holds"]) == ("PY-021", False)
    assert [finding["measured"] for finding in built["findings"]] == [3.0, 0.5]
    assert refused["case"] == str(missing)
    assert refused["error"] == printed.err.strip()
    assert tuple(report["cautions"]) == CAUTIONS


def test_two_cases_of_one_code_do_not_replace_each_other(run, findings, tmp_path: Path) -> None:
    findings["PY-021"] = findings["py-021"] = [WIDE]
    twin = tmp_path / "twin.toml"
    twin.write_text(MALLET.read_text(encoding="utf-8").replace("PY-021", "py-021"), encoding="utf-8")
    printed = run("build", MALLET, twin)
    assert printed.code == 2
    assert printed.err.startswith(f'{twin}: case.code = "py-021": {MALLET} has it too')
    assert run("check", MALLET, twin).code == 0


def test_ctrl_c_ends_with_one_line(run, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(flow, "shape", stopped)
    printed = run("build", MALLET)
    assert printed.code == 130
    assert printed.err == f"{MALLET}: stopped; no file of this case was changed\n"
    assert printed.out == ""


def test_our_own_mistakes_keep_their_traceback(findings, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    findings["PY-021"] = [WIDE]
    monkeypatch.setattr(flow, "check", broken)
    with pytest.raises(ZeroDivisionError):
        main(["check", str(MALLET)])


@pytest.mark.parametrize("number", [float("nan"), float("inf"), -float("inf")])
def test_an_option_that_is_no_number_is_refused_whatever_the_parser_lets_through(number: float) -> None:
    """Newer versions of typer refuse these by themselves where a range is given; the oldest that is promised may not."""
    with pytest.raises(typer.BadParameter, match="is no number"):
        a_number(str(number), 0.0, 10.0)
    assert (a_number("0", 0.0, 10.0), a_number("2,5", 0.0, 10.0)) == (0.0, 2.5)


def test_schema_is_json(run) -> None:
    printed = run("schema")
    assert printed.code == 0
    assert json.loads(printed.out)["title"] == "print3d case"


def test_a_bare_call_shows_help_and_version_is_short(run) -> None:
    assert "build" in run("--help").out
    assert run("--version").out.startswith("print3d ")


def test_a_pipe_in_an_old_code_page_stops_nothing(tmp_path: Path) -> None:
    """Names beyond ASCII are told with question marks there."""
    call = [sys.executable, "-m", "print3d", "sheet", "mallet", "--out", tmp_path / "größer"]
    environment = {**os.environ, "PYTHONIOENCODING": "ascii:strict"}
    done = subprocess.run(call, capture_output=True, text=True, env=environment)
    assert (done.returncode, done.stderr) == (0, "")
    assert "gr??er" in done.stdout


# what a cold start must not pay for ---------------------------------------------------------------------------


def loaded_after(arguments: list[str], folder: Path) -> set[str]:
    """Return the top-level modules that a new process has loaded when the command ends."""
    program = (
        "import sys\nfrom print3d.cli.main import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit as end:\n    assert end.code in (None, 0, 1), end.code  # whether the checks hold is asked elsewhere\n"
        "sys.stderr.write('\\n' + ' '.join({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=folder, check=True
    )
    return set(done.stderr.splitlines()[-1].split())


def test_help_is_cheap(tmp_path: Path) -> None:
    loaded = loaded_after(["--help"], tmp_path)
    assert "typer" in loaded
    assert not loaded & {"numpy", "scipy", "shapely", "pydantic", "trimesh", "cadquery", "OCP", "matplotlib"}


@pytest.mark.slow(in_ci=True)
def test_a_build_without_step_does_not_load_the_cad_kernel(tmp_path: Path) -> None:
    loaded = loaded_after(
        ["build", str(PIP), "--formats", "stl,3mf", "--out", str(tmp_path / "out")], tmp_path
    )
    assert "scipy" in loaded
    assert not loaded & {"cadquery", "OCP", "matplotlib", "vtkmodules"}
    assert {file.suffix for file in (tmp_path / "out" / "PY-014").iterdir()} >= {".stl", ".3mf"}


MOST_LINES, COLUMNS = 25, 110
"""Lines of a terminal of that width, cautions included, that a case of which all checks hold may take."""
QUICK = ("figure_of_eight", "mallet")


@pytest.mark.parametrize(
    "name",
    [each.stem if each.stem in QUICK else in_ci(each.stem) for each in sorted(CASES.glob("*.toml"))],
)
@pytest.mark.parametrize("language", LANGUAGES)
def test_where_all_holds_it_fits_a_terminal(name: str, language: str, capsys, tmp_path: Path) -> None:
    built = checked(name)
    header = built.case.header.model_copy(update={"language": language})
    spoken = changed(built, case=replace(built.case, header=header))
    files = [tmp_path / f"{number}.stl" for number in range(20)]
    outcome_of(Path(f"params/cases/{name}.toml"), spoken, files, verbose=False).show()
    wrapped = [
        part for line in capsys.readouterr().out.splitlines() for part in textwrap.wrap(line, COLUMNS) or [""]
    ]
    cautions = [part for each in lines("cautions.all", language) for part in textwrap.wrap(each, COLUMNS - 9)]
    failing = sum(
        3 for each in built.findings if each.verdict != "holds"
    )  # what fails or is watched is always told
    assert len(wrapped) + len(cautions) <= MOST_LINES + (0 if built.holds else failing)
