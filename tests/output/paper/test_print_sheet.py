"""The print sheet: what the plan says, in the language of the case, and the part drawn as it lies on the bed."""

from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
import trimesh

from print3d.geometry.frames import rigid
from print3d.geometry.mesh import Mesh
from print3d.language.catalogue import LANGUAGES, catalogue, number
from print3d.output.paper.bed_drawing import APART_MM, BESIDE_MM, CAPTION_MM, ROOM_MM, draw_on_bed
from print3d.output.paper.drawing import Drawing
from print3d.output.paper.paper import Paper
from print3d.output.paper.print_sheet import write_print_sheet
from print3d.output.paper.words import Words
from print3d.printing.plan import SideUp
from tests.output.paper.conftest import DOT_MM, Pdf
from tests.shaped import changed

POSITIONS = [
    ([0.0, 0.0, 1.0], "back up", "Handrückenseite nach oben"),
    ([0.0, 0.6, -0.8], "palm side up, tilted", "Handflächenseite nach oben, gekippt"),
    ([-1.0, 0.0, 0.0], "wrist up", "Handgelenk nach oben"),
    ([0.8, 0.6, 0.0], "fingertip up, tilted", "Fingerspitze nach oben, gekippt"),
    ([0.1, 0.995, 0.0], "thumb side up", "Daumenseite nach oben"),
    ([0.1, -0.995, 0.0], "little-finger side up", "Kleinfingerseite nach oben"),
]
"""Upward direction in the limb frame (x to the fingertip, y to the thumb, z to the back of the hand) and its names."""


@pytest.mark.parametrize(("up", "english", "german"), POSITIONS)
def test_the_side_that_points_upward_has_a_name_in_every_language(
    sheet_data, up, english: str, german: str
) -> None:
    (plan,) = sheet_data("mallet").plans
    turned = np.eye(4)
    turned[2, :3] = up
    plan = replace(plan, bed_from_limb=turned)
    assert plan.position() == plan.as_data()["position"] == english
    assert plan.position("de") == german


@pytest.mark.parametrize("language", LANGUAGES)
def test_there_is_a_word_for_every_side(language) -> None:
    assert {f"common.side_up.{side}" for side in get_args(SideUp)} <= catalogue(language).keys()


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_sheet_says_what_the_plan_says(sheet_data, tmp_path: Path, language) -> None:
    data = sheet_data("pip_extension", language)
    (plan,) = data.plans
    write_print_sheet(tmp_path / "print.pdf", data)
    text = Pdf(tmp_path / "print.pdf").text()
    hours, minutes = divmod(round(plan.seconds / 60), 60)
    assert plan.supports.volume_mm3 > 0.0
    for words in (
        plan.position(language),
        f"{plan.size_mm[2]:.0f} mm h",
        f" {plan.layers} ",
        f"{hours} h {minutes:02d} min",
        f"{100 * plan.strength:.0f} %",
        f"{number(plan.support_mass_g, language)} g",
    ):
        assert words in text


def test_time_is_left_to_the_slicer_where_nobody_knows_the_pace(sheet_data, tmp_path: Path) -> None:
    data = sheet_data("pip_extension")
    unknown = data.case.printer.model_copy(update={"layer_s": None})
    write_print_sheet(tmp_path / "print.pdf", changed(data, case=replace(data.case, printer=unknown)))
    assert "from the slicer: ____" in Pdf(tmp_path / "print.pdf").text()


def test_a_part_is_drawn_on_the_bed_at_true_scale_and_turned_as_planned(tmp_path: Path) -> None:
    """A block of 5 x 20 x 10 mm whose y goes to the bed's x, its z to the bed's y: 20 wide, 10 deep, 5 high."""
    block = trimesh.creation.box((5.0, 20.0, 10.0))
    mesh = Mesh(np.asarray(block.vertices), np.asarray(block.faces))
    bed_from_part = rigid(
        np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]), np.array([7.0, 3.0, 2.5])
    )
    paper = Paper("Planted", "X")
    paper.new_page()
    draw_on_bed(paper, Words("en"), mesh, bed_from_part)
    (drawing,) = (each for each in paper.story if isinstance(each, Drawing))
    foot = paper.corner[1] + paper.depth - drawing.height_mm + CAPTION_MM
    paper.save(tmp_path / "drawn.pdf", "foot")
    drawn = Pdf(tmp_path / "drawn.pdf").picture(1) < 245
    for place, tall in enumerate((5.0, 10.0)):
        left = paper.corner[0] + place * (ROOM_MM + APART_MM)
        low, high = (foot + 0.4, foot + 15.0), (left, left + 20.0 + 2 * BESIDE_MM + 0.5)
        rows, columns = (slice(*(int(each / DOT_MM) for each in ends)) for ends in (low, high))
        found = [np.flatnonzero(drawn[rows, columns].any(axis=axis)) for axis in (0, 1)]
        spans = [(each[-1] - each[0] + 1) * DOT_MM for each in found]
        assert spans == pytest.approx([20.0, tall - 0.4], abs=0.25)
    assert "from the front of the bed, 20 mm wide" in Pdf(tmp_path / "drawn.pdf").text()


def test_a_picture_stays_on_the_page_of_its_table(sheet_data, tmp_path: Path) -> None:
    write_print_sheet(tmp_path / "print.pdf", sheet_data("mallet_with_pip_block_two_piece"))
    pages = [" ".join(box.words for box in boxes) for boxes in Pdf(tmp_path / "print.pdf").boxes()]
    assert [page.count("How it is placed") for page in pages] == [1]
    assert [page.count("from above") for page in pages] == [2]
    assert all(
        page.count(name) >= 3 for name in ("figure-of-eight ring", "volar mallet orthosis") for page in pages
    )


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", ["pip_extension", "mallet", "figure_of_eight"])
def test_the_sheet_has_every_strap_with_place_width_cut_and_closure(
    sheet_data, tmp_path: Path, kind: str, language
) -> None:
    """And no table where nothing is strapped."""
    data = sheet_data(kind, language)
    write_print_sheet(tmp_path / "print.pdf", data)
    text = " ".join(Pdf(tmp_path / "print.pdf").text().split())
    words = Words(language)
    assert (words("straps.table.head")[:20] in text) == bool(data.straps) == (kind != "figure_of_eight")
    for strap in data.straps:
        assert strap.name.said(language)[:18] in text
        assert f" {strap.width_mm:.0f} {strap.cut_mm:.0f} " in text
        assert words(f"straps.closure.{strap.closure}")[:16] in text
