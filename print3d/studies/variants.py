"""Variants of a case: any of its keys, set to each of several values.

    --vary wall_mm=2,2.5,3 --vary print.material=petg,pla      a full grid: 6 variants
    the same with --paired                                      first with first, second with second

Values are written as in a case file; a single word needs no quotes. A key without its table is one of [orthosis].
"""

import itertools
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from math import prod
from pathlib import Path

from print3d.errors import InputError, Sayable
from print3d.inputs.case import Case
from print3d.inputs.case_file import CaseFile, Kinds, case_file_model, case_from_data
from print3d.inputs.libraries import Libraries
from print3d.inputs.materials import read_materials, read_printers
from print3d.inputs.problems import OPEN, Problem, in_words, printable, refused, without_file
from print3d.inputs.rules import print_problems
from print3d.inputs.tables import Tables
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import validate
from print3d.language.message import message

VARY = "--vary"
MOST_VARIANTS = 20_000
"""More than this is a slip in a grid: a night on 2 cores."""

Values = Mapping[str, object]
"""Dotted key -> value."""


@dataclass(frozen=True)
class Vary:
    """One key and the values it takes in turn."""

    key: str
    values: tuple[object, ...]


@dataclass(frozen=True)
class Variant:
    """One case of a comparison.

    source, code : of the case it varies
    values : what was set
    case : the case, or None if it contradicts itself
    problems : why there is no case
    """

    source: Path
    code: str
    values: Values
    case: Case | None
    problems: tuple[Sayable, ...] = ()

    @property
    def title(self) -> str:
        """What was set, as it would stand in a case file, with the last part of each key."""
        set_to = ", ".join(
            f"{key.rpartition('.')[2]} = {in_words(value)}" for key, value in self.values.items()
        )
        return set_to or "as in the file"


def read_vary(text: str) -> Vary:
    """Read one `key=a,b,c`. Raises InputError if it is none."""
    key, sign, values = text.partition("=")
    if not (sign and key.strip() and values.strip()):
        raise InputError(Problem(VARY, text, message("refusals.vary.write")))
    found = tuple(_value(text, each) for each in _split(values))
    if len({in_words(each) for each in found}) < len(found):
        raise InputError(Problem(VARY, text, message("refusals.vary.value_twice")))
    return Vary(_full_key(key.strip()), found)


def read_variants(
    paths: Sequence[Path], varied: Sequence[Vary], kinds: Kinds, *, paired: bool
) -> list[Variant]:
    """Read every case with every combination of values.

    Paired, they are the first of each, the second of each and so on.

    Values that contradict each other make a variant without a case. Raises InputError with every problem of keys and
    values that are wrong in themselves, and where no variant is left.
    """
    _refuse_twice(varied)
    counts = [len(each.values) for each in varied]
    count = len(paths) * (max(counts, default=1) if paired else prod(counts))
    # guard: a grid is counted before it is made
    if count > MOST_VARIANTS:
        raise InputError(Problem(VARY, OPEN, message("refusals.vary.many", count=count, most=MOST_VARIANTS)))
    rows = _paired(varied) if paired else _grid(varied)
    variants, refusals = [], dict[str, Sayable]()
    for path in paths:
        data = read_toml(path)
        for values in rows:
            variant, wrong = _variant(path, with_values(data, values, path), values, kinds)
            variants.append(variant)
            refusals.update(_by_text(wrong))
    if refusals:
        raise InputError(*refusals.values())
    if all(variant.case is None for variant in variants):
        raise InputError(*_by_text(each for variant in variants for each in variant.problems).values())
    return variants


def _by_text(problems: Iterable[Sayable]) -> dict[str, Sayable]:
    """Problems by what they say: several variants may have the same one."""
    return {each.said("en"): each for each in problems}


def with_values(data: Tables, values: Values, source: Path) -> Tables:
    """Return the tables of a case file with some keys set.

    Raises InputError where a key leads through a plain value.
    """
    changed = deepcopy(data)
    for key, value in values.items():
        *tables, name = key.split(".")
        table = changed
        for depth, each in enumerate(tables, 1):
            table = table.setdefault(each, {})
            if not isinstance(table, dict):
                wanted = message("refusals.vary.no_table", table=printable(".".join(tables[:depth])))
                raise refused(source, wanted, printable(key))
        table[name] = value
    return changed


def _variant(path: Path, data: Tables, values: Values, kinds: Kinds) -> tuple[Variant, list[Sayable]]:
    """One variant, and the problems of values that no other value could mend."""
    head = data.get("case")
    code = str(head.get("code", "")) if isinstance(head, dict) else ""
    try:
        return Variant(path, code, values, case_from_data(data, kinds, path)), []
    except InputError as error:
        lasting = {each.of(path).said() for each in _wrong_in_themselves(data, kinds, path)}
        wrong = [each for each in error.problems if each.said("en") in lasting]
        return Variant(path, code, values, None, without_file(error)), wrong


def _wrong_in_themselves(data: Tables, kinds: Kinds, source: Path) -> Iterator[Problem]:
    """Problems of single keys and values, unknown names of files among them.

    What only contradicts another value is none of them.
    """
    result = validate(case_file_model(kinds), data)
    yield from (problem for problem in result.problems if problem.key not in result.given)
    own = Libraries.beside(source)
    materials, printers = read_materials(own.materials), read_printers(own.printers)
    known = {"print.material": materials, "print.printer": printers}
    for problem in print_problems(result.given, materials, printers):
        if problem.found not in known[problem.key]:
            yield problem


def _refuse_twice(varied: Sequence[Vary]) -> None:
    keys = [each.key for each in varied]
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        raise InputError(Problem(VARY, twice, message("refusals.vary.key_twice")))


def _grid(varied: Sequence[Vary]) -> list[Values]:
    keys = [each.key for each in varied]
    return [dict(zip(keys, row, strict=True)) for row in itertools.product(*(each.values for each in varied))]


def _paired(varied: Sequence[Vary]) -> list[Values]:
    counts = {each.key: len(each.values) for each in varied}
    if len(set(counts.values())) > 1:
        listed = ", ".join(f"{printable(key)}: {count}" for key, count in counts.items())
        raise InputError(Problem("--paired", OPEN, message("refusals.vary.paired", counts=listed)))
    keys = list(counts)
    return [
        dict(zip(keys, row, strict=True)) for row in zip(*(each.values for each in varied), strict=True)
    ] or [{}]


def _full_key(key: str) -> str:
    """A key with its table: [orthosis] where none is named."""
    return key if key.split(".")[0] in CaseFile.model_fields else f"orthosis.{key}"


def _split(values: str) -> list[str]:
    """Cut a text at its commas, those inside brackets and quotes left alone."""
    pieces, depth, quote = [""], 0, ""
    for sign in values:
        if quote or sign in "\"'":
            quote = "" if sign == quote else (quote or sign)
        depth += (sign in "[{") - (sign in "]}") if not quote else 0
        if sign == "," and depth == 0 and not quote:
            pieces.append("")
        else:
            pieces[-1] += sign
    return [piece.strip() for piece in pieces]


def _value(text: str, piece: str) -> object:
    """A value as in a case file; what is no TOML is a text."""
    if not piece:
        raise InputError(Problem(VARY, text, message("refusals.vary.value_missing")))
    try:
        table = tomllib.loads(f"value = {piece}")
    except (
        # guard: odd values of a variation
        ValueError,  # Python's own, too, on a number of thousands of digits
        RecursionError,
    ):
        return piece
    return table["value"] if len(table) == 1 else piece
