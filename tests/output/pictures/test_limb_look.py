"""Back and palm side are told apart at a glance: nails and straps show on their own side of every view, and in the page's scene."""

import io

import numpy as np
import pytest
from PIL import Image

from print3d.output.pictures.limb_look import MARK_COLOUR, STRAP_COLOUR
from print3d.output.pictures.of_case import views_of
from print3d.output.pictures.scene import build_scene
from print3d.output.pictures.views import FADE, HEADER, SHEET, TALL, WORDS
from tests.shaped import shaped


def alike(picture: np.ndarray, colour: np.ndarray) -> int:
    """How many pixels have the hue of a colour, in any light."""
    bright = np.maximum(picture.max(axis=2), 1e-9)
    is_lit = (bright > 0.15) & (picture.min(axis=2) < 0.999)
    return int(
        (is_lit & (np.abs(picture / bright[..., None] - colour / colour.max()).max(axis=2) < 0.03)).sum()
    )


def test_nail_and_straps_of_a_volar_gutter_show_on_the_back_and_not_on_the_palm_side() -> None:
    sheet = np.asarray(Image.open(io.BytesIO(views_of(shaped("pip_extension")))).convert("RGB")) / 255.0
    assert sheet.shape[:2] == SHEET[::-1]
    drawn = sheet[HEADER : -(WORDS + FADE)]  # skin that fades into white comes near to a nail's hue
    dorsal, volar = drawn[:, : min(TALL)], drawn[:, max(TALL) : 2 * min(TALL)]
    for colour in (MARK_COLOUR["nail"], STRAP_COLOUR):
        assert alike(dorsal, colour) > 10 * (alike(volar, colour) + 50)


@pytest.mark.parametrize("name", ["pip_extension", "mallet", "figure_of_eight"])
def test_the_scene_has_straps_and_marks_that_move_with_the_finger(name: str) -> None:
    built = shaped(name)
    scene = build_scene(built)
    assert [body.name for body in scene.of_role("strap")] == [strap.place for strap in built.straps]
    (nail,) = [body for body in scene.of_role("mark") if body.name == "nail"]
    assert nail.chain == tuple(hinge.key for hinge in scene.hinges)
    assert {body.name for body in scene.of_role("mark")} == {"nail", "crease"}
