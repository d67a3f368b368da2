"""From the data of one file to a validated table, or to all of its problems at once."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Generic, NamedTuple, TypeVar

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from print3d.inputs.problems import (
    CONTRADICTION,
    MISSING,
    MOST_SHOWN,
    Problem,
    dotted,
    either,
    nearest,
    unknown_name,
)
from print3d.inputs.table import (
    Section,
    accepted,
    accepted_item,
    choices,
    default_of,
    limits_of,
    one_of,
    section_for,
    subsections,
)
from print3d.inputs.tables import Tables
from print3d.language.message import Message, message

LEAST_LENGTH_MM = 5.0
"""A length that must be at least this much was taken with tape or ruler, which have inches and centimetres too; own choice."""
Loc = tuple[str | int, ...]
Table = TypeVar("Table", bound=Section)


class Place(NamedTuple):
    """Where a problem is.

    It has a path in the file, the table that holds it, and its field if the key is known.
    """

    loc: Loc
    table: type[Section]
    field: FieldInfo | None


class Validated(NamedTuple, Generic[Table]):
    """What a file gave: the table, or None and why; `given` holds whatever values are valid."""

    table: Table | None
    problems: list[Problem]
    given: Tables


def validate(model: type[Table], data: Mapping[str, object]) -> Validated[Table]:
    """Validate the data of one file and collect every problem, contradictions between valid values included."""
    table, errors = None, []
    try:
        table = model.model_validate(data)
    except ValidationError as error:
        errors = [each for each in error.errors() if each["type"] != CONTRADICTION]
    places = [place_of(model, each["loc"]) for each in errors]
    known = list(zip(errors, places, strict=True))
    problems = [_problem(model, each, place) for each, place in known[:MOST_SHOWN]]
    problems += [
        Problem(dotted(place.loc), each["input"], message("refusals.not_accepted"))
        for each, place in known[MOST_SHOWN:]
    ]
    bad = [place.loc for place in places]
    # guard: all problems at once
    problems += _contradictions(model, data, bad, ())
    return Validated(table, problems, given_values(model, data, bad))


def place_of(model: type[Section], loc: Sequence[str | int]) -> Place:
    """Return the place in the file of a validation error; the names of union members are no part of it."""
    table, field, clean = model, None, list[str | int]()
    rest = list(loc)
    while rest:
        part = rest.pop(0)
        clean.append(part)
        field = table.model_fields.get(str(part))
        if field is None:
            break
        tables = subsections(field)
        if not tables or not rest:
            clean += rest
            break
        table = tables[0]
        if len(tables) > 1:
            tag = rest.pop(0)
            table = next(each for each in tables if each.model_fields["kind"].default == tag)
    return Place(tuple(clean), table, field)


def given_values(
    model: type[Section], raw: Mapping[str, object], bad: Sequence[Loc], loc: Loc = ()
) -> Tables:
    """Return every valid value of a table as dotted keys, defaults where the file is silent."""
    values: Tables = {}
    for name, field in model.model_fields.items():
        here, given = (*loc, name), raw.get(name)
        table = section_for(field, given)
        if name not in raw:
            inner = default_of(field)
        elif table is not None and isinstance(given, Mapping):
            inner = given_values(table, given, bad, here)
        elif any(place[: len(here)] == here for place in bad):
            inner = {}
        else:
            inner = {"": given}
        values.update({f"{name}.{key}".rstrip("."): value for key, value in inner.items()})
    return values


def _contradictions(
    model: type[Section], raw: Mapping[str, object], bad: Sequence[Loc], loc: Loc
) -> Iterator[Problem]:
    for problem in model.contradictions(given_values(model, raw, bad, loc)):
        yield problem.at(dotted(loc)) if loc else problem
    for name, field in model.model_fields.items():
        inner = raw.get(name)
        table = section_for(field, inner)
        if table is not None and isinstance(inner, Mapping):
            yield from _contradictions(table, inner, bad, (*loc, name))


def _problem(model: type[Section], error: ErrorDetails, place: Place) -> Problem:
    key, found = dotted(place.loc), error["input"]
    if error["type"] == "extra_forbidden":
        return Problem(key, found, message("refusals.unknown_key", hint=_hint(model, place)))
    if error["type"] in ("union_tag_invalid", "union_tag_not_found") and place.field is not None:
        return _kind_problem(
            key, found, [str(each.model_fields["kind"].default) for each in subsections(place.field)]
        )
    if place.field is None:
        raise AssertionError(f"a validation error at {error['loc']} has no field")
    is_item = isinstance(place.loc[-1], int)
    wanted = accepted_item(place.field) if is_item else accepted(key, place.field)
    if error["type"] == "missing":
        return Problem(key, MISSING, message("refusals.give", what=wanted))
    return Problem(key, found, _perhaps_meant(key, found, place.field, wanted))


def _perhaps_meant(key: str, found: object, field: FieldInfo, wanted: Message) -> Message:
    """Return what is accepted, with what the number may stand for where the slip is a usual one."""
    if choices(field) and _digits(found):
        return message("refusals.word_not_number", what=wanted)
    meant = list(_in_other_units(key, found, field))
    if not meant:
        return message("refusals.accepted_is", what=wanted)
    return message("refusals.accepted_in_mm", what=wanted, meant=either(meant))


def _digits(found: object) -> bool:
    if isinstance(found, str):
        return found.strip().isdecimal()
    return isinstance(found, int | float) and not isinstance(found, bool)


def _in_other_units(key: str, found: object, field: FieldInfo) -> Iterator[Message]:
    """Yield what a length that is too small is in millimetres if it was taken in inches, or in cm."""
    if not key.endswith("_mm") or isinstance(found, bool) or not isinstance(found, int | float):
        return
    low, high = limits_of(field)
    if low < LEAST_LENGTH_MM or not 0 < found < low:
        return
    for name, mm in (("in_inches", 25.4 * found), ("in_cm", 10.0 * found)):
        if low <= mm <= high:
            yield message(f"refusals.{name}", mm=mm)


def _kind_problem(key: str, found: object, names: list[str]) -> Problem:
    """Return the problem of a table whose kind is missing or not known."""
    kind = found.get("kind", MISSING) if isinstance(found, Mapping) else found
    if isinstance(found, Mapping) and isinstance(kind, str):
        return unknown_name(f"{key}.kind", kind, message("refusals.no_such.kind"), names)
    return Problem(f"{key}.kind", kind, message("refusals.give", what=one_of(names)))


def _hint(model: type[Section], place: Place) -> Message:
    """Return the table where the key is at home, else the nearest known key.

    Where no key is near, all keys of the same table are named.
    """
    name = str(place.loc[-1])
    at_home = sorted({key for key in all_keys(model) if key.rpartition(".")[2] == name})
    if dotted(place.loc) in at_home:
        kinds = [str(table.model_fields["kind"].default) for table in _tables_with(model, place.loc)]
        return message("refusals.hint.only_kind", kinds=either(kinds))
    if at_home:
        return message("refusals.hint.belongs", places=either(at_home[:4]))
    near = nearest(name, place.table.model_fields)
    if near is not None:
        return message("refusals.hint.near", key=dotted((*place.loc[:-1], near)))
    return message("refusals.hint.known", keys=", ".join(place.table.model_fields))


def _tables_with(model: type[Section], loc: Loc) -> list[type[Section]]:
    """Return the kinds that know a key of the table at the head of `loc`."""
    kinds = subsections(model.model_fields[str(loc[0])])
    key = dotted(loc[1:])
    return [table for table in kinds if key in all_keys(table)]


def all_keys(model: type[Section], prefix: str = "") -> Iterator[str]:
    """Yield every dotted key of a table, those of every kind included."""
    for name, field in model.model_fields.items():
        yield prefix + name
        for table in subsections(field):
            yield from all_keys(table, f"{prefix}{name}.")
