"""Letters and the arrow to the fingertip as contours in the pattern plane.

The font is DejaVu Sans Bold (open licence), read with fontTools.
"""

from functools import cache
from typing import Any, Literal

import numpy as np
import shapely

from print3d.errors import ShapingError
from print3d.geometry.types import Floats
from print3d.language.fonts import font_file
from print3d.language.message import message
from print3d.shell.curves import sampled
from print3d.shell.pattern import Loop

CORNER_MM = 0.15
"""Corners of letters are rounded by this much, so that their contours are smooth curves."""
SAMPLE_MM = 0.16
"""Spacing of a contour's samples: about the radius of its corners; own choice."""
TRACKING = 0.12
"""Extra space between letters, in letter heights: raised letters run together when printed close."""
SLASH_BOLD = 0.24
"""Breadth of the slash in heights of a capital, nearly that of the strokes beside it; own choice."""
SLASH_LEAN = 0.32
"""How far the slash leans, in heights of a capital; own choice."""
CURVE_STEPS = 6
"""Straight steps of a curve of the font; own choice."""


def letter_loops(
    text: str,
    centre: tuple[float, float],
    height_mm: float,
    *,
    reading: Literal["distally", "proximally"] = "distally",
    is_mirrored: bool = False,
) -> tuple[Loop, ...]:
    """Return the contours of `text`, in one line along the limb, centred on `centre` (along, around).

    height_mm : height of a capital letter
    reading : the direction in which the line runs
    is_mirrored : reflect the text, for a shell that is itself mirrored afterwards
    """
    shape = text_shape(text, height_mm)
    low_x, low_y, high_x, high_y = shape.bounds
    middle = np.array([(low_x + high_x) / 2, (low_y + high_y) / 2])
    turn = 1.0 if reading == "distally" else -1.0
    flip = -1.0 if is_mirrored else 1.0

    def placed(points: Floats) -> Floats:
        return np.asarray(centre) + (points - middle) * [turn, turn * flip]

    return contours(shapely.transform(shape, placed))


def contours(shape: shapely.Geometry) -> tuple[Loop, ...]:
    """Return every contour of a polygon or multipolygon as a mark; counters run clockwise."""
    loops = []
    for polygon in shapely.get_parts(shape):
        loops.append(
            sampled(np.asarray(polygon.exterior.coords)[:-1], "mark", SAMPLE_MM, counter_clockwise=True)
        )
        for hole in polygon.interiors:
            loops.append(sampled(np.asarray(hole.coords)[:-1], "mark", SAMPLE_MM, counter_clockwise=False))
    return tuple(loops)


def text_size(text: str, height_mm: float) -> tuple[float, float]:
    """Return length and height (mm) that `text` takes."""
    low_x, low_y, high_x, high_y = text_shape(text, height_mm).bounds
    return high_x - low_x, high_y - low_y


@cache
def text_shape(text: str, height_mm: float) -> shapely.Geometry:
    """Return `text` as polygons, x along the line, baseline at y = 0, corners slightly rounded."""
    scale = height_mm / _capital_height()
    pen, letters = 0.0, []
    for character in text:
        outline, advance = _glyph(character)
        if not outline.is_empty:
            at, size = pen, scale
            letters.append(shapely.transform(outline, lambda p, at=at, size=size: p * size + [at, 0.0]))
        pen += advance * scale + TRACKING * height_mm
    shape = shapely.union_all(letters)
    if shape.is_empty:
        raise ShapingError(message("refusals.shell.no_letter", text=text))
    return shape.buffer(-CORNER_MM).buffer(2 * CORNER_MM).buffer(-CORNER_MM)


@cache
def _glyph(character: str) -> tuple[shapely.Geometry, float]:
    """Outline of one character in font units, and its advance."""
    if character in OWN:
        return OWN[character]()
    font = _font()
    name = font.getBestCmap().get(ord(character))
    if name is None:
        raise ShapingError(message("refusals.shell.no_character", character=character))
    from fontTools.pens.recordingPen import DecomposingRecordingPen

    glyphs = font.getGlyphSet()
    pen = DecomposingRecordingPen(glyphs)
    glyphs[name].draw(pen)
    shape = shapely.Polygon()
    for ring in _rings(pen.value):
        shape = shape.symmetric_difference(shapely.Polygon(ring))
    return shape, float(glyphs[name].width)


def _arrow() -> tuple[shapely.Geometry, float]:
    """An arrow towards the fingertip, as high as a capital letter."""
    height = _capital_height()
    shaft = shapely.box(0.0, 0.36 * height, 0.9 * height, 0.64 * height)
    head = shapely.Polygon([(0.75 * height, 0.0), (1.5 * height, 0.5 * height), (0.75 * height, height)])
    return shaft.union(head), 1.5 * height


def _slash() -> tuple[shapely.Geometry, float]:
    """A slash as high and nearly as bold as the capitals; the font's is thin and reaches below the line."""
    height = _capital_height()
    bold, lean = SLASH_BOLD * height, SLASH_LEAN * height
    return shapely.Polygon([(0.0, 0.0), (bold, 0.0), (bold + lean, height), (lean, height)]), bold + lean


OWN = {"→": _arrow, "/": _slash}
"""Characters that are drawn here."""


def _rings(commands: list[tuple[str, tuple[tuple[float, float], ...]]]) -> list[Floats]:
    """Closed polylines of a recorded TrueType outline (lines and quadratic splines)."""
    rings: list[list[Floats]] = []
    t = np.linspace(0.0, 1.0, CURVE_STEPS + 1)[1:, None]
    for command, arguments in commands:
        points = [np.array(point, dtype=float) for point in arguments if point is not None]
        if command == "moveTo":
            rings.append([points[0]])
        elif command == "lineTo":
            rings[-1].append(points[0])
        elif command == "qCurveTo":
            *controls, last = points
            for number, control in enumerate(controls):
                start = rings[-1][-1]
                stop = last if number == len(controls) - 1 else (control + controls[number + 1]) / 2
                rings[-1].extend((1 - t) ** 2 * start + 2 * t * (1 - t) * control + t**2 * stop)
    return [np.array(ring) for ring in rings if len(ring) > 2]


@cache
def _font() -> Any:
    from fontTools.ttLib import TTFont

    return TTFont(font_file(is_bold=True), lazy=True)


@cache
def _capital_height() -> float:
    return float(_glyph("H")[0].bounds[3])
