"""Keys of a case file that have another name now.

The old ones are taken for one version, with a line that says the new one.
"""

from collections.abc import Iterator, Mapping
from copy import deepcopy
from typing import NamedTuple

from print3d.inputs.problems import Problem
from print3d.inputs.tables import Tables
from print3d.language.message import Message, message

NEW_KEYS: Mapping[str, str] = {
    "orthosis.squeeze": "orthosis.soft_tissue_compression",
}
"""Old dotted key of a value or a table -> new one; those of one version, to be emptied with the next."""


class Renewed(NamedTuple):
    """The tables of a file with the keys of today.

    notes : which old keys were given, and what they are called now
    problems : old keys that were given beside the new ones
    """

    data: Tables
    notes: tuple[Message, ...]
    problems: tuple[Problem, ...]


def renewed(data: Mapping[str, object], new_keys: Mapping[str, str] = NEW_KEYS) -> Renewed:
    """Return the tables of a file with today's names for what it calls by old ones."""
    if not any(_has(data, old) for old in new_keys):
        return Renewed(dict(data), (), ())
    tables: Tables = deepcopy(dict(data))
    notes, problems = list[Message](), list[Problem]()
    for old, new in new_keys.items():
        *path, name = old.split(".")
        table = _table(tables, path)
        if table is None or name not in table:
            continue
        value = table.pop(name)
        *new_path, new_name = new.split(".")
        home = _table(tables, new_path)
        if home is None or new_name in home:
            problems.append(Problem(old, value, message("refusals.old_key.both", new=new)))
            continue
        home[new_name] = value
        notes += [
            message("refusals.old_key.now", old=f"{old}{inner}", new=f"{new}{inner}")
            for inner in _leaves(value)
        ]
    return Renewed(tables, tuple(notes), tuple(problems))


def _has(data: Mapping[str, object], key: str) -> bool:
    *path, name = key.split(".")
    table = _table(dict(data), path)
    return table is not None and name in table


def _table(tables: Tables, path: list[str]) -> Tables | None:
    """Return the table at a path, or None if there is none."""
    found: object = tables
    for name in path:
        found = found.get(name) if isinstance(found, dict) else None
    return found if isinstance(found, dict) else None


def _leaves(value: object, key: str = "") -> Iterator[str]:
    """Yield the rest of the key of every value in a table, "" for a plain value."""
    if not isinstance(value, Mapping):
        yield key
        return
    for name, inner in value.items():
        yield from _leaves(inner, f"{key}.{name}")
