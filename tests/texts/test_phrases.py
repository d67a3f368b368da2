"""Sentences of checks and estimates in another language: nothing stays English, names and numbers come through."""

import pytest

from print3d import flow
from print3d.limb.estimates import measurement_warnings
from print3d.texts.phrases import is_known, phrase
from tests.conftest import CASES

QUICK = ("pip_extension", "figure_of_eight", "mallet", "relative_motion_flexion")
SENTENCES = [
    ("finding", "volar PIP orthosis: thinnest wall", "volare PIP-Orthese: dünnste Wand"),
    ("finding", "index MCP free to flex", "MCP am Zeigefinger frei zu beugen"),
    ("finding", "PIP extension stopped, angle of flexion (asked 12.5)", "PIP: Extension endet, Flexionswinkel (verlangt 12,5)"),
    ("source", "own choice: a part is printed in one piece", "eigene Wahl: ein Teil wird in einem Stück gedruckt"),
    ("estimate", "middle girth 62.5 mm, SD 3.8 (estimated from PIP girth)", "Umfang am Mittelglied 62,5 mm, SD 3,8 (geschätzt aus PIP-Umfang)"),
    ("estimate", "middle middle girth 62.5 mm, SD 3.8 (estimated from PIP girth and DIP girth)",
     "Mittelfinger: Umfang am Mittelglied 62,5 mm, SD 3,8 (geschätzt aus PIP-Umfang und DIP-Umfang)"),
]  # fmt: skip


@pytest.mark.parametrize(("topic", "english", "german"), SENTENCES)
def test_a_sentence_is_said_again(topic, english: str, german: str) -> None:
    assert phrase(english, topic, "de") == german
    assert phrase(english, topic, "en") == english


def test_what_nobody_wrote_a_template_for_stays_as_it_is() -> None:
    assert (
        phrase("our clinic's own remark about 2.5 mm", "told", "de") == "our clinic's own remark about 2.5 mm"
    )
    assert not is_known("our clinic's own remark about 2.5 mm", "told")


def unknown_in(name: str) -> list[str]:
    result = flow.check(flow.read(CASES / f"{name}.toml"), lambda step: None)
    assert result.findings
    said = [("finding", finding.what) for finding in result.findings]
    said += [("source", finding.source) for finding in result.findings]
    said += [("estimate", estimate) for estimate in result.estimates]
    said += [("told", told) for told in (*result.warnings, *result.remarks)]
    return [sentence for topic, sentence in said if not is_known(sentence, topic)]


@pytest.mark.parametrize("name", QUICK)
def test_every_sentence_about_a_case_can_be_said(name: str) -> None:
    assert unknown_in(name) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted({path.stem for path in CASES.glob("*.toml")} - set(QUICK)))
def test_every_sentence_about_every_case_can_be_said(name: str) -> None:
    assert unknown_in(name) == []


ODD_HANDS = [
    ({"hand_length_mm": 250.0}, {}),
    ({"hand_length_mm": 190.0, "wrist_girth_mm": 230.0}, {}),
    ({"hand_length_mm": 190.0, "age_years": 6.0}, {}),
    ({"hand_length_mm": 190.0}, {"ring": {"pip_girth_mm": 60.0, "dip_girth_mm": 70.0}}),
    ({"hand_length_mm": 190.0}, {"ring": {"pip_girth_mm": 95.0}}),
]


@pytest.mark.parametrize(("hand", "fingers"), ODD_HANDS)
def test_every_request_to_measure_again_can_be_said(hand, fingers) -> None:
    warnings = measurement_warnings(hand, "man", fingers)
    assert warnings
    assert [warning for warning in warnings if not is_known(warning, "told")] == []
    assert all("neu messen" in phrase(warning, "told", "de") for warning in warnings)
