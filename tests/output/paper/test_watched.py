"""A number inside its limit but to be watched has a sign and a word of its own; plans and advice stand in the files."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from print3d.design.advice import Advice
from print3d.language.catalogue import LANGUAGES
from print3d.language.message import message
from print3d.output.files import writers
from print3d.output.paper.findings import findings_in_words
from print3d.output.paper.fit_sheet import write_fit_sheet
from print3d.output.paper.sheet import words_of
from print3d.output.record.record import write_record
from print3d.output.record.record_sheet import write_record_sheet
from tests.checks.made import PART, pressed
from tests.output.paper.conftest import FINDINGS, Pdf
from tests.shaped import changed

PRESSED = pressed()
WORDS = {
    "en": ("proximal phalanx, volar side", "to be watched on the skin at the fitting", "holds, to be watched", "holds, but to be watched"),
    "de": ("Grundglied, Beugeseite", "auf der Haut zu beobachten", "bestanden, zu beobachten", "bestanden, aber zu beobachten"),
}  # fmt: skip
THICKER = Advice(FINDINGS[0], "orthosis.wall_mm", 1.6, 2.0, 0.83)


def test_what_is_watched_comes_after_what_fails_and_before_what_holds() -> None:
    thin, held = FINDINGS
    low = replace(PRESSED, sense="at least", limit=1.0, watch=6.0)
    found = sorted([held, PRESSED, thin, low, replace(PRESSED, measured=11.0)], key=lambda each: each.urgency)
    assert [each.verdict for each in found] == ["fails", "fails", "watch", "watch", "holds"]
    assert replace(PRESSED, measured=4.0).verdict == replace(PRESSED, watch=None).verdict == "holds"


@pytest.mark.parametrize("language", LANGUAGES)
def test_sheets_name_what_is_to_be_watched(sheet_data, tmp_path: Path, language) -> None:
    thin, held = FINDINGS
    data = changed(sheet_data("pip_extension", language), findings=(held, PRESSED, thin))
    zone, on_skin, verdict, known = WORDS[language]
    write_fit_sheet(tmp_path / "fit.pdf", data)
    fit = Pdf(tmp_path / "fit.pdf").text()
    assert on_skin in fit
    assert zone in fit[fit.index(on_skin) :]
    write_record_sheet(tmp_path / "record.pdf", data)
    record = Pdf(tmp_path / "record.pdf").text()
    assert verdict in record
    assert known in record
    plain = changed(data, findings=FINDINGS)
    write_fit_sheet(tmp_path / "plain.pdf", plain)
    assert on_skin not in Pdf(tmp_path / "plain.pdf").text()


def test_a_source_is_said_once_where_it_is_the_same(sheet_data) -> None:
    words = words_of(sheet_data("pip_extension"))
    other = replace(PRESSED, source=message("sources.option", option="orthosis.wall_mm"))
    said = findings_in_words(words, [PRESSED, PRESSED, other, PRESSED])
    assert [each.rpartition(" (")[2] for each in said] == [
        "from memory)",
        "as above)",
        "orthosis.wall_mm)",
        "from memory)",
    ]


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_record_says_how_it_lies_on_the_bed_and_what_would_hold(
    sheet_data, tmp_path: Path, language
) -> None:
    data = changed(sheet_data("pip_extension", language), advice=(THICKER,))
    write_record_sheet(tmp_path / "record.pdf", data)
    text = Pdf(tmp_path / "record.pdf").text()
    assert data.plans[0].position(language) in text
    assert {
        "en": "orthosis.wall_mm from 1.6 to 2 (0.83 mm)",
        "de": "orthosis.wall_mm von 1.6 auf 2 (0,83 mm)",
    }[language] in text


def test_findings_and_record_hold_plans_and_advice(sheet_data, tmp_path: Path) -> None:
    data = changed(sheet_data("mallet_with_pip_block_two_piece"), advice=(THICKER,), findings=(PRESSED,))
    writers(data, frozenset({"json"}))["findings.json"](tmp_path / "findings.json")
    write_record(tmp_path / "record.json", data)
    for name in ("findings.json", "record.json"):
        found = json.loads((tmp_path / name).read_text(encoding="utf-8"))
        assert [each["part"] for each in found["print"]] == [part.name for part in data.modelled.parts]
        assert [each["side_up"] for each in found["print"]] == [plan.side_up for plan in data.plans]
        assert found["advice"] == [
            {
                "finding": "wall.thinnest",
                "part": PART,
                "joint": None,
                "of": {},
                "option": "orthosis.wall_mm",
                "now": 1.6,
                "then": 2.0,
                "measured": 0.83,
                "unit": "mm",
            }
        ]
        (finding,) = found["findings"]
        assert (finding["holds"], finding["is_watched"], finding["verdict"]) == (True, True, "watch")
