"""A test that nobody has seen fail proves nothing: every guard is removed in turn from a copy of the tree, and its tests must fail there."""

import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.guards.table import GUARDS, ITEMS, Guard

HOME = Path(__file__).parents[2]
COPIED = ("print3d", "tests", "params", "outputs/pictures", ".ci")
ALONE = ("pyproject.toml", "README.md", "DEVELOPERS.md", ".gitignore")
LEFT_OUT = shutil.ignore_patterns("node_modules", ".hypothesis")
OF_A_TEST = ("AssertionError", "Failed")
"""Types with which a test itself says that something is wrong: its own assertions, and pytest's fail and raises."""
NOT_CI = {"PYTEST_ADDOPTS", "PYTEST_CURRENT_TEST", "PYTEST_XDIST_WORKER"}
SECONDS = 300
Ended = dict[str, str]


# --- quick: the table fits the tree ----------------------------------------------------------------------------------------


def without(guard: Guard, root: Path) -> str:
    """Return the file without the guard. Fails, naming the row, where its text does not stand there exactly once."""
    content = (root / guard.file).read_text(encoding="utf-8")
    found = content.count(guard.text)
    assert found == 1, f"{named(guard)}: its text stands {found} times in {guard.file}, once is wanted"
    return content.replace(guard.text, guard.without)


def named(guard: Guard) -> str:
    return f"{guard.item} {guard.name}"


@pytest.mark.parametrize("guard", GUARDS, ids=named)
def test_the_text_of_a_guard_stands_once(guard: Guard) -> None:
    assert without(guard, HOME) != (HOME / guard.file).read_text(encoding="utf-8")
    if guard.file.endswith(".py"):
        compile(without(guard, HOME), guard.file, "exec")


def test_a_text_that_has_gone_names_its_row() -> None:
    for text in ("there is no such text", "\n"):
        with pytest.raises(AssertionError, match="1 closed: its text stands"):
            without(replace(GUARDS[0], text=text), HOME)


def test_every_item_has_guards_and_every_guard_a_name_and_a_test() -> None:
    assert {guard.item for guard in GUARDS} == set(ITEMS)
    assert min(Counter(guard.item for guard in GUARDS).values()) >= 5
    assert len({named(guard) for guard in GUARDS}) == len(GUARDS)
    assert all(guard.tests for guard in GUARDS)
    for guard in GUARDS:
        for file, function in (test.split("[")[0].split("::") for test in guard.tests):
            assert f"def {function}(" in (HOME / file).read_text(encoding="utf-8"), (
                f"{named(guard)}: {function}"
            )


# --- slow: removed, and missed ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tree, untouched but for the guard that a test removes and puts back."""
    root = tmp_path_factory.mktemp("copy")
    for name in COPIED:
        shutil.copytree(HOME / name, root / name, ignore=LEFT_OUT)
    for name in ALONE:
        shutil.copy2(HOME / name, root / name)
    return root


def ended(root: Path, tests: tuple[str, ...], seconds: int = SECONDS) -> Ended:
    """Run tests of a copy in a process of its own; return how each ended."""
    outcomes = root / "outcomes.json"
    outcomes.unlink(missing_ok=True)
    environment = {name: value for name, value in os.environ.items() if name not in NOT_CI}
    options = ["-q", "-p", "no:cacheprovider", "-p", "tests.guards.outcomes", "--outcomes", outcomes, "--basetemp", root / "temporary"]  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *options, *tests], cwd=root, env={**environment, "PYTHONPATH": str(root)},
        capture_output=True, text=True, timeout=seconds,
    )  # fmt: skip
    assert outcomes.exists(), done.stdout[-2000:] + done.stderr[-2000:]
    told: dict[str, Any] = json.loads(outcomes.read_text(encoding="utf-8"))
    assert told["program"] == str(root / "print3d")
    return {
        test: told["ended"].get(test, f"not run: {done.stdout[-1500:]}{done.stderr[-1500:]}")
        for test in tests
    }


@pytest.fixture(scope="module")
def sound(request: pytest.FixtureRequest, copy: Path) -> Ended:
    """How every test that this session's rows name ends on the untouched copy."""
    rows = [
        each.callspec.params["guard"]
        for each in request.session.items
        if "sound" in getattr(each, "fixturenames", ())
    ]
    return ended(copy, tuple(dict.fromkeys(test for row in rows for test in row.tests)), SECONDS * 10)


def missed(guard: Guard, root: Path) -> Ended:
    """Remove a guard, run its tests and put it back; return those that did not fail as they should, and how they ended."""
    path = root / guard.file
    original = path.read_bytes()
    path.write_text(without(guard, root), encoding="utf-8")
    try:
        found = ended(root, guard.tests)
    finally:
        path.write_bytes(original)
    wanted = {f"call: {error}" for error in ((guard.ends,) if guard.ends else OF_A_TEST)}
    return {test: end for test, end in found.items() if end not in wanted}


@pytest.mark.slow
@pytest.mark.parametrize("guard", GUARDS, ids=named)
def test_without_its_guard_a_test_fails(guard: Guard, sound: Ended, copy: Path) -> None:
    before = {test: sound[test] for test in guard.tests}
    if "skipped" in before.values():
        pytest.skip(f"left out on this machine: {before}")
    assert set(before.values()) == {"passed"}, before
    assert missed(guard, copy) == {}


PLANTED = {
    "a guard that no test misses": ("    if solids is None:", "passed"),
    "a file that cannot be imported": (
        "    import print3d.gone\n    if len(solids) != 1:",
        "call: ModuleNotFoundError",
    ),
    "a file that is no Python": ("    if len(solids) <> 1:", "not run"),
}


@pytest.mark.slow
@pytest.mark.parametrize(("instead", "end"), PLANTED.values(), ids=PLANTED)
def test_a_failure_of_another_sort_does_not_count(instead: str, end: str, copy: Path) -> None:
    test = "tests/shell/test_solid.py::test_a_solid_that_crosses_itself_is_refused"
    row = Guard(2, "planted", "print3d/shell/solid.py", "    if len(solids) != 1:", instead, (test,))
    (how,) = missed(row, copy).values()
    assert how.startswith(end), how
