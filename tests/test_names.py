"""Names and words of the code: each class name once, a reason for each number, short first lines, plain words."""

import ast
import io
import re
import tokenize
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "print3d"
REPEATED = ("case.case", "mesh.mesh")
MOST_WORDS = 20
"""Of the first line of a docstring; own choice."""
OLD_WORDS = ("nought", "so many", "so much", "told as", "is told", "are told", "was told", "be told")
"""Words that comments and docstrings do without."""


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
    assert [(file, name) for file, text in files().items() for name in REPEATED if name in text] == []


# --- numbers ----------------------------------------------------------------------------------------------------------


def is_numeric(node: ast.expr) -> bool:
    """Whether an expression is made of nothing but numbers: one, several, or an array or table of them."""
    match node:
        case ast.Constant(value=value):
            return isinstance(value, int | float) and not isinstance(value, bool)
        case ast.UnaryOp(operand=operand):
            return is_numeric(operand)
        case ast.BinOp(left=left, right=right):
            return is_numeric(left) and is_numeric(right)
        case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Dict(values=parts):
            return bool(parts) and all(map(is_numeric, parts))
        case ast.Call(func=ast.Attribute(), args=parts, keywords=[]):  # np.array, np.linspace ...
            return bool(parts) and all(map(is_numeric, parts))
    return False


def is_sentence(node: ast.stmt | None) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def bad_numbers(text: str) -> list[str]:
    """Return the lines of numeric constants that stand beside another one in a line, or without a reason below or beside them."""
    found, lines, body = [], text.splitlines(), ast.parse(text).body
    for node, after in zip(body, [*body[1:], None], strict=True):
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if (
            not isinstance(node, ast.Assign | ast.AnnAssign)
            or node.value is None
            or not is_numeric(node.value)
        ):
            continue
        has_comment = any("#" in line for line in lines[node.lineno - 1 : node.end_lineno])
        if len(targets) > 1 or isinstance(targets[0], ast.Tuple) or not (is_sentence(after) or has_comment):
            found.append(lines[node.lineno - 1])
    return found


def test_every_number_has_a_line_and_a_reason() -> None:
    assert [(file, line) for file, text in files().items() for line in bad_numbers(text)] == []


@pytest.mark.parametrize(
    ("text", "is_bad"),
    [
        ("A_MM = 1.0", True),
        ("A_MM, B_MM = 1.0, 2.0\n'''Both; own choice.'''", True),
        ("A = B = 2\n'''Own choice.'''", True),
        ("A_MM: float = -1.0\nB_MM = 2.0\n'''Own choice.'''", True),
        ("A = {'ring': 1.2, 'finger': 1.8}", True),
        ("A = np.array([1.0, 0.0, 0.0])", True),
        ("A_MM = 1.0\n'''Own choice.'''", False),
        ("A_MM = 1.0  # own choice", False),
        ("A = np.array([1.0, 0.0, 0.0])  # x", False),
        ("NAME = 'ring'", False),
        ("def f():\n    a = 1.0", False),
    ],
)
def test_a_planted_number_is_found(text: str, is_bad: bool) -> None:
    assert bool(bad_numbers(text)) is is_bad


# --- words ------------------------------------------------------------------------------------------------------------


def docstrings(text: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
            yield from filter(None, [ast.get_docstring(node)])


def prose(text: str) -> Iterator[str]:
    """Yield every comment, and every string that stands as a statement of its own."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Expr) and is_sentence(node):
            yield ast.literal_eval(node.value)
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT:
            yield token.string


def long_first_lines(text: str) -> list[str]:
    """Return the first lines of docstrings that are long, or no sentence of their own."""
    first = [each.splitlines()[0] for each in docstrings(text)]
    return [line for line in first if len(line.split()) > MOST_WORDS or not line.endswith((".", ":", "?"))]


def old_words(text: str) -> list[str]:
    plain = [re.sub(r"\s+", " ", each) for each in prose(text)]
    return [each for each in plain for word in OLD_WORDS if re.search(rf"\b{word}\b", each, re.IGNORECASE)]


def test_first_lines_are_short_sentences() -> None:
    assert [(file, line) for file, text in files().items() for line in long_first_lines(text)] == []


def test_words_are_plain() -> None:
    assert [(file, each) for file, text in files().items() for each in old_words(text)] == []


def test_planted_words_are_found() -> None:
    assert long_first_lines(f"'''{' word' * 21}.'''")
    assert long_first_lines("def f():\n    '''A sentence that goes on\n    over two lines.'''")
    assert not long_first_lines("'''One short sentence.\n\nAnd then more of it.'''")
    assert old_words("A = 1\n'''After so\nmany rounds.'''")
    assert old_words("a = 1  # none below nought")
    assert not old_words("print('so many')")
