"""The drawing of the asked hand: thumb and nails tell the sides apart, and the finger is the case's own."""

import numpy as np
import pytest

from print3d.inputs.measured import FINGERS
from print3d.output.paper.which_hand import BACK, hand_shapes
from tests.output.paper.conftest import Pdf


@pytest.mark.parametrize(("side", "thumb_is_left"), [("right", True), ("left", False)])
def test_thumb_and_nails_tell_a_right_hand_from_a_left_one(side, thumb_is_left: bool) -> None:
    """Seen from the back with the fingertips up, a right hand's thumb is on the left (one's own hand)."""
    shapes = hand_shapes(side)
    middles = [np.mean(nail, axis=0) for nail in shapes.nails]
    assert len(middles) == len(FINGERS) + 1
    *fingers, thumb = middles
    assert (thumb[0] < min(each[0] for each in fingers)) == thumb_is_left
    assert thumb[1] < min(each[1] for each in fingers)
    order = [shapes.fingers[name].centroid.x for name in FINGERS]
    assert order == sorted(order, reverse=not thumb_is_left)
    tips = {name: shapes.fingers[name].bounds[3] for name in FINGERS}
    assert max(tips, key=lambda name: tips[name]) == "middle"


def test_the_sides_are_mirror_images() -> None:
    np.testing.assert_array_equal(BACK["left"], BACK["right"] * [[1.0, -1.0, 1.0], [1.0, 1.0, 1.0]])
    for right, left in zip(hand_shapes("right").nails, hand_shapes("left").nails, strict=True):
        np.testing.assert_allclose(left * [-1.0, 1.0], right, atol=1e-9)


@pytest.mark.parametrize("name", ["figure_of_eight", "mallet"])
def test_fit_and_print_sheet_say_which_hand(sheet_data, name: str, tmp_path) -> None:
    from print3d.output.paper.fit_sheet import write_fit_sheet
    from print3d.output.paper.print_sheet import write_print_sheet

    said = {"figure_of_eight": "The left hand, index finger", "mallet": "The right hand, ring finger"}[name]
    for write in (write_fit_sheet, write_print_sheet):
        write(tmp_path / "sheet.pdf", sheet_data(name))
        assert said in Pdf(tmp_path / "sheet.pdf").text()
