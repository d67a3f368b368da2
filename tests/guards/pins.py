"""The pinned numbers: what each was when somebody last looked, and where it comes from.

    python -m tests.guards.pins            what differs from pins.toml
    python -m tests.guards.pins --write    writes it anew: look at every line that changed

A number that changes on purpose changes there too, in the same commit.
"""

import ast
import re
import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from print3d.checks.finding import Limit
from print3d.checks.limits import CheckLimits
from print3d.language.message import entry_of_table
from tests.guards.numbers import ROOT, TABLES, numbers

PINS = Path(__file__).parent / "pins.toml"
HEAD = """# Every number that a verdict, an angle or a word to a therapist hangs on: what it is, and where it comes from.
# A number that changes on purpose changes here too: python -m tests.guards.pins --write, then read what changed.
"""
NO_SINGLE = "where the code says no more: common practice, no single source"


def pinned() -> dict[str, tuple[float, str]]:
    """Return name -> number and source, as they are recorded."""
    table = tomllib.loads(PINS.read_text(encoding="utf-8"))
    return {f"{group}: {key}": (row[0], row[1]) for group, rows in table.items() for key, row in rows.items()}


def differences() -> list[str]:
    """Return what the program has otherwise than recorded, each number by its name."""
    now, then = numbers(), pinned()
    changed = [
        f"{name}: {then[name][0]:g} is recorded ({then[name][1]}), {now[name]:g} is found"
        for name in now
        if name in then and abs(now[name] - then[name][0]) > 1e-9 * max(1.0, abs(now[name]))
    ]
    return [
        *changed,
        *(f"{name} = {now[name]:g} is not recorded" for name in now if name not in then),
        *(f"{name} is recorded and is no more" for name in then if name not in now),
    ]


def source_of(name: str) -> str:
    """Return where a number comes from, as the program says beside it."""
    group, _, key = name.partition(": ")
    path = next((ROOT / each for each in TABLES if Path(each).stem == group), None)
    if path is not None:
        return _source_in(tomllib.loads(path.read_text(encoding="utf-8")), key)
    if group == "limits":
        default = CheckLimits.__dataclass_fields__[re.split(r"[.\[]", key)[0]].default
        limit = default if isinstance(default, Limit) else default[0]
        return str(limit.source.said("en"))
    if group == "skin limits" or group.startswith("limits of "):
        return "worked out by checks/limits.py from the numbers above and the worked case"
    module = ROOT / f"{group.replace('.', '/')}.py"
    reason = _reasons(module).get(re.split(r"[.\[]", key)[0], "") if module.exists() else ""
    return " ".join(reason.split()) or NO_SINGLE


def _source_in(table: Mapping[str, Any], key: str) -> str:
    """The nearest source around a number in a table of data, with its mark."""
    found, place = NO_SINGLE, table
    for step in re.split(r"\.(?![^\[]*\])", key):
        if "source" in place:
            found = _with_mark(place)
        inner = place.get(re.sub(r"\[\d+\]", "", step))
        if not isinstance(inner, Mapping):
            break
        place = inner
    return _with_mark(place) if "source" in place else found


def _with_mark(table: Mapping[str, Any]) -> str:
    mark = table.get("mark", "")
    shown = mark if isinstance(mark, str) else "marks differ, see there"
    source = str(table["source"])
    said = entry_of_table(source).said("en") if re.fullmatch(r"[a-z_.]+", source) else source
    return f"{said}; {shown}" if shown else said


def _reasons(path: Path) -> dict[str, str]:
    """Constant -> the string that stands below it."""
    found = {}
    body = ast.parse(path.read_text(encoding="utf-8")).body
    for one, after in zip(body, body[1:], strict=False):
        targets = (
            one.targets
            if isinstance(one, ast.Assign)
            else [one.target]
            if isinstance(one, ast.AnnAssign)
            else []
        )
        if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
            found |= {each.id: str(after.value.value) for each in targets if isinstance(each, ast.Name)}
    return found


def written() -> Iterator[str]:
    """Yield the lines of the record as it would be now."""
    yield HEAD
    group = ""
    for name, number in numbers().items():
        here, _, key = name.partition(": ")
        if here != group:
            group = here
            yield f'\n["{group}"]'
        yield f"{_quoted(key)} = [{number!r}, {_quoted(source_of(name))}]"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


if __name__ == "__main__":
    if "--write" in sys.argv:
        PINS.write_text("\n".join(written()) + "\n", encoding="utf-8")
    for difference in differences():
        sys.stdout.write(f"{difference}\n")
