"""What the sheets say: the prescribed angles in plain words, and words for everything there is."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from print3d.inputs.materials import read_materials, read_printers
from print3d.inputs.measured import FingerMeasured, Measured
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, catalogue, lines, text
from print3d.output.paper.fit_sheet import write_fit_sheet
from print3d.output.paper.measuring_sheet import wanted_for
from print3d.output.paper.print_sheet import FINISH_OF, write_print_sheet
from print3d.output.paper.wear_sheet import write_wear_sheet
from tests.conftest import CASES
from tests.language.english import english_words
from tests.output.paper.conftest import Pdf
from tests.output.paper.test_paper import write_all
from tests.shaped import changed


def text_of(write, data, folder: Path) -> str:
    write(folder / "sheet.pdf", data)
    return Pdf(folder / "sheet.pdf").text()


WORKED = [
    "mallet", "mallet_with_pip_block", "pip_extension", "pip_extension_series", "figure_of_eight", "relative_motion_flexion",
    "dorsal_blocking_left",
]  # fmt: skip
PLAIN = [
    ("pip_extension", "en", "It holds the middle joint (PIP) straight."),
    ("pip_extension", "en", "You may move: end joint (DIP) and knuckle (MCP)"),
    ("mallet", "en", "It holds the end joint (DIP) stretched 5 degrees beyond straight."),
    ("mallet", "de", "Sie hält das Endgelenk (DIP) um 5 Grad überstreckt."),
    ("figure_of_eight", "en", "It stops the middle joint (PIP) from straightening beyond 10 degrees of bend."),
    ("relative_motion_extension", "en", "It holds the middle finger a little straighter at the knuckle than its neighbours, by 20"),
    ("dorsal_blocking", "de", "Sie hält das Handgelenk gestreckt."),
    ("dorsal_blocking", "en", "It stops the knuckle (MCP) from straightening beyond 50 degrees of bend."),
    ("dorsal_blocking", "en", "It stops the end joint (DIP) from going beyond straight."),
]  # fmt: skip


@pytest.mark.parametrize(("name", "language", "sentence"), PLAIN)
def test_the_wearer_reads_what_was_prescribed(
    sheet_data, tmp_path: Path, name: str, language, sentence: str
) -> None:
    assert sentence in text_of(write_wear_sheet, sheet_data(name, language), tmp_path)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_wearer_reads_the_materials_own_heat_limit_and_the_cautions(
    sheet_data, tmp_path: Path, language
) -> None:
    data = sheet_data("mallet", language)
    said = text_of(write_wear_sheet, data, tmp_path)
    assert f"{data.case.material.heat_ceiling_c.value:.0f} °C" in said
    assert all(caution in said for caution in lines("cautions.all", language))
    assert lines("kinds.mallet.wear", language)[0] in said


def test_the_fitting_has_design_and_failing_checks(sheet_data, tmp_path: Path) -> None:
    said = text_of(write_fit_sheet, sheet_data("pip_extension", "de"), tmp_path)
    for words in (
        "PIP gehalten 0°",
        "DIP frei 0° bis 80° Flexion",
        "0,51 mm, mindestens 0,8 mm",
        "Hand rechts, Mittelfinger",
    ):
        assert words in said


@pytest.mark.parametrize("name", ["pip_extension", "figure_of_eight"])
def test_german_sheets_have_no_english_word(sheet_data, name: str, tmp_path: Path) -> None:
    """All but what the clinic wrote and the case as it was read, which are what they are in any language."""
    data = sheet_data(name, "de")
    head = data.case.header.model_copy(update={"note": "Notiz"})
    data = changed(data, case=replace(data.case, header=head), findings=())
    begin, end = (" ".join(text(f"record.{each}.head", "de").split()) for each in ("case", "files"))
    for file in write_all(tmp_path, data):
        before, _, after = Pdf(file).text().partition(begin)
        rest = after.partition(end)[2]
        assert bool(after) == bool(rest) == (file.name == "record.pdf")
        assert english_words(before + rest) == [], file.name


def test_the_print_sheet_has_mass_and_size_of_the_mesh(sheet_data, tmp_path: Path) -> None:
    data = sheet_data("figure_of_eight")
    (mesh,) = data.meshes.values()
    said = text_of(write_print_sheet, data, tmp_path)
    volume = mesh.volume_mm3() / 1000
    assert f"{volume:.2f} {volume * data.case.material.density_g_per_cm3.value:.2f}" in said
    assert "none needed" in said  # laser sintering holds parts in powder
    assert "left hand. Do not mirror" in said
    assert "PY-055 L" in said


def test_walls_that_differ_are_named_with_their_part(sheet_data, tmp_path: Path) -> None:
    """The ring of two pieces is thicker than the shell: 2.4 and 2.0 mm in its options."""
    said = text_of(write_print_sheet, sheet_data("mallet_with_pip_block_two_piece"), tmp_path)
    assert said.count("figure-of-eight ring 2.8 mm and volar mallet orthosis 2.0 mm") == 2


def test_a_ring_comes_off_and_a_protected_tendon_keeps_its_position(sheet_data, tmp_path: Path) -> None:
    assert "Take the ring off at once" in text_of(write_wear_sheet, sheet_data("figure_of_eight"), tmp_path)
    for name in ("mallet", "dorsal_blocking", "relative_motion_extension"):
        said = text_of(write_wear_sheet, sheet_data(name), tmp_path)
        assert "keep the finger in the same position" in said


LEAVES_OFF = {
    "en": ("leave the orthosis off", "then taken off"),
    "de": ("Orthese weglassen", "dann abgelegt"),
}
STRAIGHT = {"en": ("straight", "flat on a table"), "de": ("gestreckt", "flach auf")}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", WORKED)
def test_no_sheet_leaves_a_healing_tendon_without_its_orthosis(sheet_data, tmp_path, name, language) -> None:
    for write in (write_wear_sheet, write_fit_sheet):
        said = text_of(write, sheet_data(name, language), tmp_path)
        assert [words for words in LEAVES_OFF[language] if words in said] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_pip_that_is_held_bent_is_never_told_to_be_straight(sheet_data, tmp_path, language) -> None:
    said = text_of(write_wear_sheet, sheet_data("pip_extension_series", language), tmp_path)
    assert [words for words in STRAIGHT[language] if words in said] == []
    held_straight = text_of(write_wear_sheet, sheet_data("pip_extension", language), tmp_path)
    assert STRAIGHT[language][0] in held_straight


@pytest.mark.parametrize("language", LANGUAGES)
def test_there_is_a_word_for_everything(language) -> None:
    known = catalogue(language)
    names = {f"kinds.{kind}.{name}" for kind in KINDS for name in ("name", "wear", "about.picture")}
    names |= {f"common.process.{printer.process}" for printer in read_printers().values()}
    names |= {f"common.material.{name}" for name in read_materials()}
    fields = {*FingerMeasured.model_fields, *Measured.model_fields}
    lengths = {name for name in fields if name.endswith(("_mm", "_deg"))} - {"stature_mm"}
    names |= {f"measuring.measure.{name}" for name in lengths}
    assert names - known.keys() == set()


def test_there_is_a_form_for_every_kind_and_a_finish_for_every_process() -> None:
    assert {printer.process for printer in read_printers().values()} <= FINISH_OF.keys()
    for kind in KINDS.values():
        wanted = wanted_for(kind)
        assert sorted((*wanted.hand, *wanted.finger, *wanted.angles)) == sorted(
            each.key for each in kind.measures
        )
        assert wanted.has_hand_drawing == kind.takes_all_fingers


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_what_a_shipped_case_measured_has_a_row_on_its_form(path: Path) -> None:
    """Common practice of the trade as the worked cases have it: whatever they measure can be written down."""
    case = tomllib.loads(path.read_text(encoding="utf-8"))
    wanted = wanted_for(KINDS[case["orthosis"]["kind"]])
    keys = {*wanted.hand, *wanted.finger, *wanted.angles}
    for key, value in case["measured"].items():
        given = set(value) if isinstance(value, dict) else {key} - {"sex", "age_years", "stature_mm"}
        assert given <= keys
