"""Guards are marked where they stand, and taken out there by a rule of their kind of statement.

A line `# guard: <name>` stands above what it marks: a statement, a handler, or a part of one on a line of its own (an operand, an
element, a keyword). `without` gives the file without it:

    if ...:              its condition never holds
    except ...:          catches nothing
    with ...:            its block runs without it
    f(), x += y, raise   left out
    x = f(y, ...)        f is left out: x = y (return f(y, ...) the same); with "argument 2" its second argument
    x = a if b else c    x = c
    x = {...}            empty
    x = 2 or (1, 2)      twice that
    an operand, an element, a keyword: left out

Other ways, which the table names: "times 0.5" scales a value, "plus GPL" adds to a set or in front of a text, "receiver" makes
x = y of x = y.f(...), "silenced" lets no error of the system out of a statement.

In a file that is not Python the next line is left out, or its numbers are scaled. A document that may hold no marks is named in the
table with a word, which is misspelt.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

MARK = re.compile(r"^\s*# guard: (?P<name>.+?)\s*$")
FOLDERS, FILES = ("print3d", "tests"), ("pyproject.toml", ".ci/run", ".ci/minimum")
THIS_ROOM = Path("tests/guards")
MISSPELT = "-gone"


@dataclass(frozen=True)
class Mark:
    """Where a guard stands: its file, and the number of the marked line there."""

    name: str
    file: Path
    line: int


def marks(root: Path) -> Iterator[Mark]:
    """Yield every mark of a tree."""
    sources = (path for folder in FOLDERS for path in sorted((root / folder).rglob("*.py")))
    for path in (*sources, *(root / name for name in FILES)):
        file = path.relative_to(root)
        if not file.is_relative_to(THIS_ROOM):
            yield from marks_in(path.read_text(encoding="utf-8"), file)


def marks_in(text: str, file: Path) -> Iterator[Mark]:
    for number, line in enumerate(text.split("\n"), start=1):
        if found := MARK.match(line):
            yield Mark(found["name"], file, number + 1)


def without(text: str, mark: Mark, how: str = "") -> str:
    """Return the text of a marked file without the guard."""
    if mark.file.suffix == ".py":
        return without_node(text, mark.line, how)
    lines = text.split("\n")
    at = mark.line - 1
    if how:
        lines[at] = re.sub(
            r"\d+", lambda found: str(int(found[0]) * int(how.removeprefix("times "))), lines[at]
        )
    else:
        del lines[at]
    return "\n".join(lines)


def misspelt(text: str, word: str) -> str:
    """Return a document with a word of it misspelt, where it first stands."""
    assert word in text, f"{word!r} stands nowhere"
    return text.replace(word, word + MISSPELT, 1)


# --- Python -----------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Place:
    """A node, and where in its parent it hangs: a field, and a position if that holds several."""

    node: ast.AST
    parent: ast.AST
    field: str
    at: int | None

    def put(self, new: list[ast.AST]) -> None:
        """Put nodes in the place of this one."""
        if self.at is None:
            (only,) = new
            setattr(self.parent, self.field, only)
        else:
            getattr(self.parent, self.field)[self.at : self.at + 1] = new


def without_node(text: str, line: int, how: str) -> str:
    tree = ast.parse(text)
    source = text.split("\n")[line - 1]
    column = re.match(r"\s*(?:(?:or|and)\s+)?", source).end()  # type: ignore[union-attr]  # matches at least nothing
    here = [
        place
        for place in places(tree)
        if (_line_of(place.node), getattr(place.node, "col_offset", -1)) == (line, column)
    ]
    assert here, f"nothing begins in line {line}: {source.strip()}"
    taken_out(here[0], how)
    return ast.unparse(ast.fix_missing_locations(tree))


def _line_of(node: ast.AST) -> int:
    return getattr(node, "lineno", -1)


def places(node: ast.AST) -> Iterator[Place]:
    """Yield every place below a node, each before those inside it."""
    for field, value in ast.iter_fields(node):
        for at, child in enumerate(value) if isinstance(value, list) else ((None, value),):
            if isinstance(child, ast.AST):
                yield Place(child, node, field, at)
                yield from places(child)


def taken_out(place: Place, how: str) -> None:
    """Change the tree so that the guard at a place is missing."""
    node = place.node
    match node:
        case ast.If():
            node.test = ast.Constant(value=False)
        case ast.ExceptHandler():
            node.type = ast.Tuple(elts=[], ctx=ast.Load())
        case ast.With():
            place.put([*node.body])
        case ast.stmt() if how == "silenced":
            place.put([_silenced(node)])
        case ast.Expr() | ast.AugAssign() | ast.Raise():
            place.put([ast.Pass()])
        case ast.Assign(value=value) | ast.Return(value=ast.expr() as value):
            node.value = changed(value, how)
        case _:
            _part_taken_out(place, how)


def _part_taken_out(place: Place, how: str) -> None:
    match place.node:
        case ast.BoolOp(values=values):
            del values[0]
        case ast.keyword():
            place.put([])
        case _ if isinstance(place.parent, ast.BoolOp | ast.List | ast.Tuple | ast.Set):
            place.put([])
        case ast.Call() as call:
            place.put([changed(call, how)])
        case _:
            raise AssertionError(f"no rule for {type(place.node).__name__} in {type(place.parent).__name__}")


def changed(value: ast.expr, how: str) -> ast.expr:
    """Return what a value is without its guard."""
    way, _, by = how.partition(" ")
    match way, value:
        case "", ast.Call(args=[first, *_]):
            return first
        case "argument", ast.Call(args=arguments):
            return arguments[int(by) - 1]
        case "receiver", ast.Call(func=ast.Attribute(value=owner)):
            return owner
        case "", ast.IfExp(orelse=other):
            return other
        case "", ast.Set():
            return ast.Call(func=ast.Name(id="set", ctx=ast.Load()), args=[], keywords=[])
        case "plus", ast.Set(elts=elements):
            return ast.Set(elts=[*elements, ast.Constant(value=by)])
        case "plus", ast.Constant(value=str(words)):
            return ast.Constant(value=by + words)
        case (("" | "times"), _):
            return scaled(value, float(by or 2.0))
    raise AssertionError(f"no rule for {how!r} of {type(value).__name__}")


def scaled(value: ast.expr, factor: float) -> ast.expr:
    """Return a number, or each of several, times a factor; whole numbers stay whole."""
    if isinstance(value, ast.Tuple):
        return ast.Tuple(elts=[scaled(each, factor) for each in value.elts], ctx=ast.Load())
    if isinstance(value, ast.Constant) and isinstance(value.value, int | float):
        return ast.Constant(value=type(value.value)(value.value * factor))
    return ast.BinOp(left=value, op=ast.Mult(), right=ast.Constant(value=factor))


def _silenced(statement: ast.stmt) -> ast.stmt:
    (kept,) = ast.parse("try:\n    pass\nexcept OSError:\n    pass").body
    assert isinstance(kept, ast.Try)
    kept.body = [statement]
    return kept
