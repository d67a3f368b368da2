"""The house keeps to its measure, and tests lie in the rooms of what they test. `python -m tests.house` prints all figures."""

import pytest

from tests import house
from tests.house import (
    File,
    anys,
    asked_of_limbs,
    body_lines,
    circles,
    files,
    imports,
    limbs_asked,
    twice,
    unreasoned,
)

LONGEST_BODY, LONGEST_FILE = 50, 400
ANYS = 40
"""Uses of `Any` that are left, most of them at untyped libraries; the number only falls."""

NO_ROOMS = {"benchmarks", "faults", "guards", "installed", "sweep", "toys", "unchanged", "validation"}
"""Folders of tests that ask the whole program, or compare it with others."""
OF_THE_WHOLE = {
    "__init__",
    "conftest",
    "house",
    "licences",
    "params_reference",
    "readme_kinds",
    "readme_pictures",
    "shaped",
    "taped",
}


def test_functions_and_files_are_short() -> None:
    lengths = [each for file in files() for each in body_lines(file)]
    assert len(lengths) > 1500
    assert [each for each in lengths if each[0] > LONGEST_BODY] == []
    assert [file.name for file in files() if file.n_lines > LONGEST_FILE] == []


def test_nothing_imports_in_circles() -> None:
    assert circles(imports()) == []


def test_limbs_are_not_asked_for_their_class() -> None:
    assert limbs_asked() == []


def test_types_are_given() -> None:
    assert sum(map(anys, files())) <= ANYS


def test_a_class_has_a_name_of_its_own() -> None:
    assert twice() == []


def test_numbers_have_a_reason() -> None:
    assert [each for file in files() for each in unreasoned(file)] == []


def test_tests_lie_in_the_rooms_of_the_program() -> None:
    """A folder of tests is one of the program, at any depth; what lies at the root asks the whole."""
    here = house.HOME / "tests"
    tested = {path.parent.relative_to(here) for path in here.rglob("*.py")}
    assert [
        str(path)
        for path in tested
        if path.parts and path.parts[0] not in NO_ROOMS and not (house.ROOT / path).is_dir()
    ] == []
    loose = {path.stem for path in here.glob("*.py") if not path.stem.startswith("test_")}
    assert loose == OF_THE_WHOLE


# --- planted ------------------------------------------------------------------------------------------------------------------


def test_a_docstring_is_no_line_of_a_body() -> None:
    text = 'def a():\n    """One.\n\n    Two.\n    """\n    b = 1\n\n    return b\n'
    assert [n for n, _ in body_lines(File("a.py", text))] == [3]
    assert [n for n, _ in body_lines(File("a.py", 'def a():\n    """One."""\n'))] == [0]


def test_a_planted_circle_is_found() -> None:
    graph = {"a": {"b"}, "b": {"c"}, "c": {"b", "d"}, "d": {"a"}, "e": {"a"}, "f": {"e"}}
    assert circles({name: frozenset(there) for name, there in graph.items()}) == [["a", "b", "c", "d"]]
    assert circles({"a": frozenset({"b", "c"}), "b": frozenset({"c"}), "c": frozenset()}) == []


@pytest.mark.parametrize(
    ("text", "n"),
    [
        ("isinstance(a, Hand)", 1),
        ("isinstance(a, Hand | int)", 1),
        ("isinstance(a, (int, Hand))", 1),
        ("match a:\n    case Hand():\n        pass", 1),
        ("isinstance(a, int)", 0),
        ("Hand(a)", 0),
    ],
)
def test_a_limb_that_is_asked_for_its_class_is_found(text: str, n: int) -> None:
    assert len([*asked_of_limbs(File("a.py", text), frozenset({"Hand"}))]) == n


def test_any_is_counted_where_it_is_said() -> None:
    assert anys(File("a.py", "from typing import Any\ndef a(b: Any) -> dict[str, Any]: ...")) == 2


@pytest.mark.parametrize(
    ("text", "n"),
    [
        ("A_MM = 1.5\n", 1),
        ("A, B = 1, -2\n", 1),
        ("A = 3 * 60.0\nB = 1", 2),
        ('A = 1.5\n"""Why."""\n', 0),
        ("A = 1.5  # why\n", 0),
        ("# why\nA = 1.5\n", 0),
        ("A = True\nB = a(1)\nC = {1}\n", 0),
    ],
)
def test_a_number_without_a_reason_is_found(text: str, n: int) -> None:
    assert len([*unreasoned(File("a.py", text))]) == n
