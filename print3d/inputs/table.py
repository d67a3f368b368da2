"""The base of every table in a file, and what each key accepts, in words.

Numbers are strict: no text, no true/false, no NaN, no infinity. Unknown keys are refused. A table is frozen once made.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, Self, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt, MaxLen
from pydantic import BaseModel, ConfigDict, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError, PydanticUndefined

from print3d.inputs.problems import CONTRADICTION, Problem, in_words

Given = Mapping[str, Any]
"""Dotted key -> valid value (its default where the file is silent). Keys whose value is no valid one are left out."""

UNITS = {
    "_nmm": "N mm",
    "_n": "N",
    "_mm_per_s": "mm/s",
    "_s": "seconds",
    "_mm": "mm",
    "_hours_per_day": "hours a day",
    "_deg": "degrees",
    "_years": "years",
    "_mpa": "MPa",
    "_percent": "percent",
    "_g_per_cm3": "g/cm3",
    "_c": "degrees Celsius",
    "_per_kg": "per kg",
}
"""Ending of a key -> the unit it stands for."""


@dataclass(frozen=True)
class Accepts:
    """Marks a field whose accepted values its type and limits do not say in full."""

    words: str


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
    def contradictions(cls, given: Given) -> list[Problem]:
        """Return the problems between values of this table that are valid each for itself."""
        return []

    @model_validator(mode="after")
    def _without_contradictions(self) -> Self:
        problems = self.contradictions(flat(self))
        if problems:
            text = "; ".join(problem.text() for problem in problems)
            raise PydanticCustomError(CONTRADICTION, "{text}", {"text": text})
        return self


def unit_of(key: str) -> str:
    """Return the unit that a key's ending stands for, or an empty text."""
    return next((unit for ending, unit in UNITS.items() if key.endswith(ending)), "")


def flat(section: Section) -> dict[str, Any]:
    """Return a table as dotted keys with values."""
    values: dict[str, Any] = {}
    for name in type(section).model_fields:
        value = getattr(section, name)
        if isinstance(value, Section):
            values.update({f"{name}.{key}": inner for key, inner in flat(value).items()})
        else:
            values[name] = value
    return values


def default_of(field: FieldInfo) -> dict[str, Any]:
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


def accepted(key: str, field: FieldInfo) -> str:
    """Return in words what a dotted key accepts."""
    marked = next((item.words for item in field.metadata if isinstance(item, Accepts)), None)
    if marked is not None:
        return marked
    parts = list(_parts(field.annotation))
    if any(get_origin(part) is Literal for part in parts):
        return _choices(parts)
    if subsections(field):
        return f"a table [{key}]"
    if any(get_origin(part) is tuple for part in parts):
        return f"a list, each {accepted_item(field)}"
    if float in parts or int in parts:
        return f"a {'number' if float in parts else 'whole number'}{_limits(field)} {unit_of(key)}".rstrip()
    if bool in parts:
        return "true or false"
    longest = next((f" of at most {item.max_length} characters" for item in _of(field, MaxLen)), "")
    return f"a text in quotes{longest}"


def accepted_item(field: FieldInfo) -> str:
    """Return in words what a list accepts as an item."""
    items = [get_args(part)[0] for part in _parts(field.annotation) if get_origin(part) is tuple]
    return _choices(items) or "a text in quotes"


def _choices(parts: list[Any]) -> str:
    choices = [choice for part in parts if get_origin(part) is Literal for choice in get_args(part)]
    return ("one of " if len(choices) > 1 else "") + ", ".join(in_words(choice) for choice in choices)


def _limits(field: FieldInfo) -> str:
    low = [f"from {item.ge:g}" for item in _of(field, Ge)] + [f"above {item.gt:g}" for item in _of(field, Gt)]
    high = [f"to {item.le:g}" for item in _of(field, Le)] + [f"below {item.lt:g}" for item in _of(field, Lt)]
    return "".join(f" {words}" for words in low + high)


def _of(field: FieldInfo, kind: type[Any]) -> list[Any]:
    return [item for item in field.metadata if isinstance(item, kind)]


def _parts(annotation: Any) -> Iterator[Any]:
    """Yield the members of a union, at any depth, or the annotation itself."""
    origin = get_origin(annotation)
    if origin is not None and origin not in (Literal, tuple):
        for part in get_args(annotation):
            yield from _parts(part)
    else:
        yield annotation
