"""Names and words of the code: each class name once, the field's terms, a reason for each number, plain sentences."""

import ast
from collections import Counter
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1] / "print3d"

OLD_NAMES = ("case.case", "mesh.mesh")


@cache
def files() -> dict[str, str]:
    found = {
        path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in ROOT.rglob("*.py")
    }
    assert len(found) > 200
    return found


def classes(text: str) -> list[str]:
    return [node.name for node in ast.walk(ast.parse(text)) if isinstance(node, ast.ClassDef)]


def test_each_class_name_stands_once() -> None:
    count = Counter(name for text in files().values() for name in classes(text))
    assert [name for name, times in count.items() if times > 1] == []


def test_no_attribute_repeats_its_owner() -> None:
    assert [(file, name) for file, text in files().items() for name in OLD_NAMES if name in text] == []
