"""A test that nobody has seen fail proves nothing: every guard is taken out in turn of a copy of the tree, and its tests must fail there."""

import ast
import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.guards.marks import marks, marks_in, misspelt, without
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


# --- quick: table and marks fit ---------------------------------------------------------------------------------------------


def named(guard: Guard) -> str:
    return f"{guard.item} {guard.name}"


MARKS = {mark.name: mark for mark in marks(HOME)}
MARKED = [guard for guard in GUARDS if not guard.document]


def test_every_mark_has_one_row_and_every_row_one_mark() -> None:
    assert Counter(mark.name for mark in marks(HOME)) == Counter(guard.name for guard in MARKED)


def file_of(guard: Guard) -> Path:
    return Path(guard.document) if guard.document else MARKS[guard.name].file


def taken_out_of(guard: Guard, root: Path) -> str:
    """Return the file of a guard without it."""
    text = (root / file_of(guard)).read_text(encoding="utf-8")
    return misspelt(text, guard.word) if guard.document else without(text, MARKS[guard.name], guard.how)


@pytest.mark.parametrize("guard", GUARDS, ids=named)
def test_every_guard_can_be_taken_out(guard: Guard) -> None:
    file = file_of(guard)
    before, after = (HOME / file).read_text(encoding="utf-8"), taken_out_of(guard, HOME)
    if file.suffix != ".py":
        assert after != before
        return
    assert ast.dump(ast.parse(after)) != ast.dump(ast.parse(before))


def test_every_item_has_guards_and_every_guard_a_name_and_a_test() -> None:
    assert {guard.item for guard in GUARDS} == set(ITEMS)
    assert min(Counter(guard.item for guard in GUARDS).values()) >= 5
    assert all(guard.tests for guard in GUARDS)
    for guard in GUARDS:
        for file, function in (test.split("[")[0].split("::") for test in guard.tests):
            assert f"def {function}(" in (HOME / file).read_text(encoding="utf-8"), (
                f"{named(guard)}: {function}"
            )


# --- quick: ways in which a guard is taken out --------------------------------------------------------------------------------

WAYS = {
    "if": ("# guard: x\nif a > b:\n    c()", "", "if False:\n    c()"),
    "handler": (
        "try:\n    a()\n# guard: x\nexcept OSError as error:\n    b(error)",
        "",
        "try:\n    a()\nexcept () as error:\n    b(error)",
    ),
    "with": ("# guard: x\nwith a:\n    b()\n    c()", "", "b()\nc()"),
    "call": ("if a:\n    # guard: x\n    b()", "", "if a:\n    pass"),
    "raise": ("# guard: x\nraise a", "", "pass"),
    "its argument": ("# guard: x\na = b(c, d)", "", "a = c"),
    "another argument": ("def a():\n    # guard: x\n    return b.c(d, e)", "argument 2", "def a():\n    return e"),
    "its receiver": ("# guard: x\na = b.c(d)", "receiver", "a = b"),
    "else": ("# guard: x\na = b if c else d", "", "a = d"),
    "set": ("# guard: x\na = {1, 2}", "", "a = set()"),
    "more in a set": ("# guard: x\na = {'b'}", "plus c", "a = {'b', 'c'}"),
    "before a text": ("# guard: x\na = 'b'", "plus c", "a = 'cb'"),
    "number": ("# guard: x\na = 0.5", "", "a = 1.0"),
    "numbers": ("# guard: x\na, b = (4, 0.5)", "times 0.5", "a, b = (2, 0.25)"),
    "value": ("# guard: x\na = b + c", "times 0", "a = (b + c) * 0.0"),
    "first operand": ("a = (\n    # guard: x\n    b\n    and c\n)", "", "a = c"),
    "last operand": ("a = (\n    b\n    # guard: x\n    or c\n)", "", "a = b"),
    "element": ("a = [\n    b,\n    # guard: x\n    *c,\n]", "", "a = [b]"),
    "keyword": ("a(\n    b,\n    # guard: x\n    c=d,\n)", "", "a(b)"),
    "call in an expression": ("a = [\n    # guard: x\n    b(c)\n    for c in d\n]", "", "a = [c for c in d]"),
    "silenced": ("# guard: x\na()", "silenced", "try:\n    a()\nexcept OSError:\n    pass"),
}  # fmt: skip


@pytest.mark.parametrize(("marked", "how", "left"), WAYS.values(), ids=WAYS)
def test_a_guard_is_taken_out_by_the_rule_of_its_statement(marked: str, how: str, left: str) -> None:
    (mark,) = marks_in(marked, Path("a.py"))
    assert without(marked, mark, how) == left


def test_in_a_table_the_next_line_goes_or_its_numbers_are_scaled() -> None:
    text = 'a = 1\n# guard: x\nb = ">=1.15"\nc = 3'
    (mark,) = marks_in(text, Path("a.toml"))
    assert without(text, mark) == "a = 1\n# guard: x\nc = 3"
    assert without(text, mark, "times 2") == 'a = 1\n# guard: x\nb = ">=2.30"\nc = 3'


@pytest.mark.parametrize(
    ("marked", "how", "said"),
    [
        ("# guard: x\n\na = 1", "", "nothing begins in line 2"),
        ("# guard: x\nfor a in b:\n    c()", "", "no rule for For in Module"),
        ("# guard: x\na = b", "argument 1", "no rule for 'argument 1' of Name"),
    ],
)
def test_a_mark_without_a_rule_is_seen(marked: str, how: str, said: str) -> None:
    (mark,) = marks_in(marked, Path("a.py"))
    with pytest.raises(AssertionError, match=said):
        without(marked, mark, how)


def test_a_word_that_has_gone_is_seen() -> None:
    assert misspelt("a b b", "b") == "a b-gone b"
    with pytest.raises(AssertionError, match="'c' stands nowhere"):
        misspelt("a b", "c")


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
    """Take a guard out, run its tests and put it back; return those that did not fail as they should, and how they ended."""
    return missed_with(taken_out_of(guard, root), file_of(guard), guard, root)


def missed_with(changed: str, file: Path, guard: Guard, root: Path) -> Ended:
    path = root / file
    original = path.read_bytes()
    path.write_text(changed, encoding="utf-8")
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
    mark = MARKS["one solid"]
    lines = (copy / mark.file).read_text(encoding="utf-8").split("\n")
    lines[mark.line - 1] = instead
    row = Guard(2, "planted", ("tests/shell/test_solid.py::test_a_solid_that_crosses_itself_is_refused",))
    (how,) = missed_with("\n".join(lines), mark.file, row, copy).values()
    assert how.startswith(end), how
