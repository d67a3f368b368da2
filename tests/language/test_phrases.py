"""Sentences of checks and estimates in another language: nothing stays English, names and numbers come through."""

import re

import pytest

from print3d.checks.limits import limits_of_case
from print3d.inputs.materials import read_materials, read_printers
from print3d.language.phrases import Topic, is_known, phrase
from print3d.limb.estimates import measurement_warnings
from print3d.output.estimates import one_by_one
from tests.conftest import CASES
from tests.shaped import checked

QUICK = ("pip_extension", "figure_of_eight", "mallet", "relative_motion_flexion")
SENTENCES = [
    ("finding", "volar PIP orthosis: thinnest wall", "volare PIP-Orthese: dünnste Wand"),
    ("finding", "index MCP free to flex", "MCP am Zeigefinger frei zu beugen"),
    ("finding", "PIP extension stopped, angle of flexion (asked 12.5)", "PIP: Extension endet, Flexionswinkel (verlangt 12,5)"),
    ("source", "Material extrusion, nozzle 0.4 mm: newayprecision bureau table", "Materialextrusion, Düse 0,4 mm: Tabelle des Druckdienstes newayprecision"),
    ("finding", "Neutral: supports against the part's own volume", "Neutral: Stützen gegen das eigene Volumen"),
    ("source", "own choice: nothing is too much, a box without the part is all there can be; to be watched above a quarter of the part",
     "eigene Wahl: nichts ist zu viel, mehr als der Quader ohne das Teil kann es nicht sein; zu beobachten über einem Viertel des Teils"),
    ("source", "own choice: a part is printed in one piece", "eigene Wahl: ein Teil wird in einem Stück gedruckt"),
    ("estimate", "middle girth 62.5 mm, SD 3.8 (estimated from PIP girth)", "Umfang am Mittelglied 62,5 mm, SD 3,8 (geschätzt aus PIP-Umfang)"),
    ("estimate", "middle middle girth 62.5 mm, SD 3.8 (estimated from PIP girth and DIP girth)",
     "Mittelfinger: Umfang am Mittelglied 62,5 mm, SD 3,8 (geschätzt aus PIP-Umfang und DIP-Umfang)"),
    ("estimate", "little middle 22.7 mm, SD 1.4 (estimated from hand length)", "Kleinfinger: Mittelglied 22,7 mm, SD 1,4 (geschätzt aus Handlänge)"),
    ("finding", "PIP at rest, strap over the back of the proximal phalanx: mean pressure (31 mmHg)",
     "PIP in Ruhe, Gurt auf der Streckseite, Grundglied: mittlerer Druck (31 mmHg)"),
    ("finding", "wrist with hanging hand, strap over the palm side of the forearm 134 mm away: mean pressure (9 mmHg)",
     "Handgelenk mit hängender Hand, Gurt auf der Beugeseite, Unterarm, 134 mm entfernt: mittlerer Druck (9 mmHg)"),
    ("finding", "ring MCP at rest, index finger, volar side: mean pressure (5 mmHg)",
     "MCP am Ringfinger in Ruhe, Zeigefinger, Beugeseite: mittlerer Druck (5 mmHg)"),
    ("finding", "MCP: bears on either side of the joint and against it", "MCP: Anlage beiderseits des Gelenks und dagegen"),
    ("finding", "sleeve PIP orthosis snapped on: peak stress", "PIP-Hülse beim Aufschnappen: größte Spannung"),
    ("finding", "dorsal blocking orthosis: second moment over the wrist, with ridges over without",
     "dorsale Blockierorthese: Flächenmoment über dem Handgelenk, mit Rippen zu ohne"),
    ("source", "own choice, worn 8 h a day, so that skin rests in between (orthosis.wear_hours_per_day); watch above 10.0 kPa: "
     "own choice, worn 8 h a day: what skin is not to bear all day",
     "eigene Wahl, 8 h am Tag getragen, sodass die Haut zwischendurch ruht (orthosis.wear_hours_per_day); zu beobachten über "
     "10,0 kPa: eigene Wahl, 8 h am Tag getragen: was die Haut nicht den ganzen Tag tragen soll"),
    ("method", "orthosis.end_force_n = 1.15 (117 g) would hold for 20 h a day", "orthosis.end_force_n = 1,15 (117 g) genügte für 20 h am Tag"),
    ("method", "orthosis.wear_hours_per_day = 8 would hold with this force", "orthosis.wear_hours_per_day = 8 genügte bei dieser Kraft"),
    ("method", "this strap would press with 3.1 kPa half as wide again", "dieser Gurt würde mit 3,1 kPa drücken, wäre er um die Hälfte breiter"),
    ("source", "own choice, worn 8 h a day, so that skin rests in between (8 to 12 h a day under such a force (Prosser 1996), so that skin rests "
     "in between); watch above 10.0 kPa: own choice, worn 8 h a day: what skin is not to bear all day",
     "eigene Wahl, 8 h am Tag getragen, sodass die Haut zwischendurch ruht (8 bis 12 h am Tag bei solcher Kraft (Prosser 1996), sodass die "
     "Haut zwischendurch ruht); zu beobachten über 10,0 kPa: eigene Wahl, 8 h am Tag getragen: was die Haut nicht den ganzen Tag tragen soll"),
    ("source", "30 MPa of PETG (conservative yield; common practice, no single source) x 0.6 across layers (middle of the usual 0.5 "
     "to 0.7 between layers; common practice, no single source) / safety factor 2 (own choice)",
     "30 MPa für PETG (vorsichtige Streckgrenze; gängige Praxis, keine einzelne Quelle) x 0,6 quer zu den Schichten (Mitte der "
     "üblichen 0,5 bis 0,7 zwischen Schichten; gängige Praxis, keine einzelne Quelle) / Sicherheitsfaktor 2 (eigene Wahl)"),
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


ENGLISH = re.compile(
    r"\b(the|of|and|is|are|than|with|usual|from|memory|no|own|choice|to|for|against|as|across|strap|shell|side|less)\b"
)
TITLES = re.compile("Brigham and Women's Hospital|Electronic Textbook of Hand Surgery")


def test_half_said_sentences_are_found() -> None:
    sentence = "Material extrusion, nozzle 0.4 mm: as the neighbour's machine does"
    assert is_known(sentence, "source")
    assert is_half_said("source", sentence)


def is_half_said(topic: Topic, sentence: str) -> bool:
    """Whether English words are left inside a German sentence; titles of books and houses may stay."""
    return ENGLISH.search(TITLES.sub("", phrase(sentence, topic, "de"))) is not None


@pytest.mark.parametrize("name", read_materials())
def test_every_limit_of_every_material_can_be_said(make_case, name: str) -> None:
    material = read_materials()[name]
    printers = [key for key, printer in read_printers().items() if printer.process in material.processes]
    assert printers
    for printer in printers:
        case = make_case({"kind": "pip_extension"}, print={"material": name, "printer": printer})
        limits = limits_of_case(case)
        found = [
            getattr(limits, key)
            for key in ("wall_mm", "hole_mm", "text_width_mm", "text_height_mm", "text_depth_mm", "rim_radius_mm",
                        "gap_mm", "donning_strain_percent")
        ]  # fmt: skip
        sources = [each.source for each in (*found, limits.strength.stress_mpa)]
        assert [
            each for each in sources if not is_known(each, "source") or is_half_said("source", each)
        ] == []


def unknown_in(name: str) -> list[str]:
    """Sentences about a case that stay English, all of them or in part."""
    result = checked(name)
    assert result.findings
    said: list[tuple[Topic, str]] = [("finding", finding.what) for finding in result.findings]
    said += [("source", finding.source) for finding in result.findings]
    said += [("estimate", estimate) for estimate in one_by_one(result.estimates)]
    said += [("told", told) for told in (*result.warnings, *result.remarks)]
    return [each for topic, each in said if not is_known(each, topic) or is_half_said(topic, each)]


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
