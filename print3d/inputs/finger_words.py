"""What people call a finger in any of the languages, and what a case file calls it."""

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from print3d.inputs.measured import FINGERS
from print3d.inputs.tables import Tables
from print3d.language.catalogue import LANGUAGES, text
from print3d.language.message import Message, message

THUMB = "thumb"


class FingersNamed(NamedTuple):
    """The tables of a file with fingers by the names of a case file, and what was taken for what."""

    data: Tables
    notes: tuple[Message, ...]


def finger_meant(word: str) -> str | None:
    """Return the finger that a word names, or None.

    A number names none: some count the thumb and some do not.
    """
    return _words().get(" ".join(word.lower().replace("_", " ").split()))


def with_fingers_named(data: Mapping[str, object]) -> FingersNamed:
    """Return the tables of a case file with `case.finger` and the tables of [measured] by their names there.

    A word that names none is left, and so is a table where the file has one of that name already.
    """
    notes, tables = list[Message](), dict(data)
    head, measured = tables.get("case"), tables.get("measured")
    if isinstance(head, Mapping) and (name := _other_name(head.get("finger"))) is not None:
        notes.append(message("refusals.finger_taken", found=head["finger"], name=name))
        tables["case"] = {**head, "finger": name}
    if not isinstance(measured, Mapping):
        return FingersNamed(tables, tuple(notes))
    measured = tables["measured"] = dict(measured)
    for word in list(measured):
        name = _other_name(word)
        if name is not None and name not in measured and isinstance(measured[word], dict):
            notes.append(message("refusals.finger_taken", found=f"measured.{word}", name=f"measured.{name}"))
            measured[name] = measured.pop(word)
    return FingersNamed(tables, tuple(notes))


def _other_name(word: object) -> str | None:
    """Return the finger of a case file that a word names in another way."""
    name = finger_meant(word) if isinstance(word, str) else None
    return name if name in FINGERS and name != word else None


@cache
def _words() -> Mapping[str, str]:
    """Every word for a finger, in every language."""
    return {
        word.lower(): finger
        for finger in (*FINGERS, THUMB)
        for language in LANGUAGES
        for word in (finger, *text(f"common.finger_words.{finger}", language).split(", "))
    }
