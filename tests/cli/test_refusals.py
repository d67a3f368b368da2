"""Refusals on the command line: in the language of the case where it is known, and as data for programs."""

import json
import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from print3d.cli.console import language_of, language_of_call
from print3d.cli.main import main
from tests.cli.bad_calls import model_text
from tests.inputs.bad_cases import case_text
from tests.language.english import english_words

GERMAN = {"case.language": '"de"'}
THIN = {"orthosis.wall_mm": "0.1"}


def refused(line: str, capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    """Return what a call that is refused prints: output and messages."""
    with pytest.raises(SystemExit) as end:
        main(shlex.split(line))
    assert end.value.code == 2
    printed = capsys.readouterr()
    return printed.out, printed.err


def written(folder: Path, edits: Mapping[str, str | None], make: Any = case_text) -> Path:
    path = folder / "case.toml"
    path.write_text(make(edits), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "command", ["check", "build", "series --plan-only", "compare --vary clearance_mm=0.3,0.5", "sensitivity"]
)
def test_a_german_case_is_refused_in_german(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    path = written(tmp_path, {**GERMAN, **THIN})
    name, _, options = command.partition(" ")
    _, said = refused(f"{name} {path} {options}", capsys)
    assert said == f"{path}: orthosis.wall_mm = 0.1: zulässig ist eine Zahl von 0,8 bis 6 mm\n"


def test_a_german_model_is_refused_in_german(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path, {**GERMAN, "model.scale": "9"}, model_text)
    _, said = refused(f"model {path}", capsys)
    assert "model.scale = 9: zulässig ist eine Zahl von 0,3 bis 1,5" in said


def test_a_shape_that_cannot_be_made_is_said_in_german(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ring = {"orthosis.kind": '"figure_of_eight"', "orthosis.lever_mm": "24"}
    path = written(tmp_path, {**GERMAN, **ring})
    _, said = refused(f"check {path}", capsys)
    assert said.startswith(f"{path}: orthosis.lever_mm = 24: Ringe 24,0 mm vom PIP")
    assert english_words(said.replace(str(path), "")) == []


def test_an_english_case_is_refused_in_english(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, said = refused(f"check {written(tmp_path, THIN)}", capsys)
    assert "accepted is a number from 0.8 to 6 mm" in said


@pytest.mark.parametrize(
    "text", ['[case\nlanguage = "fr"', '[case]\nlanguage = "fr"', "[case]\nlanguage = 3", "case = 1"]
)
def test_english_where_the_language_is_not_known(text: str, tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    assert language_of(path) == "en"
    assert language_of(tmp_path / "nowhere.toml") == "en"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-le", "latin-1"])
@pytest.mark.parametrize(
    "text", ['[case\nlanguage = "de"', "x = 01\nlanguage=„de“", '{"case": {"language": "de"']
)
def test_a_file_that_is_none_yet_still_tells_its_language(text: str, encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(text.encode(encoding, "replace"))
    assert language_of(path) == "de"


def test_the_language_of_a_call_is_that_of_its_first_case(tmp_path: Path) -> None:
    path = written(tmp_path, GERMAN)
    assert language_of_call(["series", "--step", "5", str(path)]) == "de"
    assert language_of_call(["series", str(tmp_path / "nowhere.toml"), str(path)]) == "en"
    assert language_of_call(["suggest", "mallet"]) == "en"
    assert language_of_call(["class-set", "list.csv", "--language", "de"]) == "de"
    assert language_of_call(["class-set", str(path), "--language=en"]) == "en"


def test_programs_get_the_problems_as_data(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path, {**GERMAN, **THIN, "case.code": None})
    printed, said = refused(f"check {path} --json", capsys)
    (report,) = json.loads(printed)["cases"]
    assert report["error"] == said.rstrip("\n")
    code, wall = report["problems"]
    assert (code["key"], code["is_missing"]) == ("case.code", True)
    assert {name: wall[name] for name in ("file", "key", "found", "least", "most", "unit")} == {
        "file": str(path), "key": "orthosis.wall_mm", "found": 0.1, "least": 0.8, "most": 6, "unit": "mm",
    }  # fmt: skip
    assert wall["wanted"]["key"] == "refusals.accepted_is"
