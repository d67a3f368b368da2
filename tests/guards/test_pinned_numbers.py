"""Every number that is pinned is changed by a tenth, up and down, in a copy of the tree: a quick test must fail and name it."""

import ast
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.guards.numbers import MODULES, TABLES

HOME = Path(__file__).parents[2]
COPIED = ("print3d", "tests", "params")
PINS_TEST = "tests/test_pins.py"
WHOLE = ("checks.limits",)
"""Of these files numbers inside functions are changed too; those of others are held by the tests of what they work out."""
NO_FIGURES = ("order", "ORDER")
FILES = [
    *(f"print3d/{name.replace('.', '/')}.py" for name in MODULES),
    *(f"print3d/{name}" for name in TABLES),
]
NUMBER = re.compile(r"(?<![\w.\"'-])-?\d+(?:\.\d+)?(?![\w.\"'])")


def planted(file: str) -> Iterator[tuple[str, str]]:
    """Yield what was changed and the text of the file with it, for each of its numbers twice."""
    text = (HOME / file).read_text(encoding="utf-8")
    places = _in_code(text, file) if file.endswith(".py") else _in_table(text)
    for start, stop in places:
        number = text[start:stop]
        for share in (0.9, 1.1):
            line = text.count("\n", 0, start) + 1
            other = _changed(number, share)
            yield f"{file}:{line} {number} -> {other}", text[:start] + other + text[stop:]


def _changed(number: str, share: float) -> str:
    if "." in number or "e" in number:
        return repr(float(number) * share)
    whole = int(number)
    return str(whole + (1 if share > 1.0 else -1) * max(1, round(0.1 * abs(whole))))


def _in_table(text: str) -> Iterator[tuple[int, int]]:
    """Places of the numbers of a TOML file, without those in texts, comments and names."""
    bare = re.sub(r'"(?:\\.|[^"\\])*"|#[^\n]*|^\[[^\]]*\]$', lambda m: "_" * len(m.group()), text, flags=re.M)
    for found in NUMBER.finditer(bare):
        key = bare[bare.rfind("\n", 0, found.start()) + 1 : found.start()].split("=")[0].strip()
        if float(found.group()) != 0.0 and key not in NO_FIGURES:
            yield found.span()


def _in_code(text: str, file: str) -> Iterator[tuple[int, int]]:
    """Places of the numbers of constants and fields of a module, of the whole module where limits are made in functions."""
    tree = ast.parse(text)
    starts = [0, *(found.end() for found in re.finditer("\n", text))]
    is_whole = any(file.endswith(f"{name.replace('.', '/')}.py") for name in WHOLE)
    asked = (
        [tree] if is_whole else [each for each in tree.body if isinstance(each, ast.Assign | ast.AnnAssign)]
    )
    for statement in asked:
        for node in ast.walk(statement):
            if (
                not isinstance(node, ast.Constant)
                or isinstance(node.value, bool | str | bytes)
                or not node.value
            ):
                continue
            place = len(text.splitlines()[node.lineno - 1].encode()[: node.col_offset].decode())
            start = starts[node.lineno - 1] + place
            stop = start + len(ast.get_source_segment(text, node) or "")
            line = text[starts[node.lineno - 1] :].split("\n", 1)[0]
            if isinstance(node.value, int | float) and not line.startswith(NO_FIGURES):
                yield start, stop


def test_numbers_are_found_where_they_stand() -> None:
    assert [what.split(" ", 1)[1] for what, _ in planted("print3d/checks/limits.py") if "SAFETY" in _line(what)] == [
        "2.0 -> 1.8", "2.0 -> 2.2",
    ]  # fmt: skip
    for file in ("print3d/checks/limits.py", "print3d/inputs/data/materials.toml"):
        for what, text in planted(file):
            assert text != (HOME / file).read_text(encoding="utf-8"), what
            if file.endswith(".toml"):
                tomllib.loads(text)
            else:
                ast.parse(text)


def _line(what: str) -> str:
    file, line = what.split(" ", 1)[0].split(":")
    return (HOME / file).read_text(encoding="utf-8").splitlines()[int(line) - 1]


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Iterator["subprocess.Popen[str]"]:
    """A process that runs the quick test in a copy of the tree."""
    root = tmp_path_factory.mktemp("copy")
    for name in COPIED:
        shutil.copytree(
            HOME / name, root / name, ignore=shutil.ignore_patterns("node_modules", "__pycache__")
        )
    shutil.copy2(HOME / "pyproject.toml", root / "pyproject.toml")
    kept = {key: value for key, value in os.environ.items() if not key.startswith("PYTEST")}
    call = [sys.executable, "-m", "tests.guards.planter", PINS_TEST]
    env = {**kept, "PYTHONPATH": str(root), "PYTHONDONTWRITEBYTECODE": "1"}
    with subprocess.Popen(
        call, cwd=root, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        yield process
        process.kill()


def answer(process: "subprocess.Popen[str]", file: str, text: str) -> list[str]:
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(json.dumps([file, text]) + "\n")
    process.stdin.flush()
    return list(json.loads(process.stdout.readline()))


@pytest.mark.slow
def test_nothing_fails_where_nothing_was_changed(copy: "subprocess.Popen[str]") -> None:
    assert answer(copy, FILES[0], (HOME / FILES[0]).read_text(encoding="utf-8")) == []


@pytest.mark.slow
@pytest.mark.parametrize("file", FILES)
def test_a_number_changed_by_a_tenth_is_found(file: str, copy: "subprocess.Popen[str]") -> None:
    survivors = [what for what, text in planted(file) if not answer(copy, file, text)]
    assert survivors == []
