"""The straps on paper: where each lies, how it is cut and closed, how they are worn."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from print3d.built import Built
from print3d.forms.straps import WornStrap
from print3d.geometry.frames import DISTAL, DORSAL, RADIAL
from print3d.geometry.mirror import points_for_side
from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.language.catalogue import lines, number
from print3d.output.paper.drawing import LARGE
from print3d.output.paper.paper import Columns, Paper
from print3d.output.paper.words import Words
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.limb_look import STRAP_COLOUR, drawn_limb
from print3d.output.pictures.render import DrawnBody, render
from print3d.output.pictures.views import SHELL_COLOUR, font, shown_box

PIXELS_PER_MM = 8.0
"""Some 200 dots an inch: sharp on a usual printer."""
TALL_MM = 34.0
"""Largest height of the picture on the page; own choice."""
APART_MM = 6.0
"""Room between its two views; own choice."""
LARGEST_SCALE = 1.0
"""A small orthosis is drawn no larger than it is."""
DISC = 17
"""Radius of a numbered disc, pixels."""


def write_straps(paper: Paper, words: Words, built: Built) -> None:
    """Write the table of straps; nothing where there are none."""
    if not built.straps:
        return
    with paper.together():
        paper.heading(words("straps.table.head"))
        columns = [words(f"straps.table.{name}") for name in ("place", "width", "cut", "closure")]
        rows = [_row(words, place, strap) for place, strap in enumerate(built.straps, start=1)]
        paper.table(rows, Columns((46, 12, 14, 28), head=columns))


def _row(words: Words, place: int, strap: WornStrap) -> tuple[str, str, str, str]:
    width, cut = (number(length, words.language, decimals=0) for length in (strap.width_mm, strap.cut_mm))
    where = f"{place}  {strap.name.said(words.language)}"
    return where, width, cut, words(f"straps.closure.{strap.closure}")


def draw_worn(paper: Paper, built: Built) -> None:
    """Draw the orthosis as worn, from the thumb side and from the side of its straps."""
    seen = _seen(built, paper.room)
    tall = paper.scale * seen.tall_mm
    drawing = paper.drawing(tall + 2.0)
    for k, image in enumerate(seen.images):
        width, height = (paper.scale * pixels / PIXELS_PER_MM for pixels in image.size)
        corner = k * (paper.scale * seen.along_mm + APART_MM), 1.0 + (tall - height) / 2.0
        drawing.picture(corner, (width, height), image)


@dataclass(frozen=True)
class _Seen:
    """Views of an orthosis as worn, and the length and height that each takes at most at full scale."""

    along_mm: float
    tall_mm: float
    images: tuple[Image.Image, ...]


@kept
def _seen(built: Built, room_mm: float) -> _Seen:
    """Both views, kept, as a sheet is set again until it fits its page."""
    box = shown_box(list(built.meshes.values()), built.skin)
    radial = points_for_side(RADIAL, built.side)
    on_back = sum(strap.place.startswith("back") for strap in built.straps)
    is_back = 2 * on_back > len(built.straps) or not built.straps
    looks = ((-radial, DORSAL), (-DORSAL if is_back else DORSAL, radial))
    size = box[1] - box[0]
    along, across = float(size[0]), float(max(size[1], size[2]))
    scale = min(LARGEST_SCALE, TALL_MM / across, (room_mm - APART_MM) / 2.0 / along)
    images = tuple(_view(built, box, look, scale) for look in looks)
    return _Seen(scale * along, scale * across, images)


def _view(built: Built, box: Floats, look: tuple[Floats, Floats], scale: float) -> Image.Image:
    """One view, each strap with its number."""
    forward, up = look
    sides = np.abs(box[1] - box[0]) @ np.abs([DISTAL, up]).T
    pixels = tuple(int(each) for each in np.maximum(np.round(PIXELS_PER_MM * scale * sides), 1))
    camera = Camera(forward, up, box.mean(axis=0), 1.0 / (PIXELS_PER_MM * scale), (pixels[0], pixels[1]))
    bodies = [
        *(DrawnBody(part, SHELL_COLOUR) for part in built.meshes.values()),
        *(DrawnBody(strap.body, STRAP_COLOUR) for strap in built.straps),
        drawn_limb(built.skin, built.skin_marks),
    ]
    image = Image.fromarray(render(bodies, camera))
    _numbers(image, camera, built.straps)
    return image


def _numbers(image: Image.Image, camera: Camera, straps: Sequence[WornStrap]) -> None:
    draw = ImageDraw.Draw(image)
    for place, strap in enumerate(straps, start=1):
        points = camera.project(strap.body.vertices)
        column, row = (
            float(each) for each in points[points[:, 2] < np.median(points[:, 2]), :2].mean(axis=0)
        )
        draw.ellipse(
            (column - DISC, row - DISC, column + DISC, row + DISC), fill="white", outline="black", width=2
        )
        draw.text((column, row), str(place), fill="black", font=font(24, bold=True), anchor="mm")


def write_putting_on(paper: Paper, words: Words, built: Built, *, is_protected: bool) -> None:
    """Write how it is put on and taken off, in four steps each, or who does that."""
    with paper.together():
        paper.heading(words("straps.wear.head"))
        draw_worn(paper, built)
        if is_protected:
            paper.paragraph(words("straps.wear.therapist"), LARGE)
            return
        way = "strapped" if built.straps else "slid"
        steps = (lines(f"straps.wear.{side}_{way}", words.language) for side in ("on", "off"))
        head = [words(f"straps.wear.{side}") for side in ("on", "off")]
        paper.table(list(zip(*steps, strict=True)), Columns((50, 50), head=head))
