"""The package as it is installed: its data files are there, and every command answers. Runs against a wheel too (`.ci/wheel`)."""

import json
import os
import subprocess
import sys
from importlib.metadata import entry_points, requires, version
from pathlib import Path

import pytest

import print3d

PACKAGE = Path(print3d.__file__).parent
SOURCE = Path(os.environ.get("PRINT3D_SOURCE", PACKAGE.parent))
"""Where the source lies; a wheel is told by the environment."""
# guard: wheel: a file left out
NOT_PACKED = {".pyc"}
NEEDED = ("*/data/*.toml", "guidance/*.toml", "language/*/*.toml", "output/page/viewer/viewer.js")


def files(package: Path) -> set[str]:
    left_out = {"__pycache__", "node_modules"}
    return {
        path.relative_to(package).as_posix()
        for path in package.rglob("*")
        if path.is_file() and path.suffix not in NOT_PACKED and not left_out & set(path.parts)
    }


def run(*arguments: object, cwd: Path) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-m", "print3d", *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=cwd,
        timeout=600,
    )


def test_what_is_installed_is_what_was_asked_for() -> None:
    if "PRINT3D_SOURCE" in os.environ:
        assert not PACKAGE.is_relative_to(SOURCE)
        assert "site-packages" in PACKAGE.parts


def test_every_file_of_the_source_is_in_the_package() -> None:
    assert not files(SOURCE / "print3d") - files(PACKAGE)


@pytest.mark.parametrize(
    "left_out", ["language/de/sheets.toml", "output/page/viewer/viewer.js", "LICENCES.md"]
)
def test_a_file_that_is_left_out_is_seen(left_out: str, tmp_path: Path) -> None:
    """The planted fault: a package without one of its files."""
    for name in files(PACKAGE) - {left_out}:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    assert files(PACKAGE) - files(tmp_path) == {left_out}


@pytest.mark.parametrize("pattern", NEEDED)
def test_data_files_are_there(pattern: str) -> None:
    found = list(PACKAGE.glob(pattern))
    assert found
    assert all(path.stat().st_size > 100 for path in found)


def test_its_metadata() -> None:
    assert version("print3d") == print3d.__version__
    (script,) = (each for each in entry_points(group="console_scripts") if each.name == "print3d")
    assert script.value == "print3d.cli.main:main"
    assert any(each.startswith("numpy") for each in requires("print3d") or [])


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (["--version"], f"print3d {print3d.__version__}"),
        (["suggest", "mallet"], "Mallet orthosis"),
        (["schema"], '"dorsal_blocking"'),
        (["sheet", "mallet"], "measuring_form_mallet.pdf"),
    ],
    ids=lambda each: each[0] if isinstance(each, list) else "",
)
def test_commands_answer_in_an_empty_folder(call: list[str], words: str, tmp_path: Path) -> None:
    ended = run(*call, cwd=tmp_path)
    assert ended.returncode == 0, ended.stderr
    assert words in ended.stdout


@pytest.mark.slow(in_ci=True)
def test_a_case_started_there_is_built_there(tmp_path: Path) -> None:
    """Nothing but the package is needed: from a question to files."""
    started = run(
        "suggest", "mallet", "--finger", "ring", "--side", "left", "--write", "PY-1.toml", cwd=tmp_path
    )
    assert started.returncode == 0, started.stderr
    path = tmp_path / "PY-1.toml"
    text = path.read_text(encoding="utf-8")
    for key, value in {"pip_girth_mm": 62, "dip_girth_mm": 53}.items():
        text = text.replace(f"{key} = 0", f"{key} = {value}")
    kept = [line for line in text.splitlines() if not (line.partition("#")[0].strip().endswith("_mm = 0"))]
    path.write_text("\n".join(kept), encoding="utf-8")
    built = run("build", "PY-1.toml", "--formats", "stl,json,html", "--json", cwd=tmp_path)
    assert built.returncode in (0, 1), built.stderr
    report = json.loads(built.stdout)
    assert all((tmp_path / file).stat().st_size > 0 for file in report["cases"][0]["files"])
