"""The commands of README.md, run as they are pasted."""

import re
import shlex
from pathlib import Path

import pytest

from print3d.cli.main import main
from tests.guidance.test_suggest import TAPE

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
MOST_LINES = 180


def test_both_systems_get_the_same_first_command() -> None:
    """The line for Windows is the other one in the words of PowerShell, and says how `print3d` becomes a command there too."""
    first, windows = (
        README.split(f"<!-- {mark} -->\n")[1].split("\n", 1)[0].strip()
        for mark in ("first command", "first command, Windows")
    )
    swapped = first.replace("python3", "py").replace(" && ", "; ").replace(".venv/bin/", ".venv\\Scripts\\")
    case = swapped.rpartition(" ")[2]
    assert windows == swapped.replace(case, case.replace("/", "\\"))
    assert all(way in README for way in ("source .venv/bin/activate", r".venv\Scripts\activate"))
    assert README.count("\n") <= MOST_LINES


def first_case() -> list[list[str]]:
    """Return the lines of the README's first case, each as arguments."""
    block = README.split("## A first case\n\n```\n")[1].split("\n```", 1)[0]
    calls = [shlex.split(line, comments=True) for line in block.split("\n")]
    assert [call[:2] for call in calls] == [["print3d", name] for name in ("sheet", "suggest", "build")]
    return [call[1:] for call in calls]


def ended(call: list[str]) -> int:
    with pytest.raises(SystemExit) as end:
        main(call)
    return int(end.value.code or 0)


def test_the_first_case_of_the_readme_runs_as_pasted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """From an empty folder; the case that it starts is refused until it is filled in, with the keys to fill in."""
    monkeypatch.chdir(tmp_path)
    sheet, suggest, build = first_case()
    assert (ended(sheet), ended(suggest), ended(build)) == (0, 0, 2)
    started = (tmp_path / build[1]).read_text(encoding="utf-8")
    empty = re.findall(r"^(\w+) = 0  # ", started, flags=re.M)
    assert empty
    refused = capsys.readouterr().err
    assert [key for key in empty if f"{key} = 0: " not in refused] == []
    assert not list(tmp_path.rglob("*.stl"))


@pytest.mark.slow(in_ci=True)
def test_the_first_case_of_the_readme_builds_once_it_is_filled_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    _, suggest, build = first_case()
    ended(suggest)
    path = tmp_path / build[1]
    text = re.sub(
        r"^(\w+) = 0(?=  # )",
        lambda found: f"{found[1]} = {TAPE[found[1]]}",
        path.read_text("utf-8"),
        flags=re.M,
    )
    path.write_text(text, encoding="utf-8")
    assert ended(build) in (0, 1)
    assert (tmp_path / "outputs" / path.stem / "report.html").is_file()
