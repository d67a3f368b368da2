"""Paper tapes to wrap around a finger, a hand or a forearm, and ring sizes as circles, all at true size."""

from math import pi
from pathlib import Path

from print3d import __version__
from print3d.language.catalogue import Language, lines, text
from print3d.output.paper.paper import Line, Paper, Size, Style, wrapped
from print3d.output.paper.signs import dot, scale_bars

RING_SIZES = range(41, 77)
"""Inner girths in mm that a ring stick covers (ISO 8653)."""
COLUMNS = 6
"""Gauges beside each other; own choice."""
FINGER_MM = 120
"""Length that a finger's tape measures: above every finger's girth."""
FINGER_STRIPS = 4
"""Tapes of a finger on a sheet; own choice."""
FINGER_WIDTH_MM = 9.0
"""Width of a finger's tape; own choice."""
LONG_MM = 140
"""Length that each piece of a forearm's tape measures, so that it fits the page; own choice."""
LONG_PIECES = 3
"""Pieces of a forearm's tape: 420 mm in all."""
LONG_WIDTH_MM = 13.0
"""Width of a forearm's tape; own choice."""
TAIL_MM = 14.0
"""Room before the zero line, to hold the tape by; own choice."""
GLUE_MM = 12.0
"""Overlap of two pieces, to glue them; own choice."""
CUT, MARK = Line(0.3), Line(0.13)
TINY = Style(6.0)


def write_girth_strips(path: Path, language: Language, size: Size = "a4") -> None:
    """Write strips for fingers, and one for hand and forearm in pieces that are glued together."""
    paper = _paper("strips", language, size)
    scale_bars(paper)
    x, y = 26.0, paper.y - 8.0
    for _ in range(FINGER_STRIPS):
        y -= FINGER_WIDTH_MM + 3.0
        _strip(paper, (x, y), FINGER_WIDTH_MM, (0, FINGER_MM))
    y -= 4.0
    for piece in range(LONG_PIECES):
        y -= LONG_WIDTH_MM + 3.0
        _strip(
            paper,
            (x, y),
            LONG_WIDTH_MM,
            (piece * LONG_MM, (piece + 1) * LONG_MM),
            more=piece + 1 < LONG_PIECES,
        )
    _save(paper, path)


def write_ring_gauges(path: Path, language: Language, size: Size = "a4") -> None:
    """Write a circle of every ring size, as wide as the ring inside."""
    paper = _paper("gauges", language, size)
    scale_bars(paper)
    rows = -(-len(RING_SIZES) // COLUMNS)
    left, foot, top = 26.0, 26.0, paper.y - 2.0
    width, height = (paper.width - left - 10.0) / COLUMNS, (top - foot) / rows
    for number, ring in enumerate(RING_SIZES):
        column, row = number % COLUMNS, number // COLUMNS
        diameter = ring / pi
        centre = (left + (column + 0.5) * width, top - row * height - 13.5)
        paper.circle(centre, diameter / 2, Line(0.0), fill=0.78)
        bold = Style(9.0, "Sheet-Bold")
        paper.write(
            (centre[0], centre[1] - 1.1), text("measuring.gauges.size", language, size=ring), bold, "centre"
        )
        below = text("measuring.gauges.diameter", language, diameter_mm=diameter)
        paper.write((centre[0], centre[1] - 15.6), below, TINY, "centre")
    _save(paper, path)


def _paper(topic: str, language: Language, size: Size) -> Paper:
    paper = Paper(text(f"measuring.{topic}.title", language), "", language, size)
    paper.paragraph(text(f"measuring.{topic}.lead", language))
    paper.items(lines(f"measuring.{topic}.steps", language), dot)
    return paper


def _save(paper: Paper, path: Path) -> None:
    paper.save(path, text("sheets.paper.foot_blank", paper.language, version=__version__))


def _strip(
    paper: Paper, corner: tuple[float, float], width: float, span: tuple[int, int], *, more: bool = False
) -> None:
    """One strip: a tail to hold, the zero line, a scale in mm; a field for glue if another piece follows."""
    x, y = corner
    low, high = span
    tail = TAIL_MM if low == 0 else 0.0
    end = x + TAIL_MM + (high - low) + (GLUE_MM if more else 3.0)
    zero = x + TAIL_MM
    if more:
        paper.box((zero + high - low, y), (GLUE_MM, width), Line(0.0), fill=0.88)
        middle = (zero + high - low + GLUE_MM / 2, y + width / 2 - 3.5)
        paper.write(middle, text("measuring.strips.glue", paper.language), TINY, "centre")
    paper.box((zero - tail, y), (end - zero + tail, width), CUT)
    for at in range(low, high + 1):
        share = 0.62 if at % 10 == 0 else 0.42 if at % 5 == 0 else 0.27
        place = zero + at - low
        paper.line([(place, y + width), (place, y + width * (1.0 - share))], MARK)
        if at % 10 == 0 and at > low:
            paper.write((place, y + 0.9), str(at), TINY, "centre")
    paper.line([(zero, y), (zero, y + width)], Line(0.35))
    if low == 0:
        _tail_words(paper, (x + 1.0, y + width / 2), text("measuring.strips.zero", paper.language))
    else:
        paper.write((zero + 1.0, y + 0.9), str(low), TINY)


def _tail_words(paper: Paper, at: tuple[float, float], words: str) -> None:
    rows = wrapped(words, TINY, TAIL_MM - 2.0)
    for number, row in enumerate(rows):
        paper.write((at[0], at[1] + (len(rows) / 2 - number - 0.75) * TINY.line_mm), row, TINY)
