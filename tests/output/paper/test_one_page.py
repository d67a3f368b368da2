"""Print sheet, wear sheet and fit sheet take one page where nothing much is watched, in every language and on both papers, and can be read."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from print3d.built import Built
from print3d.inputs.measured import FINGERS
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, text
from print3d.output.paper.drawing import BODY, LARGE, NOTE, Style
from print3d.output.paper.fit_sheet import write_fit_sheet
from print3d.output.paper.measuring_sheet import write_measuring_form
from print3d.output.paper.paper import FOOT_MM, HEADING, LEAST_PT, Paper
from print3d.output.paper.print_sheet import write_print_sheet
from print3d.output.paper.sheet import SCALES
from print3d.output.paper.wear_sheet import write_wear_sheet
from tests.conftest import CASES, in_ci
from tests.output.paper.conftest import FINDINGS, Pdf
from tests.output.paper.test_paper import PAPERS_MM, faults
from tests.shaped import changed, checked, shaped

SHEETS = {"print": write_print_sheet, "wear": write_wear_sheet, "fit": write_fit_sheet}
QUICK = {
    ("pip_extension", "de", "letter"),
    ("mallet", "en", "letter"),
    ("figure_of_eight", "de", "a4"),
    ("relative_motion_extension", "en", "a4"),
}


def most_pages(name: str) -> int:
    """Return how many pages a sheet of a worked case may take: what is watched or estimated in it may ask for a second one.

    A wear sheet that draws a hand and forearm, on the shorter paper and in the longer language, takes a third.
    """
    return 3 if name.startswith("dorsal_blocking") else 2


def sets() -> Iterator[Any]:
    for path in sorted(CASES.glob("*.toml")):
        for language in LANGUAGES:
            for size in PAPERS_MM:
                row = path.stem, language, size
                yield row if row in QUICK else in_ci(*row)


def on_paper(built: Built, language: str, size: str) -> Built:
    header = built.case.header.model_copy(update={"language": language, "paper": size})
    return changed(built, case=replace(built.case, header=header))


@pytest.mark.parametrize(("name", "language", "size"), list(sets()))
def test_each_sheet_is_one_page_with_nothing_cut(name: str, language, size, tmp_path: Path) -> None:
    is_quick = (name, language, size) in QUICK
    built = changed(shaped(name), findings=FINDINGS, advice=()) if is_quick else checked(name)
    for sheet, write in SHEETS.items():
        path = tmp_path / f"{sheet}.pdf"
        write(path, on_paper(built, language, size))
        assert len(Pdf(path).document) <= (1 if is_quick else most_pages(name)), sheet
        assert faults(path) == [], sheet


@pytest.mark.parametrize(
    "style", [BODY, NOTE, LARGE, HEADING, Style(7.5)], ids=lambda style: f"{style.size_pt:g}"
)
def test_no_scale_makes_text_too_small_to_read(style: Style) -> None:
    sizes = [Paper("t", "c", scale=scale).scaled(style) for scale in SCALES]
    assert sizes[0] == style
    assert all(each.size_pt >= min(LEAST_PT, style.size_pt) for each in sizes)
    assert all(before.size_pt >= after.size_pt for before, after in zip(sizes, sizes[1:], strict=False))


def test_a_sheet_too_long_for_any_scale_goes_on_at_its_usual_size(sheet_data, tmp_path: Path) -> None:
    data = sheet_data("pip_extension")
    long = changed(data, findings=FINDINGS * 40)
    write_fit_sheet(tmp_path / "long.pdf", long)
    assert len(Pdf(tmp_path / "long.pdf").document) > 1
    heights = [box.top - box.bottom for box in Pdf(tmp_path / "long.pdf").boxes()[0]]
    write_fit_sheet(tmp_path / "usual.pdf", data)
    usual = [box.top - box.bottom for box in Pdf(tmp_path / "usual.pdf").boxes()[0]]
    assert max(heights) == pytest.approx(max(usual), abs=0.01)


# --- blank forms -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "language", "size"),
    [
        (name, language, size) if (name, language, size) == ("dorsal_blocking", "de", "letter") else in_ci(name, language, size)
        for name in KINDS
        for language in LANGUAGES
        for size in PAPERS_MM
    ],
)  # fmt: skip
def test_a_form_breaks_no_heading_from_its_drawing_and_no_word(tmp_path: Path, name, language, size) -> None:
    kind = KINDS[name]
    write_measuring_form(tmp_path / "form.pdf", name, language, size)
    pdf = Pdf(tmp_path / "form.pdf")
    assert len(pdf.document) <= (4 if kind.takes_all_fingers else 2), name
    words = pdf.text().split()
    if kind.takes_all_fingers:
        assert all(text(f"measuring.short.{finger}", language) in words for finger in FINGERS), name
    for page in pdf.boxes():
        last = min((box for box in page if box.bottom > FOOT_MM), key=lambda box: box.bottom)
        assert last.words not in {text(f"measuring.form.{key}", language) for key in HEADINGS}, name


HEADINGS = ("palm_view", "girths", "angles", "hand")


def test_a_heading_goes_with_a_drawing_that_just_does_not_fit(tmp_path: Path) -> None:
    """Whatever room is left below a text, heading and drawing stand on one page."""
    for room in (0.5 * number for number in range(40)):
        paper = Paper("t", "c")
        paper.space(120.0 + room)
        paper.heading("Heading")
        paper.drawing(100.0).write((0.0, 50.0), "Drawing")
        paper.save(tmp_path / "kept.pdf", "foot")
        pages = [{box.words for box in page} for page in Pdf(tmp_path / "kept.pdf").boxes()]
        assert [page & {"Heading", "Drawing"} for page in pages if page & {"Heading", "Drawing"}] == [
            {"Heading", "Drawing"}
        ]
