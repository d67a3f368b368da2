"""The picture of a case: the orthosis on its translucent limb, from four sides, at one scale.

+--------+--------+------------------+
| dorsal | volar  | radial           |     dorsal and volar with the fingertip up,
|   ^    |   ^    +------------------+     radial and ulnar with the back of the hand up
|   |    |   |    | ulnar            |
+--------+--------+------------------+
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from print3d.geometry.frames import DISTAL, DORSAL, RADIAL
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import Side, points_for_side
from print3d.geometry.types import Floats
from print3d.language.catalogue import Language, text
from print3d.language.fonts import font_file
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.hidden import draw_hidden
from print3d.output.pictures.limb_look import STRAP_COLOUR, Marks, drawn_limb
from print3d.output.pictures.render import DrawnBody, sight

SHELL_COLOUR = np.array([0.20, 0.48, 0.72])
"""Blue; red, green and blue from 0 to 1; own choice."""
INK = (30, 34, 40)
"""Of words; red, green and blue to 255."""
GREY = (96, 104, 114)
"""Of small words; red, green and blue to 255."""
FRAME = (205, 210, 216)
"""Of the frames of panels; red, green and blue to 255."""
SHEET = (1360, 1020)
"""Pixels of a sheet of four views, width and height; own choice."""
HEADER = 76
"""Pixels above the views for their title; own choice."""
TALL = range(280, 433, 19)
"""Widths that the dorsal and the volar panel may take; the one that shows most wins."""
MARGIN = (26, 72)
"""Pixels kept free at the sides, and above and below for words, in each panel."""
WORDS = 56
"""Pixels above and below that words take; a limb that goes on fades before them."""
LIMB_SHOWN = 0.3
"""This share of the orthosis' length is shown of the limb at its proximal end; towards the fingertip up to all of it."""
FADE = 70
"""Pixels over which a limb that goes on fades into the frame."""


@dataclass(frozen=True, eq=False)
class View:
    """A side to look from, and the panel (left, top, width, height) in pixels that it fills.

    across : what lies to the left and to the right, in words; empty where the name of the view says it
    """

    name: str
    forward: Floats
    up: Floats
    panel: tuple[int, int, int, int]
    across: tuple[str, str] = ("", "")


def views(side: Side, tall: int = 345, language: Language = "en") -> tuple[View, ...]:
    """Return the four views of a hand's limb frame; the dorsal and the volar panel are `tall` pixels wide."""
    radial = points_for_side(RADIAL, side)
    wide, high = SHEET[0] - 2 * tall, (SHEET[1] - HEADER) // 2
    across = across_words(side, language)
    dorsal, volar, towards, away = (
        text(f"report.live.look_{name}", language).capitalize()
        for name in ("dorsal", "volar", "radial", "ulnar")
    )
    return (
        View(dorsal, -DORSAL, DISTAL, (0, HEADER, tall, 2 * high), across),
        View(volar, DORSAL, DISTAL, (tall, HEADER, tall, 2 * high), across[::-1]),
        View(towards, -radial, DORSAL, (2 * tall, HEADER, wide, high)),
        View(away, radial, DORSAL, (2 * tall, HEADER + high, wide, high)),
    )


def across_words(side: Side, language: Language) -> tuple[str, str]:
    """Return what lies to the left and to the right when one looks from dorsal, fingertip up."""
    radial, ulnar = (text(f"report.live.look_{name}", language) for name in ("radial", "ulnar"))
    return (radial, ulnar) if side == "right" else (ulnar, radial)


@dataclass(frozen=True, eq=False)
class Wearer:
    """What is drawn beside the parts: the limb, its marks and the straps."""

    limb: Mesh
    marks: Marks = ()
    straps: Sequence[Mesh] = ()


def views_picture(
    parts: Sequence[Mesh], wearer: Wearer, *, title: str, side: Side, language: Language = "en"
) -> bytes:
    """Return a PNG of 1360 x 1020 pixels.

    It shows the parts on the limb from dorsal, volar, radial and ulnar, at one scale.
    """
    limb = wearer.limb
    drawn = [DrawnBody(part, SHELL_COLOUR) for part in parts]
    drawn += [DrawnBody(strap, STRAP_COLOUR) for strap in wearer.straps]
    box = shown_box(parts, limb)
    scale, shown = _layout(box, side, language)
    sheet = Image.new("RGB", SHEET, "white")
    draw = ImageDraw.Draw(sheet)
    head(draw, SHEET[0], title, text("report.picture.one_scale", language))
    for view in shown:
        camera = Camera(view.forward, view.up, box.mean(axis=0), scale, view.panel[2:])
        draw_on_limb(sheet, view, camera, (drawn, drawn_limb(limb, wearer.marks)), goes_on=True)
        annotate(draw, view, camera, language)
    return png(sheet)


def draw_on_limb(
    sheet: Image.Image,
    view: View,
    camera: Camera,
    bodies: tuple[Sequence[DrawnBody], DrawnBody],
    *,
    goes_on: bool,
) -> None:
    """Draw parts on a solid limb into a panel, what lies behind it as a dashed outline.

    A limb that goes on beyond the panel fades.
    """
    parts, limb = bodies
    seen = sight([*parts, limb], camera)
    picture = seen.picture([*(part.colour for part in parts), limb.colour])
    picture = clear_of_words(_faded(picture, camera) if goes_on else picture)
    left, top = view.panel[:2]
    sheet.paste(Image.fromarray(picture), (left, top))
    draw_hidden(ImageDraw.Draw(sheet), (left, top), seen, len(parts), camera.mm_per_pixel)


def png(sheet: Image.Image) -> bytes:
    """Return a picture as PNG."""
    file = io.BytesIO()
    sheet.save(file, format="PNG", compress_level=4)
    return file.getvalue()


def webp(picture: bytes) -> bytes:
    """Return a PNG as WebP, a quarter of the bytes, for pages that carry their pictures inside."""
    file = io.BytesIO()
    Image.open(io.BytesIO(picture)).save(file, format="WEBP", quality=90, method=2)
    return file.getvalue()


def shown_box(parts: Sequence[Mesh], limb: Mesh) -> Floats:
    """Return the corners (2, 3) of what a picture shows: the orthosis, its part of the limb, and the fingertip."""
    points = np.vstack([part.vertices for part in parts])
    low, high = points.min(axis=0), points.max(axis=0)
    length, along = high[0] - low[0], limb.vertices[:, 0]
    first = min(low[0], max(along.min(), low[0] - LIMB_SHOWN * length))
    last = max(high[0], min(along.max(), high[0] + length))
    skin = limb.vertices[(along >= first) & (along <= last)]
    box = np.array([np.vstack([low, skin]).min(axis=0), np.vstack([high, skin]).max(axis=0)])
    box[:, 0] = first, last
    return box


def _layout(box: Floats, side: Side, language: Language) -> tuple[float, tuple[View, ...]]:
    """Return the scale in mm per pixel, and the panels that allow the largest picture of the box."""
    layouts = [views(side, tall, language) for tall in TALL]
    scales = [max(scale_of(box, view) for view in each) for each in layouts]
    best = int(np.argmin(scales))
    return scales[best], layouts[best]


def scale_of(box: Floats, view: View) -> float:
    """Return the mm per pixel at which the box fits the view's panel."""
    size = box[1] - box[0]
    width, height = (pixels - 2 * margin for pixels, margin in zip(view.panel[2:], MARGIN, strict=True))
    across = np.abs(np.cross(view.forward, view.up))
    return float(max(across @ size / width, np.abs(view.up) @ size / height))


def _faded(picture: NDArray[np.uint8], camera: Camera) -> NDArray[np.uint8]:
    """Let a limb that goes on beyond the proximal edge of a picture (height, width, 3) fade into white."""
    height, width = picture.shape[:2]
    right, up = camera.right @ DISTAL, camera.up @ DISTAL
    if abs(up) > abs(right):  # above the bar for the scale
        from_edge = (np.arange(height)[::-1] if up > 0 else np.arange(height))[:, None] - WORDS
    else:
        from_edge = (np.arange(width) if right > 0 else np.arange(width)[::-1])[None, :] - 2
    return _whitened(picture, from_edge / FADE)


def clear_of_words(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Let a limb fade into white at the edges of a panel (height, width, 3).

    Above and below the panel has its words.
    """
    height, width = picture.shape[:2]
    rows, columns = np.arange(height), np.arange(width)
    from_words = np.minimum(rows, rows[::-1]) - WORDS
    from_sides = np.minimum(columns, columns[::-1]) - 2
    high = np.clip(from_words / (MARGIN[1] - WORDS), 0.0, 1.0)
    return _whitened(picture, high[:, None] * np.clip(from_sides / (MARGIN[0] - 2), 0.0, 1.0)[None, :])


def _whitened(picture: NDArray[np.uint8], share: Floats) -> NDArray[np.uint8]:
    """Leave a share (height or 1, width or 1) of a picture (height, width, 3) on white."""
    kept = np.clip(share, 0.0, 1.0)[..., None]
    return np.asarray(np.round(255.0 + kept * (picture - 255.0)), dtype=np.uint8)


def head(draw: ImageDraw.ImageDraw, width: int, title: str, note: str) -> None:
    """Draw title and note over a picture of some width, the title as large as there is room."""
    y, right = HEADER // 2, width - 28
    draw.text((right, y), note, fill=GREY, font=font(19), anchor="rm")
    room = right - draw.textlength(note, font=font(19)) - 2 * 28
    draw.text((28, y), title, fill=INK, font=fitted(draw, title, room, 32), anchor="lm")


def fitted(draw: ImageDraw.ImageDraw, words: str, room: float, largest: int) -> ImageFont.FreeTypeFont:
    """Return the largest bold font in which words take at most `room` pixels."""
    fonts = [font(size, bold=True) for size in range(largest, 12, -1)]
    return next((each for each in fonts if draw.textlength(words, font=each) <= room), fonts[-1])


def annotate(draw: ImageDraw.ImageDraw, view: View, camera: Camera, language: Language) -> None:
    """Draw frame, name of the view, where the fingertip and the sides are, and a bar for the scale."""
    left, top, width, height = view.panel
    draw.rectangle((left, top, left + width - 1, top + height - 1), outline=FRAME)
    draw.text((left + 18, top + 8), view.name, fill=INK, font=font(23, bold=True))
    draw.text(
        (left + width - 18, top + 10),
        _to_the_tip(camera, text("report.picture.fingertip", language)),
        fill=INK,
        font=font(18),
        anchor="ra",
    )
    for side, x, anchor in zip(view.across, (left + 12, left + width - 12), ("lm", "rm"), strict=True):
        draw.text(
            (x + (6 if anchor == "lm" else -6), top + 46), side, fill=GREY, font=font(17), anchor=anchor
        )
    length = bar_mm(camera.mm_per_pixel, min(200, width - 120))
    x, y, end = left + 22, top + height - 26, left + 22 + length / camera.mm_per_pixel
    draw.line((x, y, end, y), fill=INK, width=3)
    for at in (x, end):
        draw.line((at, y - 7, at, y + 7), fill=INK, width=3)
    draw.text((end + 12, y), f"{length} mm", fill=INK, font=font(20), anchor="lm")


def _to_the_tip(camera: Camera, tip: str) -> str:
    """An arrow and a word for the direction of the fingertip."""
    right, up = camera.right @ DISTAL, camera.up @ DISTAL
    if abs(up) > abs(right):
        return f"{tip} ↑" if up > 0 else f"{tip} ↓"
    return f"{tip} →" if right > 0 else f"← {tip}"


def bar_mm(mm_per_pixel: float, most: int = 200) -> int:
    """Return the longest of 1, 2, 5, 10, 20 ... mm that takes at most a number of pixels."""
    lengths = [step * 10**power for power in range(4) for step in (1, 2, 5)]
    return max((length for length in lengths if length / mm_per_pixel <= most), default=1)


@cache
def font(size: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    """Return the open font of the pictures."""
    return ImageFont.truetype(str(font_file(is_bold=bold)), size, layout_engine=ImageFont.Layout.BASIC)
