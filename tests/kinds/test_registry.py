"""Kinds are found by themselves: every folder is one, each brings what belongs to it, and no other room names one."""

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest

from print3d import kinds
from print3d.inputs.model_case import PoseName
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES

HOME = Path(kinds.__path__[0])
PACKAGE = HOME.parent
FILES = {"__init__.py", "kind.py", "measures.toml", "sweep.py", *(f"words.{each}.toml" for each in LANGUAGES)}
ALSO_NAMED = {"relative_motion", "mallet"}
"""A check and a pose of a training model have the same name."""


def test_every_folder_is_a_kind_with_all_that_belongs_to_it() -> None:
    folders = {path.parent.name for path in HOME.glob("*/kind.py")}
    assert folders == set(KINDS)
    for name, kind in KINDS.items():
        assert kind.name == name
        assert {path.name for path in kind.home.iterdir() if path.is_file()} >= FILES


def named_in(text: str) -> Iterator[str]:
    """Yield every kind that a file names, as a text or by an import."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Constant) and node.value in KINDS:
            yield str(node.value)
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("print3d.kinds."):
            yield from {str(node.module).split(".")[2]} & KINDS.keys()


def test_no_other_room_names_a_kind() -> None:
    files = [path for path in PACKAGE.rglob("*.py") if HOME not in path.parents]
    assert len(files) > 200
    found = {
        (path.relative_to(PACKAGE).as_posix(), name)
        for path in files
        for name in named_in(path.read_text(encoding="utf-8"))
        if name not in ALSO_NAMED
    }
    assert found == set()


@pytest.mark.parametrize(
    "planted",
    [
        'if kind == "pip_extension":\n    pass',
        "from print3d.kinds.figure_of_eight.kind import KIND",
        'HOURS = {"dorsal_blocking": 24.0}',
    ],
)
def test_a_planted_name_is_found(planted: str) -> None:
    assert len(list(named_in(planted))) == 1


def test_names_that_are_shared_are_of_something_else() -> None:
    assert "mallet" in get_args(PoseName)
    assert (PACKAGE / "checks" / "relative_motion.py").exists()
