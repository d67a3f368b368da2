"""Every sheet in both languages and on both papers: nothing cut, nothing over anything else, true to scale, same bytes."""

from pathlib import Path

import numpy as np
import pytest
from scipy import ndimage

from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES
from print3d.output.paper.fit_sheet import write_fit_sheet
from print3d.output.paper.measuring_sheet import write_measuring_form
from print3d.output.paper.paper import Columns, Paper
from print3d.output.paper.pattern_sheet import write_pattern_sheet
from print3d.output.paper.print_sheet import write_print_sheet
from print3d.output.paper.signs import BAR_MM, dot
from print3d.output.paper.tape_sheets import RING_SIZES, write_girth_strips, write_ring_gauges
from print3d.output.paper.wear_sheet import write_wear_sheet
from print3d.output.record.record import write_record
from print3d.output.record.record_sheet import write_record_sheet
from tests.conftest import in_ci
from tests.output.paper.conftest import DOT_MM, Pdf

LEAST_MARGIN_MM = 5.0
"""Office printers leave 4 to 6 mm white (common practice, no single source)."""
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # ISO 216; ANSI/ASME Y14.1 size A, 8.5 x 11 in
CASES = ("pip_extension", "dorsal_blocking_left", "figure_of_eight", "relative_motion_extension")


def write_all(folder: Path, data) -> list[Path]:
    write_pattern_sheet(folder / "pattern.pdf", data)
    write_print_sheet(folder / "print.pdf", data)
    write_wear_sheet(folder / "wear.pdf", data)
    write_fit_sheet(folder / "fit.pdf", data)
    write_record(folder / "record.json", data)
    write_record_sheet(folder / "record.pdf", data)
    return sorted(folder.glob("*.pdf"))


def faults(path: Path) -> list[str]:
    """Text outside the page's margins or over other text."""
    pdf, found = Pdf(path), []
    for number, (boxes, (width, height)) in enumerate(zip(pdf.boxes(), pdf.sizes_mm(), strict=True), start=1):
        for k, box in enumerate(boxes):
            if not (box.left > LEAST_MARGIN_MM and box.right < width - LEAST_MARGIN_MM):
                found.append(f"page {number}: {box.words!r} runs out at the side")
            if not (box.bottom > LEAST_MARGIN_MM and box.top < height - LEAST_MARGIN_MM):
                found.append(f"page {number}: {box.words!r} runs out above or below")
            found += [
                f"page {number}: {box.words!r} over {other.words!r}"
                for other in boxes[:k]
                if box.overlaps(other)
            ]
    return found


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", [in_ci(name) if name.startswith("dorsal") else name for name in CASES])
def test_no_text_of_a_case_is_cut_or_covered(sheet_data, tmp_path: Path, name: str, language) -> None:
    for path in write_all(tmp_path, sheet_data(name, language)):
        assert not faults(path), path.name


@pytest.mark.parametrize("language", [LANGUAGES[0], *map(in_ci, LANGUAGES[1:])])
def test_long_words_long_notes_and_many_estimates_still_fit(sheet_data, tmp_path: Path, language) -> None:
    for path in write_all(tmp_path, sheet_data("dorsal_blocking_left", language, "letter", is_awkward=True)):
        assert not faults(path), path.name


@pytest.mark.parametrize(("language", "size"), [("en", "letter"), in_ci("de", "a4")])
def test_no_text_of_a_blank_form_is_cut_or_covered(tmp_path: Path, language, size) -> None:
    for kind in KINDS:
        write_measuring_form(tmp_path / f"{kind}.pdf", kind, language, size)
    write_girth_strips(tmp_path / "strips.pdf", language, size)
    write_ring_gauges(tmp_path / "gauges.pdf", language, size)
    for path in sorted(tmp_path.glob("*.pdf")):
        assert not faults(path), path.name
        assert Pdf(path).sizes_mm()[0] == pytest.approx(PAPERS_MM[size], abs=0.01)


def test_text_over_text_and_beside_the_page_is_found(tmp_path: Path) -> None:
    paper = Paper("Planted", "X")
    page = paper.on_page()
    page.write((50.0, 100.0), "one line")
    page.write((52.0, 101.0), "another over it")
    page.write((190.0, 120.0), "a line that runs out of the page")
    paper.save(tmp_path / "planted.pdf", "foot")
    found = faults(tmp_path / "planted.pdf")
    assert any("over" in each for each in found)
    assert any("side" in each for each in found)


def test_text_without_a_place_to_break_is_broken_anywhere(tmp_path: Path) -> None:
    paper = Paper("Long", "X")
    paper.paragraph("a " + "x" * 300 + " b")
    paper.items(["y" * 300], dot)
    paper.table([("z" * 300, "")], Columns((1, 5)))
    paper.save(tmp_path / "long.pdf", "foot")
    text = Pdf(tmp_path / "long.pdf").text()
    assert [text.count(letter) for letter in "xyz"] == [300, 300, 300]
    assert not faults(tmp_path / "long.pdf")


def test_a_list_and_a_table_go_on_over_pages(tmp_path: Path) -> None:
    paper = Paper("Long", "X")
    paper.items([f"item {number}" for number in range(120)], dot)
    paper.table(
        [(f"row {number}", "text " * 30) for number in range(60)], Columns((1, 2), head=("left", "right"))
    )
    paper.save(tmp_path / "long.pdf", "foot")
    pdf = Pdf(tmp_path / "long.pdf")
    text = pdf.text()
    assert all(f"item {number}" in text for number in range(120))
    assert all(f"row {number}" in text for number in range(60))
    assert f"page {len(pdf.document)} of {len(pdf.document)}" in text
    assert not faults(tmp_path / "long.pdf")


# --- true to scale ---------------------------------------------------------------------------------------------------


def extent_mm(dark: np.ndarray, axis: int) -> float:
    """Length along one axis of what is dark in a picture at 600 dpi."""
    places = np.flatnonzero(dark.any(axis=1 - axis))
    return float(places[-1] + 1 - places[0]) * DOT_MM


def bars_mm(pdf: Pdf, page: int, origin: tuple[float, float]) -> tuple[float, float]:
    """Length of the two control bars of a page; nothing else is dark where they are looked for."""
    dark, dot_mm = pdf.picture(page) < 128, 1.0 / DOT_MM
    x, y = origin

    def window(low: tuple[float, float], high: tuple[float, float]) -> np.ndarray:
        (left, foot), (right, top) = low, high
        return dark[int(foot * dot_mm) : int(top * dot_mm), int(left * dot_mm) : int(right * dot_mm)]

    across = window((x + 4.0, y + 0.2), (x + 113.0, y + 1.8))
    up = window((x + 0.2, y + 4.0), (x + 1.8, y + 113.0))
    return extent_mm(across, 1), extent_mm(up, 0)


@pytest.mark.parametrize("size", PAPERS_MM)
def test_the_control_bars_measure_100_mm(sheet_data, tmp_path: Path, size) -> None:
    write_girth_strips(tmp_path / "strips.pdf", "en", size)
    write_ring_gauges(tmp_path / "gauges.pdf", "en", size)
    data = sheet_data("dorsal_blocking_left", size=size)
    write_pattern_sheet(tmp_path / "pattern.pdf", data)
    pages = [("strips", 0, (8.0, 17.0)), ("gauges", 0, (8.0, 17.0))]
    pages += [
        ("pattern", page, (8.0, 15.0)) for page in range(1, len(Pdf(tmp_path / "pattern.pdf").document))
    ]
    assert len(pages) > 3
    for name, page, origin in pages:
        assert bars_mm(Pdf(tmp_path / f"{name}.pdf"), page, origin) == pytest.approx(
            (BAR_MM, BAR_MM), abs=0.2
        ), name


def test_a_pdf_asks_the_printer_not_to_scale_and_holds_its_fonts(tmp_path: Path) -> None:
    write_ring_gauges(tmp_path / "gauges.pdf", "en")
    content = (tmp_path / "gauges.pdf").read_bytes()
    assert b"/PrintScaling /None" in content
    fonts = content.count(b"/BaseFont")
    assert fonts == content.count(b"/FontFile2") + 0 > 0
    assert b"Helvetica" not in content


def test_a_ring_gauge_is_as_wide_as_its_size_says(tmp_path: Path) -> None:
    """ISO 8653: the size is the inner girth in mm; the published rounded table has 49 at 15.6 and 72 at 22.9 mm."""
    write_ring_gauges(tmp_path / "gauges.pdf", "en")
    bodies, _ = ndimage.label(Pdf(tmp_path / "gauges.pdf").picture(0) < 240)
    boxes = [
        (part[0].stop - part[0].start, part[1].stop - part[1].start) for part in ndimage.find_objects(bodies)
    ]
    sizes = np.array([box for box in boxes if min(box) > 10.0 / DOT_MM]) * DOT_MM
    found = np.sort(sizes, axis=0)
    assert found == pytest.approx(np.array([[ring / np.pi] * 2 for ring in range(41, 77)]), abs=0.1)
    assert found[[49 - 41, 72 - 41], 0] == pytest.approx([15.6, 22.9], abs=0.1)
    assert list(RING_SIZES) == list(range(41, 77))


# --- the same bytes --------------------------------------------------------------------------------------------------


def test_the_same_case_gives_the_same_bytes(sheet_data, tmp_path: Path) -> None:
    folders = tmp_path / "first", tmp_path / "second"
    for folder in folders:
        folder.mkdir()
        write_all(folder, sheet_data("figure_of_eight", "de"))
        write_measuring_form(folder / "form.pdf", "mallet", "de")
    first, second = ({path.name: path.read_bytes() for path in folder.iterdir()} for folder in folders)
    assert first == second
    assert len(first) == 7
