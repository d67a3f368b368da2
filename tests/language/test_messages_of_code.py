"""Every message that the program's code makes has its words in every language, with the values they ask for; none is left over."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

from print3d import errors
from print3d.language.catalogue import LANGUAGES, catalogue, placeholders

PACKAGE = Path(errors.__file__).parent
REFUSAL = re.compile(r"(refusals|kinds\.\w+\.refusal)(\.\w+)+")
ERRORS = {
    name
    for name, each in vars(errors).items()
    if isinstance(each, type)
    and issubclass(each, errors.Print3dError)
    and not issubclass(each, errors.CatalogueError)
} | {"FoldError"}


class Made(NamedTuple):
    """One call that makes a message: where, its key as a pattern, whether it is spelt out, and the names of its values."""

    place: str
    pattern: str
    is_literal: bool
    names: frozenset[str]


@cache
def trees() -> dict[str, ast.Module]:
    return {
        path.relative_to(PACKAGE).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    }


def called(node: ast.AST) -> str:
    """Return the name of what a node calls."""
    function = node.func if isinstance(node, ast.Call) else None
    return function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")


def patterns(node: ast.expr) -> Iterator[tuple[str, bool]]:
    """Yield the keys that an expression can stand for, as patterns; nothing for a name that is worked out elsewhere."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield re.escape(node.value), True
    elif isinstance(node, ast.JoinedStr):
        parts = (
            re.escape(str(each.value)) if isinstance(each, ast.Constant) else r"[\w.-]+"
            for each in node.values
        )
        yield "".join(parts), False
    elif isinstance(node, ast.IfExp):
        yield from patterns(node.body)
        yield from patterns(node.orelse)


def made_in(file: str, tree: ast.Module) -> Iterator[Made]:
    for node in ast.walk(tree):
        if called(node) in ("message", "Message") and isinstance(node, ast.Call) and node.args:
            names = frozenset(each.arg for each in node.keywords if each.arg is not None)
            is_open = any(each.arg is None for each in node.keywords) or called(node) == "Message"
            for pattern, is_literal in patterns(node.args[0]):
                yield Made(f"{file}:{node.lineno}", pattern, is_literal and not is_open, names)


@cache
def all_made() -> list[Made]:
    return [made for file, tree in trees().items() for made in made_in(file, tree)]


def test_every_message_has_its_words() -> None:
    assert len(all_made()) > 100
    for language in LANGUAGES:
        known = catalogue(language)
        wanting = [
            (each.place, each.pattern)
            for each in all_made()
            if each.pattern and not any(re.fullmatch(each.pattern, key) for key in known)
        ]
        assert not wanting, language


def test_every_message_is_given_the_values_its_words_ask_for() -> None:
    wanting = [
        (each.place, sorted(missing))
        for each in all_made()
        if each.is_literal
        and (missing := placeholders(catalogue("en")[re.sub(r"\\(.)", r"\1", each.pattern)]) - each.names)
    ]
    assert not wanting


def test_no_words_of_a_refusal_are_left_over() -> None:
    made = {pattern for pattern in (each.pattern for each in all_made())}
    texts = {
        node.value
        for tree in trees().values()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    spare = [
        key
        for key in catalogue("en")
        if REFUSAL.fullmatch(key) and key not in texts and not any(re.fullmatch(each, key) for each in made)
    ]
    assert not spare


def test_every_key_of_a_refusal_in_the_code_is_one() -> None:
    texts = {
        node.value
        for tree in trees().values()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and REFUSAL.fullmatch(node.value)
    }
    assert texts <= catalogue("en").keys()


def plain_words(file: str, tree: ast.Module) -> list[str]:
    """Return where an error of the program is made from a text instead of a message."""
    return [
        f"{file}:{node.lineno}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and called(node) in ERRORS | {"Problem", "unknown_name", "refused"}
        and any(is_words(each) for each in node.args[:3])
    ]


def is_words(node: ast.expr) -> bool:
    """Whether an argument is a text with a blank in it: a sentence, no key and no value."""
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    return any(isinstance(each, ast.Constant) and " " in str(each.value) for each in parts)


def test_no_error_is_made_from_a_text() -> None:
    assert [place for file, tree in trees().items() for place in plain_words(file, tree)] == []


@pytest.mark.parametrize(
    "planted",
    [
        'raise InputError("the wall is thin")',
        'raise errors.ShapingError(f"a wall of {x} mm")',
        'Problem("wall_mm", 2, "too thin")',
    ],
)
def test_a_planted_text_is_found(planted: str) -> None:
    assert plain_words("planted.py", ast.parse(planted)) == ["planted.py:1"]


def test_a_planted_key_without_words_is_found() -> None:
    (made,) = made_in("planted.py", ast.parse('message("refusals.file.melted", at=3)'))
    assert made.is_literal
    assert not any(re.fullmatch(made.pattern, key) for key in catalogue("en"))
