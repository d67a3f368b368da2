"""What pyproject.toml, README.md and the change log promise of fresh machines, held to what is there."""

import ast
import re
import subprocess
import sys
import tomllib
from fnmatch import fnmatch
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

HOME = Path(__file__).parents[1]
PROJECT: dict[str, Any] = tomllib.loads((HOME / "pyproject.toml").read_text(encoding="utf-8"))
README, GUIDE = ((HOME / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))
NEEDS = [
    Requirement(each)
    for needs in (PROJECT["project"]["dependencies"], *PROJECT["project"]["optional-dependencies"].values())
    for each in needs
    if not each.startswith("print3d[")
]


# --- Python ----------------------------------------------------------------------------------------------------------------


def promised_pythons() -> list[str]:
    listed = PROJECT["project"]["classifiers"]
    return [each.rsplit(" ", 1)[1] for each in listed if re.search(r":: 3\.\d+$", each)]


def test_every_place_promises_the_same_pythons() -> None:
    oldest, *_, newest = promised = promised_pythons()
    assert promised == [f"3.{minor}" for minor in range(int(oldest[2:]), int(newest[2:]) + 1)]
    assert PROJECT["project"]["requires-python"] == f">={oldest}"
    assert f"Python {', '.join(promised[:-1])} or {newest}" in README
    assert PROJECT["tool"]["ruff"]["target-version"] == f"py{oldest.replace('.', '')}"


def test_this_python_is_a_promised_one() -> None:
    assert f"{sys.version_info.major}.{sys.version_info.minor}" in promised_pythons()


def test_the_source_is_in_the_language_of_the_oldest_python() -> None:
    oldest = 3, int(promised_pythons()[0][2:])
    sources = [*(HOME / "print3d").rglob("*.py")]
    assert len(sources) > 100
    for path in sources:
        ast.parse(path.read_text(encoding="utf-8"), str(path), feature_version=oldest)


def test_a_language_too_new_is_seen() -> None:
    with pytest.raises(SyntaxError):
        ast.parse("type Row = dict[str, int]", feature_version=(3, 11))


# --- versions of what is needed ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("need", NEEDS, ids=lambda need: need.name)
def test_every_need_has_a_least_version_that_is_met_here(need: Requirement) -> None:
    least = [each.version for each in need.specifier if each.operator == ">="]
    assert len(least) == len(need.specifier) == 1
    try:
        assert need.specifier.contains(version(need.name), prereleases=True)
    except PackageNotFoundError:
        assert need in NEEDS[len(PROJECT["project"]["dependencies"]) :] or need.marker is not None


def test_the_oldest_versions_are_asked_for_exactly() -> None:
    """The list that .ci/minimum installs: every need at run time, at the very version from which it is promised."""
    script = (HOME / ".ci" / "minimum").read_text(encoding="utf-8")
    program = script.split("<<'PYTHON'\n", 1)[1].split("\nPYTHON\n", 1)[0]
    listed = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=HOME
    ).stdout
    asked = {each.name: each for each in map(Requirement, listed.splitlines())}
    for need in map(Requirement, PROJECT["project"]["dependencies"]):
        (promised,) = need.specifier
        assert asked[need.name].specifier == SpecifierSet(f"=={promised.version}"), need.name
        assert asked[need.name].marker == need.marker


# --- the wheel --------------------------------------------------------------------------------------------------------------


def test_the_wheel_takes_the_package_whole() -> None:
    """What git ignores the builder leaves out; tests/installed looks into a wheel that was built (.ci/wheel)."""
    assert PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"] == {"packages": ["print3d"]}
    ignored = [
        line.rstrip("/")
        for line in (HOME / ".gitignore").read_text(encoding="utf-8").splitlines()
        if line and line[0] not in "#!"
    ]
    made = {"__pycache__", "node_modules"}
    packed = [path.relative_to(HOME) for path in (HOME / "print3d").rglob("*") if path.is_file()]
    parts = {part for path in packed if not made & set(path.parts) for part in path.parts}
    assert {"de", "language", "viewer.js", "sheets.toml"} <= parts
    assert not [(part, each) for part in parts for each in ignored if fnmatch(part, each)]


def test_a_tree_that_is_not_installed_has_a_version_too() -> None:
    program = (
        "import importlib.metadata as metadata\n"
        "def version(name): raise metadata.PackageNotFoundError(name)\n"
        "metadata.version = version\n"
        "import print3d\n"
        "print(print3d.__version__)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, cwd=HOME)
    assert done.stdout.strip() == "0+source", done.stderr


def test_the_scripts_of_fresh_machines_are_sound_and_told() -> None:
    scripts = sorted((HOME / ".ci").iterdir())
    assert {path.name for path in scripts} >= {"run", "wheel", "minimum"}
    for path in scripts:
        assert subprocess.run(["bash", "-n", path], check=False).returncode == 0, path.name
        assert "set -euo pipefail" in path.read_text(encoding="utf-8"), path.name
    assert [name for name in (".ci/run", ".ci/wheel", ".ci/minimum") if name not in GUIDE] == []
    assert "bash .ci/wheel" in (HOME / ".ci" / "run").read_text(encoding="utf-8")


def test_ci_runs_what_the_quick_command_leaves_to_it() -> None:
    script = (HOME / ".ci" / "run").read_text(encoding="utf-8")
    assert "pytest -q -n 2 -m slow(in_ci=True)" in script
    (bodies,) = re.findall(r"tests\.sweep\.population --bodies (\d+) ", script)
    assert int(bodies) >= 200


@pytest.mark.parametrize(
    ("mark", "words"), [("first command", "print3d build params/cases/"), ("test command", "pytest")]
)
def test_the_commands_that_fresh_machines_take_from_the_readme_are_marked(mark: str, words: str) -> None:
    (_, *found) = README.split(f"<!-- {mark} -->\n")
    assert len(found) == 1
    command = found[0].split("\n", 1)[0]
    assert words in command
    paths = re.findall(r"params/\S+\.toml", command)
    assert [path for path in paths if not (HOME / path).is_file()] == []


# --- the change log ---------------------------------------------------------------------------------------------------------


def test_the_change_log_ends_with_this_version() -> None:
    log = GUIDE[GUIDE.index("## Changes") :]
    told = [tuple(map(int, each)) for each in re.findall(r"^(\d+)\.(\d+)\.(\d+): ", log, re.MULTILINE)]
    assert told == sorted(set(told))
    assert ".".join(map(str, told[-1])) == PROJECT["project"]["version"]
