"""The catalogue: every language says everything, with the same values."""

import re
import tomllib
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest

from print3d.errors import InstallationError, MissingWordError
from print3d.inputs.cautions import CAUTIONS
from print3d.language.catalogue import LANGUAGES, catalogue, lines, number, placeholders, text

module = import_module("print3d.language.catalogue")
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


@pytest.fixture
def made_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A program with one kind and one check that speaks Frisian."""
    files = {
        "language/fy/common.toml": 'decimal_mark = ","',
        "language/fy/kinds.cover.toml": 'name = "dop"\n[options.key]\nsize_mm = "grutte"',
        "language/fy/checks.heft.toml": '[volume]\nwhat = "ynhâld {cm3:g} cm3"',
    }
    for name, words in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(words, encoding="utf-8")
    monkeypatch.setattr(module, "_HOME", tmp_path / "language")
    catalogue.cache_clear()
    yield tmp_path
    catalogue.cache_clear()


def test_a_language_may_hold_the_words_of_kinds_and_checks(made_up: Path) -> None:
    assert text("kinds.cover.name", "fy") == "dop"
    assert text("checks.heft.volume.what", "fy", cm3=2.5) == "ynhâld 2,5 cm3"


def test_options_of_a_kind_join_those_of_all(made_up: Path) -> None:
    assert text("options.key.size_mm", "fy") == "grutte"
    (made_up / "kinds" / "cap").mkdir(parents=True)
    (made_up / "kinds" / "cap" / "words.fy.toml").write_text(
        '[options.key]\nsize_mm = "maat"', encoding="utf-8"
    )
    catalogue.cache_clear()
    with pytest.raises(InstallationError, match=r"kinds.cover.toml: options.key.size_mm is said otherwise"):
        catalogue("fy")


@pytest.mark.parametrize(
    ("key", "file"),
    [
        ("kinds.cover.wear", "kinds/cover/words.fy.toml: there is no kinds.cover.wear"),
        ("checks.heft.volume.how", "checks/heft.fy.toml: there is no checks.heft.volume.how"),
        ("sheets.wear.title", "language/fy/sheets.toml: there is no sheets.wear.title"),
        (
            "common.part.cover",
            "language/fy/common.toml, or words.fy.toml of the kind: there is no common.part.cover",
        ),
    ],
)
def test_a_missing_word_names_file_and_key(key: str, file: str, made_up: Path) -> None:
    with pytest.raises(MissingWordError, match=re.escape(file)):
        text(key, "fy")


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


def test_the_language_may_be_named() -> None:
    assert (
        text("sheets.wear.title", language="de")
        == text("sheets.wear.title", "de")
        != text("sheets.wear.title")
    )
