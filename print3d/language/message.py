"""What the program has to say, as data: a key of the catalogue and its values.

Sentences are made when they are shown.

    found = message("checks.rims.edge.what", part=message("common.part.yoke"), places=120)
    found.said("de")

Values are numbers, text that stays as it is (a code, a file's name), other messages, or several of them, which are listed.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from print3d.errors import Sayable
from print3d.language.catalogue import Language, catalogue, text

AS_IT_STANDS = "common.as_it_stands"
"""Key of a text that is the same in every language: a clinic's own words, a citation."""


Value = str | float | Sayable | tuple["Value", ...]
Values = tuple[tuple[str, Value], ...]
"""By name, in alphabetical order."""


@dataclass(frozen=True)
class Message:
    """One sentence or name that is made when shown.

    key : in the catalogue
    values : what its template is filled with, by name, in alphabetical order
    """

    key: str
    values: Values = ()

    def said(self, language: Language) -> str:
        """Return the sentence. Raises MissingWordError if the catalogue has no such key or value."""
        return text(self.key, language, **{name: _shown(value, language) for name, value in self.values})

    def as_data(self) -> dict[str, object]:
        """Return key and values as plain data, for programs."""
        return {"key": self.key, "values": {name: _plain(value) for name, value in self.values}}


def message(key: str, /, **values: object) -> Message:
    """Return a message; numbers of numpy become Python's own."""
    return Message(key, tuple((name, _python(values[name])) for name in sorted(values)))


def as_it_stands(words: str) -> Message:
    """Return a message that is the same in every language."""
    return message(AS_IT_STANDS, words=words)


def entry_of_table(words: str) -> Message:
    """Return what an entry of a table says: catalogue words where shipped, a clinic's own as they stand."""
    return message(words) if words in catalogue("en") else as_it_stands(words)


def in_a_row(messages: Sequence[Message]) -> Message:
    """Return several messages, at least one, as one with commas between them."""
    *before, last = messages
    for each in reversed(before):
        last = message("common.in_a_row", first=each, rest=last)
    return last


def message_from(data: Mapping[str, Any]) -> Message:
    """Return the message that `as_data` made plain."""
    return Message(
        data["key"], tuple((name, _from_plain(data["values"][name])) for name in sorted(data["values"]))
    )


def listed(messages: Iterable[Sayable], language: Language) -> str:
    """Return several messages, or problems, in one line."""
    return "; ".join(each.said(language) for each in messages)


def _shown(value: Value, language: Language) -> str | float:
    if isinstance(value, Sayable):
        return value.said(language)
    return "; ".join(str(_shown(each, language)) for each in value) if isinstance(value, tuple) else value


def _plain(value: Value) -> object:
    if isinstance(value, Sayable):
        return value.as_data()
    return [_plain(each) for each in value] if isinstance(value, tuple) else value


def _from_plain(value: Any) -> Value:
    if isinstance(value, Mapping):
        return message_from(value)
    return tuple(map(_from_plain, value)) if isinstance(value, list) else value


def _python(value: Any) -> Value:
    if isinstance(value, Mapping):
        raise TypeError(f"{value!r} is no value of a message")
    if isinstance(value, (list, tuple)):
        return tuple(map(_python, value))
    return value.item() if hasattr(value, "item") else value
