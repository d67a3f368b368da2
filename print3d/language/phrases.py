"""Sentences that the program makes in English, said in another language.

Estimates, warnings, remarks and series are written in English, with names and numbers inside. `<language>/phrases.toml` holds their templates:
a sentence that fits the English template is said again with the other language's, its names translated and its numbers written as
that language writes them. What fits no template stays English, which a test of all worked cases would notice.
"""

import re
from collections.abc import Mapping
from functools import cache
from string import Formatter
from typing import Literal

from print3d.language.catalogue import Language, catalogue, decimal_mark, text

Topic = Literal["estimate", "told", "series"]

NUMBER = r"-?\d+(?:\.\d+)?"
SHAPE_OF = {
    "finger": "index|middle|ring|little",
    "other": "index|middle|ring|little",
    "shape": "volar|dorsal|sleeve",
    "dimension": "(?:web|proximal|PIP|middle|DIP|nail fold) girth|proximal|middle|distal|web station",
    "n": NUMBER,
    "mm": NUMBER,
    "sd": NUMBER,
    "low": NUMBER,
    "high": NUMBER,
    "asked": NUMBER,
    "least": NUMBER,
    "most": NUMBER,
}
"""What a placeholder of a name may stand for; one of any other name for anything."""
TOPIC_OF: Mapping[str, Topic] = {
    "dimension": "estimate",
    "method": "estimate",
}
"""Placeholders that hold a phrase of another topic, which goes before a name: a middle dimension is no middle finger."""


def phrase(sentence: str, topic: Topic, language: Language) -> str:
    """Return a sentence of the program in a language.

    It stays as it is if the catalogue has no template for it.
    """
    if language == "en":
        return sentence
    for key, pattern in _patterns(topic):
        found = pattern.fullmatch(sentence)
        if found:
            values = {
                name: phrase(value, TOPIC_OF[name], language)
                if name in TOPIC_OF
                else _value(value, topic, language)
                for name, value in found.groupdict().items()
            }
            return text(key, language, **values)
    return sentence


def is_known(sentence: str, topic: Topic) -> bool:
    """Whether the catalogue has a template for a sentence."""
    return any(pattern.fullmatch(sentence) for _, pattern in _patterns(topic))


def _value(value: str, topic: Topic, language: Language) -> str:
    if re.fullmatch(NUMBER, value):
        return value.replace(".", decimal_mark(language))
    word = _words(language).get(value)
    return phrase(value, topic, language) if word is None else word


@cache
def _words(language: Language) -> Mapping[str, str]:
    """English names -> those of a language."""
    english, other = catalogue("en"), catalogue(language)
    return {str(english[key]): str(other[key]) for key in english if key.startswith("phrases.word.")}


@cache
def _patterns(topic: Topic) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Templates of a topic as patterns, those with most fixed letters first."""
    templates = {
        key: str(template) for key, template in catalogue("en").items() if key.startswith(f"phrases.{topic}.")
    }
    ordered = sorted(
        templates, key=lambda key: -sum(len(fixed) for fixed, *_ in Formatter().parse(templates[key]))
    )
    return tuple((key, re.compile(_pattern(templates[key]))) for key in ordered)


def _pattern(template: str) -> str:
    rows = []
    for fixed, name, _, _ in Formatter().parse(template):
        rows.append(re.escape(fixed))
        if name is not None:
            rows.append(f"(?P<{name}>{SHAPE_OF.get(name, '.+?')})")
    return "".join(rows)
