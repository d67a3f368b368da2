"""The catalogue: every language says everything, with the same values."""

import re
import tomllib
from pathlib import Path

import pytest

from print3d.errors import MissingWordError
from print3d.inputs.cautions import CAUTIONS
from print3d.language.catalogue import LANGUAGES, catalogue, lines, number, placeholders, text

PACKAGE = Path(__file__).parents[2] / "print3d"
OTHERS = [language for language in LANGUAGES if language != "en"]


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_the_same_keys_and_placeholders(language) -> None:
    english, other = catalogue("en"), catalogue(language)
    assert english.keys() == other.keys()
    for key, template in english.items():
        assert isinstance(other[key], type(template)), key
        assert placeholders(other[key]) == placeholders(template), key
        if isinstance(template, tuple):
            assert [placeholders(each) for each in template] == [placeholders(each) for each in other[key]], (
                key
            )


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_is_empty_or_untrimmed(language) -> None:
    for key, template in catalogue(language).items():
        for part in (template,) if isinstance(template, str) else template:
            assert part
            assert part == part.strip(), key


def test_a_sentence_is_translated_not_copied() -> None:
    """Words may be the same in two languages, whole sentences are not."""
    copied = [
        key
        for key, template in catalogue("en").items()
        if isinstance(template, str)
        and len(re.findall(r"[a-z]{2,}", re.sub(r"{.*?}", "", template))) > 4
        and catalogue("de")[key] == template
    ]
    assert not copied


def test_numbers_are_written_as_the_language_writes_them() -> None:
    assert number(2.5) == "2.5"
    assert number(2.55, "de", decimals=2) == "2,55"
    assert text("common.finding.at_least", "de", limit=0.8, unit="mm") == "mindestens 0,8 mm"
    assert text("common.finding.at_least", "en", limit=0.8, unit="mm") == "at least 0.8 mm"
    assert text("common.orthosis.title", "de", code="V1.2", side="links", finger="x", kind="y").startswith(
        "V1.2,"
    )


def test_a_missing_text_or_value_is_an_error() -> None:
    with pytest.raises(MissingWordError):
        text("common.finding.no_such_text")
    with pytest.raises(MissingWordError):
        text("common.finding.at_least", limit=1.0)
    with pytest.raises(MissingWordError, match="list"):
        text("cautions.all")
    with pytest.raises(MissingWordError, match="one text"):
        lines("cautions.head")


def test_the_cautions_have_one_source() -> None:
    assert lines("cautions.all") == CAUTIONS
    sentence = re.compile("software output, not a medical device", re.IGNORECASE)
    saying = [path for path in PACKAGE.rglob("*.py") if sentence.search(path.read_text(encoding="utf-8"))]
    assert not saying


def test_every_file_is_there_in_every_language() -> None:
    names = {
        language: {path.name for path in (PACKAGE / "language" / language).glob("*.toml")}
        for language in LANGUAGES
    }
    assert all(found == names["en"] for found in names.values())
    for path in PACKAGE.glob("language/*/*.toml"):
        assert tomllib.loads(path.read_text(encoding="utf-8"))
