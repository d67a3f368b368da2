"""A list of models for a class, from CSV or TOML: each row is a model case of its own.

CSV: the first line names keys as in a model case ("case.code", "measured.ring.pip_girth_mm", "model.pose"); empty cells are left
out. TOML: a table [[models]] for each row with the tables of a model case. In both, what every row shares may stand in [defaults]
(TOML) or come from the command line.
"""

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from print3d.errors import InputError
from print3d.inputs.problems import MOST_SHOWN, OPEN, Problem, in_words, refused
from print3d.inputs.tables import Tables
from print3d.inputs.toml_file import read_text, read_toml
from print3d.inputs.typed import number_typed
from print3d.language.message import Message, message

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|\.\d+)")
MOST_ROWS = 500
"""A class has some dozens; more is some other file."""
MOST_COLUMNS = 300
"""A model case has some 120 keys."""
DEEPEST = 3
"""Parts of the longest keys of a model case."""


@dataclass(frozen=True)
class ListRow:
    """One model of a list.

    place : where it stands, for messages
    data : the tables of its case
    """

    place: str
    data: Mapping[str, object]

    @property
    def code(self) -> str:
        """Its code, or where it stands if it has none that can be read."""
        head = self.data.get("case")
        code = head.get("code") if isinstance(head, Mapping) else None
        return code if isinstance(code, str) else self.place


def read_class_list(path: Path, shared: Mapping[str, object]) -> list[ListRow]:
    """Read the rows of a list; `shared` holds tables that every row has unless it says otherwise.

    Raises InputError if the file cannot be read or holds no row. What a row says is not looked at here.
    """
    rows = _from_csv(path, shared) if path.suffix.lower() == ".csv" else _from_toml(path, shared)
    if not 0 < len(rows) <= MOST_ROWS:
        raise refused(path, message("refusals.list.rows", rows=len(rows), most_rows=MOST_ROWS))
    return rows


def _from_csv(path: Path, shared: Mapping[str, object]) -> list[ListRow]:
    text = read_text(path, "CSV")
    head = text.split("\n", 1)[0]
    separator = ";" if head.count(";") > head.count(",") else ","
    try:
        lines = list(csv.reader(text.splitlines(), delimiter=separator, strict=True))
    except csv.Error as error:
        raise refused(path, message("refusals.list.no_table", reason=str(error))) from error
    keys = [cell.strip() for cell in lines[0]] if lines else []
    if "case.code" not in keys:
        raise refused(path, message("refusals.list.no_columns"))
    _refuse_columns(path, keys)
    rows, problems = list[ListRow](), list[Problem]()
    for number, cells in enumerate(lines[1:], start=2):
        if any(cell.strip() for cell in cells[len(keys) :]):
            wanted = message("refusals.list.cells", cells=len(cells), columns=len(keys))
            problems.append(Problem("", OPEN, wanted, f"{path}, line {number}"))
        elif any(cell.strip() for cell in cells):
            given = {key: cell.strip() for key, cell in zip(keys, cells, strict=False) if cell.strip()}
            rows.append(ListRow(f"{path}, line {number}", _merged(shared, _nested(given))))
    if problems:
        raise InputError(*problems[:MOST_SHOWN])
    return rows


def _refuse_columns(path: Path, keys: Sequence[str]) -> None:
    """Raise InputError for too many columns, for two of one key, and for one that leads through another."""
    # guard: CSV: very many columns
    if len(keys) > MOST_COLUMNS:
        raise refused(path, message("refusals.list.columns", columns=len(keys), most_columns=MOST_COLUMNS))
    counts, problems = Counter(filter(None, keys)), list[Message]()
    for key, count in counts.items():
        parts = key.split(".")
        above = next((each for n in range(1, len(parts)) if (each := ".".join(parts[:n])) in counts), None)
        if count > 1:
            problems.append(message("refusals.list.twice", column=in_words(key)))
        elif len(parts) > DEEPEST:
            problems.append(message("refusals.list.deep", column=in_words(key), parts=DEEPEST))
        elif above is not None:
            problems.append(message("refusals.list.through", column=in_words(key), above=in_words(above)))
    if problems:
        raise InputError(*(Problem("", OPEN, each, str(path)) for each in problems))


def _from_toml(path: Path, shared: Mapping[str, object]) -> list[ListRow]:
    data = read_toml(path)
    models, defaults = data.get("models"), data.get("defaults", {})
    if not isinstance(models, list) or not isinstance(defaults, dict):
        raise refused(path, message("refusals.list.no_models"))
    base = _merged(shared, defaults)
    return [
        ListRow(f"{path}, model {number}", _merged(base, each) if isinstance(each, dict) else {})
        for number, each in enumerate(models, start=1)
    ]


def _nested(given: Mapping[str, str]) -> Tables:
    """Dotted keys as tables.

    A cell that reads as a number or a yes or no becomes one, except codes and notes.
    """
    tables: Tables = {}
    for key, cell in given.items():
        *path, last = key.split(".")
        table = tables
        for name in path:
            table = table.setdefault(name, {})
        table[last] = cell if path == ["case"] else _value(cell)
    return tables


def _value(cell: str) -> str | float | bool:
    if cell.lower() in ("true", "false"):
        return cell.lower() == "true"
    return number_typed(cell) if _NUMBER.fullmatch(cell) else cell


def _merged(base: Mapping[str, object], over: Mapping[str, object]) -> Tables:
    """Two sets of tables as one, what the second says going first."""
    both = dict(base)
    for key, value in over.items():
        old = both.get(key)
        both[key] = _merged(old, value) if isinstance(old, Mapping) and isinstance(value, Mapping) else value
    return both
