"""The base of every table in a file, and what each key accepts, in words.

Numbers are strict: no text, no true/false, no NaN, no infinity. Unknown keys are refused. A table is frozen once made.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import Any, Literal, Self, TypeVar, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt, MaxLen
from pydantic import BaseModel, ConfigDict, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError, PydanticUndefined

from print3d.inputs.problems import CONTRADICTION, Problem, in_words
from print3d.inputs.units import unit_of
from print3d.language.message import Message, message

Bound = TypeVar("Bound")
GivenValues = Mapping[str, Any]
"""Dotted key -> valid value (its default where the file is silent). Keys whose value is no valid one are left out."""


@dataclass(frozen=True)
class Accepts:
    """Marks a field whose accepted values its type and limits do not say in full."""

    words: Message


class Section(BaseModel):
    """One table of a file."""

    model_config = ConfigDict(
        frozen=True,
        # guard: unknown keys
        extra="forbid",
        strict=True,
        # guard: no number without end in a file
        allow_inf_nan=False,
    )

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return the problems between values of this table that are valid each for itself."""
        return []

    @model_validator(mode="after")
    def _without_contradictions(self) -> Self:
        problems = self.contradictions(flat(self))
        if problems:
            text = "; ".join(problem.said() for problem in problems)
            raise PydanticCustomError(CONTRADICTION, "{text}", {"text": text})
        return self


def flat(section: Section) -> dict[str, object]:
    """Return a table as dotted keys with values."""
    values: dict[str, object] = {}
    for name in type(section).model_fields:
        value = getattr(section, name)
        if isinstance(value, Section):
            values.update({f"{name}.{key}": inner for key, inner in flat(value).items()})
        else:
            values[name] = value
    return values


def default_of(field: FieldInfo) -> dict[str, object]:
    """Return a field's default as {"": value}, or dotted keys for a table; nothing if it must be given."""
    value = field.get_default(call_default_factory=True, validated_data={})
    if value is PydanticUndefined:
        return {}
    return flat(value) if isinstance(value, Section) else {"": value}


def subsections(field: FieldInfo) -> list[type[Section]]:
    """Return the tables that a field may hold: none for a plain value, several for the kinds of orthosis."""
    return [part for part in _parts(field.annotation) if isinstance(part, type) and issubclass(part, Section)]


def section_for(field: FieldInfo, raw: object) -> type[Section] | None:
    """Return the table that `raw` is meant to be, by its `kind` where there are several."""
    candidates = subsections(field)
    if len(candidates) < 2:
        return candidates[0] if candidates else None
    kind = raw.get("kind") if isinstance(raw, Mapping) else None
    return next((table for table in candidates if table.model_fields["kind"].default == kind), None)


def accepted(key: str, field: FieldInfo) -> Message:
    """Return what a dotted key accepts."""
    marked = next((item.words for item in field.metadata if isinstance(item, Accepts)), None)
    if marked is not None:
        return marked
    parts = list(_parts(field.annotation))
    if any(get_origin(part) is Literal for part in parts):
        return one_of(choices(field))
    if subsections(field):
        return message("refusals.accepts.table", key=key)
    if any(get_origin(part) is tuple for part in parts):
        return message("refusals.accepts.list", item=accepted_item(field))
    if float in parts or int in parts:
        return _number(
            key, field, "refusals.accepts.number" if float in parts else "refusals.accepts.whole_number"
        )
    if bool in parts:
        return message("refusals.accepts.yes_or_no")
    longest = next((item.max_length for item in _of(field, MaxLen)), None)
    return (
        text_in_quotes() if longest is None else message("refusals.accepts.text_of_at_most", length=longest)
    )


def accepted_item(field: FieldInfo) -> Message:
    """Return what a list accepts as an item."""
    items = [get_args(part)[0] for part in _parts(field.annotation) if get_origin(part) is tuple]
    given = [choice for part in items if get_origin(part) is Literal for choice in get_args(part)]
    return one_of(given) if given else text_in_quotes()


def choices(field: FieldInfo) -> list[object]:
    """Return the values that a field chooses from; none for one that takes numbers or text."""
    return [
        choice
        for part in _parts(field.annotation)
        if get_origin(part) is Literal
        for choice in get_args(part)
    ]


def limits_of(field: FieldInfo) -> tuple[float, float]:
    """Return the least and the greatest number that a field accepts, both included, without end where it says none."""
    low = (float(item.ge) for item in _of(field, Ge))  # type: ignore[arg-type]  # ours are numbers
    high = (float(item.le) for item in _of(field, Le))  # type: ignore[arg-type]
    return max(low, default=-inf), min(high, default=inf)


def one_of(given: Sequence[object]) -> Message:
    """Return a choice of values as what is accepted."""
    listed = ", ".join(in_words(choice) for choice in given)
    key = "refusals.accepts.one_of" if len(given) > 1 else "refusals.accepts.only"
    return message(key, listed=listed, one_of=list(given))


def text_in_quotes() -> Message:
    """Return any text as what is accepted."""
    return message("refusals.accepts.text")


def _number(key: str, field: FieldInfo, kind: str) -> Message:
    what, unit = message(kind), unit_of(key)
    low = [message("refusals.accepts.from", least=item.ge) for item in _of(field, Ge)]
    low += [message("refusals.accepts.above", least=item.gt) for item in _of(field, Gt)]
    high = [message("refusals.accepts.to", most=item.le) for item in _of(field, Le)]
    high += [message("refusals.accepts.below", most=item.lt) for item in _of(field, Lt)]
    for each in [*low, *high, *([] if unit is None else [unit])]:
        what = message("refusals.accepts.joined", what=what, more=each)
    return what


def _of(field: FieldInfo, kind: type[Bound]) -> list[Bound]:
    return [item for item in field.metadata if isinstance(item, kind)]


def _parts(annotation: object) -> Iterator[object]:
    """Yield the members of a union, at any depth, or the annotation itself."""
    origin = get_origin(annotation)
    if origin is not None and origin not in (Literal, tuple):
        for part in get_args(annotation):
            yield from _parts(part)
    else:
        yield annotation
