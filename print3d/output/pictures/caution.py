"""Pictures that leave the program carry what is always said beside an orthosis, below them."""

import io

from PIL import Image, ImageDraw

from print3d.language.catalogue import Language, text
from print3d.output.pictures.views import GREY, fitted, png

BELOW = 40
"""Pixels below a picture for its caution; own choice."""
SIDES = 28
"""Pixels left free beside it; own choice."""
LARGEST = 19
"""Size of its letters where there is room; own choice."""


def with_caution(picture: bytes, language: Language) -> bytes:
    """Return a PNG with a line below it."""
    shown = Image.open(io.BytesIO(picture))
    sheet = Image.new("RGB", (shown.width, shown.height + BELOW), "white")
    sheet.paste(shown)
    draw, words = ImageDraw.Draw(sheet), text("cautions.short", language)
    letters = fitted(draw, words, shown.width - 2 * SIDES, LARGEST)
    draw.text((SIDES, shown.height + BELOW // 2), words, fill=GREY, font=letters, anchor="lm")
    return png(sheet)
