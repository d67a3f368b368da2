"""Sentences that cite a study say whom it studied, and nothing claims what nobody can know."""

import re
from pathlib import Path

import pytest

import print3d

ROOT = Path(print3d.__file__).parent
WORDS = sorted(
    path for path in ROOT.rglob("*.toml") if path.parent.name in ("guidance", "en", "de", "data") or path.parent.parent.name == "kinds"
)  # fmt: skip
CITED = re.compile(r"\"([^\"]*)\"")

# study -> what every sentence that cites it has to say, each of which its abstract says
SAYS = {
    "Rayan and Mullins 1987, J Hand": ("66 digits", "on average", "find the angle at which it turns pale and stay below"),
    "Zijlstra": ("17 people with rheumatoid arthritis", "15 who were scored", "48"),
    "Punsola-Izard et al. 2023, J Clin Med 12(8)": ("200 g", "3 cadavers"),
    "Ugurlu": ("rheumatoid or juvenile arthritis", "49 fingers"),
    "Evans 1994, J Hand": ("early", "no ring"),
}  # fmt: skip

# what a sentence must not say: nobody can check it, or the source does not say it
NEVER = (
    "ever published",
    "two fingers of 66",
    "clinic page",
    "clinic's page",
    "Seite einer Klinik",
    "After weeks held straight the PIP",
)


def sentences(path: Path) -> list[str]:
    return CITED.findall(path.read_text(encoding="utf-8").replace('\\"', "'"))


@pytest.mark.parametrize("study", SAYS)
def test_a_sentence_that_cites_a_study_says_whom_it_studied(study: str) -> None:
    texts = [
        each
        for path in ROOT.glob("guidance/*.toml")
        for each in sentences(path)
        if study in each and "[" in each
    ]
    assert texts
    for text in texts:
        assert all(fact in text for fact in SAYS[study]), text


def test_necroses_are_not_counted_among_the_digits_that_were_tested() -> None:
    (text,) = [each for each in sentences(ROOT / "guidance" / "suggestions.toml") if "skin of two" in each]
    assert re.search("66 digits.*apart from these digits.*two patients", text)


@pytest.mark.parametrize("path", WORDS, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_is_said_that_nobody_can_know(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert [each for each in NEVER if each in text] == []


def test_a_ring_worn_in_a_short_arc_is_called_own_choice() -> None:
    """Evans 1994 studied exercises begun early after repair; a ring worn after weeks held straight is not in it."""
    for language, words in (("en", "own choice"), ("de", "eigene Wahl")):
        text = (ROOT / "language" / language / "series.toml").read_text(encoding="utf-8")
        assert re.search(f'^first_arc = "{words}.*Evans 1994', text, re.MULTILINE)
    text = (ROOT / "guidance" / "suggestions.toml").read_text(encoding="utf-8")
    ring = text[text.index("[boutonniere_ring]") :]
    assert re.search(r'source = "own choice: the first arc.*Evans 1994.*"\nmark = "memory"', ring)
