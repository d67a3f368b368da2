"""Figures of the house: how large its rooms are, who leans on whom, and what is left to be named.

    python -m tests.house

A docstring counts as no line of a function's body. Bounds that are kept stand in `test_house.py`.
"""

import ast
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from statistics import median

HOME = Path(__file__).parents[1]
ROOT = HOME / "print3d"
LINES_AT_THE_START = 30_783
"""Lines of the product before it became one house of rooms."""
LONGEST_LIST = 10


@dataclass(frozen=True)
class File:
    """One file of the product."""

    name: str
    text: str

    @property
    def room(self) -> str:
        return self.name.split("/")[0] if "/" in self.name else "(root)"

    @property
    def module(self) -> str:
        parts = ("print3d", *self.name.removesuffix(".py").split("/"))
        return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text)

    @property
    def n_lines(self) -> int:
        return self.text.count("\n")


@cache
def files() -> list[File]:
    return [
        File(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
        for path in sorted(ROOT.rglob("*.py"))
    ]


def rooms() -> dict[str, list[File]]:
    found = defaultdict(list)
    for file in files():
        found[file.room].append(file)
    return dict(found)


# --- bodies -----------------------------------------------------------------------------------------------------------------


def body_lines(file: File) -> Iterator[tuple[int, str]]:
    """Yield the lines of every function's body, and where it stands."""
    for node in ast.walk(file.tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            last = node.end_lineno or node.lineno
            yield (last - body[0].lineno + 1 if body else 0), f"{file.name}:{node.lineno} {node.name}"


def tenth(values: list[int]) -> int:
    """Return the value that one in ten exceeds."""
    return sorted(values)[int(0.9 * (len(values) - 1))]


# --- imports ----------------------------------------------------------------------------------------------------------------


@cache
def imports() -> dict[str, frozenset[str]]:
    """Return each module with the modules of the product that it imports, in functions too."""
    modules = {file.module for file in files()}
    return {file.module: frozenset(_imported(file, modules) - {file.module}) for file in files()}


def _imported(file: File, modules: set[str]) -> set[str]:
    named = set()
    for node in ast.walk(file.tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            named |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            named |= {alias.name for alias in node.names}
    found = named & modules
    return {each for each in found if not any(other.startswith(each + ".") for other in found)}


def fan_in() -> Counter[str]:
    return Counter(each for imported in imports().values() for each in imported)


def circles(graph: dict[str, frozenset[str]]) -> list[list[str]]:
    """Return the groups of modules each of which imports every other one, by way of others or not."""
    reached = {module: _reached(graph, module) for module in graph}
    groups = {
        tuple(sorted(each for each in there if module in reached[each]))
        for module, there in reached.items()
        if module in there
    }
    return [list(group) for group in sorted(groups)]


def _reached(graph: dict[str, frozenset[str]], start: str) -> set[str]:
    reached: set[str] = set()
    waiting = [*graph.get(start, ())]
    while waiting:
        module = waiting.pop()
        if module not in reached:
            reached.add(module)
            waiting += graph.get(module, ())
    return reached


# --- what is left to be named -------------------------------------------------------------------------------------------------


def classes() -> Counter[str]:
    return Counter(
        node.name for file in files() for node in ast.walk(file.tree) if isinstance(node, ast.ClassDef)
    )


def twice() -> list[str]:
    return sorted(name for name, count in classes().items() if count > 1)


@cache
def limb_classes() -> frozenset[str]:
    """Return the names of all classes of the room of limbs, and of the unions of them."""
    names = set()
    for file in files():
        if file.room == "limb":
            names |= {node.name for node in file.tree.body if isinstance(node, ast.ClassDef)}
    return frozenset(names)


def asked_of_limbs(file: File, limbs: frozenset[str]) -> Iterator[str]:
    """Yield every place where a file asks which limb it has: isinstance, or a pattern of a match."""
    for node in ast.walk(file.tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "isinstance":
            asked = node.args[1]
        elif isinstance(node, ast.MatchClass):
            asked = node.cls
        else:
            continue
        if limbs & {each.id for each in ast.walk(asked) if isinstance(each, ast.Name)}:
            yield f"{file.name}:{asked.lineno}"


def limbs_asked() -> list[str]:
    return [each for file in files() if file.room != "limb" for each in asked_of_limbs(file, limb_classes())]


def anys(file: File) -> int:
    """How often a file says `Any`, its imports aside."""
    return sum(isinstance(node, ast.Name) and node.id == "Any" for node in ast.walk(file.tree))


def unreasoned(file: File) -> Iterator[str]:
    """Yield every numeric constant of a file with neither a text below it nor a comment on its line or above."""
    lines = file.text.split("\n")
    body = file.tree.body
    for node, after in zip(body, [*body[1:], None], strict=True):
        if not isinstance(node, ast.Assign | ast.AnnAssign) or not _is_numeric(node.value):
            continue
        has_text = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        beside = [lines[node.lineno - 2], *lines[node.lineno - 1 : node.end_lineno]]
        has_comment = any(" # " in line or line.startswith("#") for line in beside)
        if not has_text and not has_comment:
            yield f"{file.name}:{node.lineno}"


def _is_numeric(value: ast.expr | None) -> bool:
    """Whether a value is a number, a sum or product of numbers, or several of them."""
    if isinstance(value, ast.Tuple):
        return bool(value.elts) and all(map(_is_numeric, value.elts))
    if isinstance(value, ast.UnaryOp):
        return _is_numeric(value.operand)
    if isinstance(value, ast.BinOp):
        return _is_numeric(value.left) and _is_numeric(value.right)
    return isinstance(value, ast.Constant) and type(value.value) in (int, float)


# --- printed ------------------------------------------------------------------------------------------------------------------


def report() -> Iterator[str]:
    yield from _sizes()
    yield ""
    yield from _leaning()
    yield ""
    yield from _to_name()


def _sizes() -> Iterator[str]:
    yield f"{'room':12} {'files':>6} {'lines':>7} {'median':>7} {'max':>5}   body median/p90/max"
    for room, inside in [*sorted(rooms().items()), ("all", files())]:
        lengths = [file.n_lines for file in inside]
        bodies = [count for file in inside for count, _ in body_lines(file)]
        shown = f"{median(bodies):.0f}/{tenth(bodies)}/{max(bodies)}" if bodies else "-"
        yield f"{room:12} {len(inside):6} {sum(lengths):7} {median(lengths):7.0f} {max(lengths):5}   {shown}"
    lines = sum(file.n_lines for file in files())
    yield f"product lines: {lines}, {lines - LINES_AT_THE_START:+} against {LINES_AT_THE_START} at the start"


def _leaning() -> Iterator[str]:
    top = fan_in().most_common(LONGEST_LIST)
    yield "fan-in: " + ", ".join(f"{name.removeprefix('print3d.')} {count}" for name, count in top)
    found = circles(imports())
    yield f"circles: {len(found)}" + "".join(f"\n    {' <-> '.join(group)}" for group in found)


def _to_name() -> Iterator[str]:
    yield _counted("limbs asked for their class outside limb/", limbs_asked())
    by_room = {room: sum(map(anys, inside)) for room, inside in rooms().items()}
    yield f"Any: {sum(by_room.values())}, " + ", ".join(f"{room} {n}" for room, n in by_room.items() if n)
    yield _counted("class names twice", twice())
    without_reason = [each for file in files() for each in unreasoned(file)]
    yield f"numeric constants without a reason: {len(without_reason)}"


def _counted(what: str, places: list[str]) -> str:
    return f"{what}: {len(places)}" + (f" ({', '.join(places[:LONGEST_LIST])} ...)" if places else "")


if __name__ == "__main__":
    print("\n".join(report()))
