"""German texts say one thing by one word, as hand therapists say it, and English ones nothing that can be read otherwise."""

import re

import pytest

from print3d.language.catalogue import catalogue

AVOIDED = {
    "de": {
        r"[Vv]olar": "palmar",
        r"Bandschlitz|\bBänder\b": "Gurt",
        r"halten nicht|hält nicht\b(?! mehr)|Prüfungen halten": "bestanden",
        r"passiver Umfang": "Bewegungsumfang",
        r"geraten wird": "empfohlen",
        r"gebeugten Haut": "Haut in der gehaltenen Stellung",
        r"mittlerer Abstand": "Median",
        r"Finger gearbeitet": "geschoben",
        r"Zweimal (an|hin)": "genau hinsehen",
        r"\bEntscheid\b": "Entscheidung",
        r"früh aktive": "frühe aktive",
        r"[Üü]berweisen": "wen fragen",
    },
    "en": {
        r"starts the healing": "healing would have to start over",
        r"open place": "broken skin",
        r"rigid finger is": "skin that does not yield",
        r"mm2 carry": "bear",
        r"worked over": "pushed over",
        r"\brefer on\b": "ask whom",
    },
}


@pytest.mark.parametrize("language", AVOIDED)
def test_words_that_mislead_are_not_used(language: str) -> None:
    found = [
        (key, pattern, wanted)
        for key, template in catalogue(language).items()
        for words in ((template,) if isinstance(template, str) else template)
        for pattern, wanted in AVOIDED[language].items()
        if re.search(pattern, words)
    ]
    assert found == []
