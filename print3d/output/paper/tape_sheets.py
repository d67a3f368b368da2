"""Paper tapes to wrap around a finger, a hand or a forearm, at true size.

Ring sizes stand beside them as circles.
"""

from dataclasses import dataclass
from math import pi
from pathlib import Path

from reportlab.lib.utils import simpleSplit

from print3d import __version__
from print3d.language.catalogue import Language, lines, text
from print3d.output.paper.drawing import BOLD, MM, Drawing, Line, Point, Style
from print3d.output.paper.paper import Paper, Size
from print3d.output.paper.signs import dot, scale_bars

RING_SIZES = range(41, 77)
"""Inner girths in mm that a ring stick covers (ISO 8653)."""
COLUMNS = 6
"""Gauges beside each other; own choice."""
LEAST_ROW_MM = 24.0
"""Of the largest circle with its words."""
BESIDE_MM = 10.0
"""Distance of drawings from the left and the foot of the text: the control bars stand there."""


@dataclass(frozen=True)
class Strip:
    """A piece of tape: its width, the mm at its ends, and whether another piece is glued to it."""

    width_mm: float
    low_mm: int
    high_mm: int
    has_next: bool = False


STRIPS = (
    *[Strip(9.0, 0, 120)] * 4,
    Strip(13.0, 0, 140, True),
    Strip(13.0, 140, 280, True),
    Strip(13.0, 280, 420),
)
"""Four for fingers; one for hand and forearm in three pieces."""
APART_MM = 3.5
"""Room between two strips, to cut; own choice."""
TAIL_MM = 14.0
"""Room before the zero line, to hold the tape by; own choice."""
GLUE_MM = 12.0
"""Overlap of two pieces, to glue them; own choice."""
END_MM = 3.0
"""Room beyond the last mark where no piece follows; own choice."""
CUT, MARK = Line(0.3), Line(0.13)
TINY = Style(6.0)


def write_girth_strips(path: Path, language: Language, size: Size = "a4") -> None:
    """Write the strips, to be cut out."""
    paper = _paper("strips", language, size)
    drawing = paper.drawing(sum(each.width_mm + APART_MM for each in STRIPS) + APART_MM)
    y = drawing.height_mm - APART_MM
    for strip in STRIPS:
        y -= strip.width_mm + APART_MM
        _draw_strip(drawing, (BESIDE_MM, y), strip, language)
    _save(paper, path)


def write_ring_gauges(path: Path, language: Language, size: Size = "a4") -> None:
    """Write a circle of every ring size, as wide as the ring inside."""
    paper = _paper("gauges", language, size)
    n_rows = -(-len(RING_SIZES) // COLUMNS)

    def draw(drawing: Drawing) -> None:
        width, height = (paper.room + 6.0 - BESIDE_MM) / COLUMNS, (drawing.height_mm - BESIDE_MM) / n_rows
        for number, ring in enumerate(RING_SIZES):
            row, column = divmod(number, COLUMNS)
            centre = BESIDE_MM + (column + 0.5) * width, drawing.height_mm - row * height - 15.5
            _draw_ring(drawing, centre, ring, language)

    paper.drawing(n_rows * LEAST_ROW_MM + BESIDE_MM, rest=draw)
    _save(paper, path)


def _draw_ring(drawing: Drawing, centre: Point, ring: int, language: Language) -> None:
    x, y = centre
    drawing.circle(centre, ring / pi / 2, Line(0.0), fill=0.78)
    drawing.write((x, y - 1.1), text("measuring.gauges.size", language, size=ring), BOLD, "centre")
    below = text("measuring.gauges.diameter", language, diameter_mm=ring / pi)
    drawing.write((x, y - 15.6), below, TINY, "centre")


def _paper(topic: str, language: Language, size: Size) -> Paper:
    paper = Paper(text(f"measuring.{topic}.title", language), "", language, size)
    scale_bars(paper.on_page(), language)
    paper.paragraph(text(f"measuring.{topic}.lead", language))
    paper.items(lines(f"measuring.{topic}.steps", language), dot)
    return paper


def _save(paper: Paper, path: Path) -> None:
    paper.save(path, text("sheets.paper.foot_blank", paper.language, version=__version__))


def _draw_strip(drawing: Drawing, corner: Point, strip: Strip, language: Language) -> None:
    """Draw a tail to hold, the zero line, a scale in mm; a field for glue if another piece follows."""
    (x, y), width = corner, strip.width_mm
    length = strip.high_mm - strip.low_mm
    tail = TAIL_MM if strip.low_mm == 0 else 0.0
    zero = x + TAIL_MM
    if strip.has_next:
        drawing.box((zero + length, y), (GLUE_MM, width), Line(0.0), fill=0.88)
        middle = (zero + length + GLUE_MM / 2, y + width / 2 - 3.5)
        drawing.write(middle, text("measuring.strips.glue", language), TINY, "centre")
    end = GLUE_MM if strip.has_next else END_MM
    drawing.box((zero - tail, y), (tail + length + end, width), CUT)
    for at in range(strip.low_mm, strip.high_mm + 1):
        share = 0.62 if at % 10 == 0 else 0.42 if at % 5 == 0 else 0.27
        place = zero + at - strip.low_mm
        drawing.line([(place, y + width), (place, y + width * (1.0 - share))], MARK)
        if at % 10 == 0 and at > strip.low_mm:
            drawing.write((place, y + 0.9), str(at), TINY, "centre")
    drawing.line([(zero, y), (zero, y + width)], Line(0.35))
    if strip.low_mm == 0:
        _tail_words(drawing, (x + 1.0, y + width / 2), text("measuring.strips.zero", language))
    else:
        drawing.write((zero + 1.0, y + 0.9), str(strip.low_mm), TINY)


def _tail_words(drawing: Drawing, at: Point, words: str) -> None:
    rows = simpleSplit(words, TINY.font, TINY.size_pt, (TAIL_MM - 2.0) * MM)
    for number, row in enumerate(rows):
        drawing.write((at[0], at[1] + (len(rows) / 2 - number - 0.75) * TINY.line_mm), row, TINY)
