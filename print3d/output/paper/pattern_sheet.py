"""The flat pattern at true size on paper.

It stands on one page where it fits, else tiled over pages that are glued together.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from pathlib import Path

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from print3d.built import Built
from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.language.catalogue import lines, text
from print3d.output.paper.drawing import DASHED, MM, SMALL, THIN, Drawing, Line
from print3d.output.paper.paper import FOOT_MM, Paper
from print3d.output.paper.sheet import begin, cautions, save, words_of
from print3d.output.paper.signs import dot, scale_bars
from print3d.shell.flattened import FlatLoop, FlatShell, flatten

OVERLAP_MM = 10.0
"""Two pages of a pattern show this much of it twice, to glue them; own choice."""
STRIP_MM = 14.0
"""Left and below a drawing stand the control bars."""
BAR_AT_MM = (8.0, FOOT_MM + 1.0)
TRIM, INNER = Line(0.45), Line(0.18)
CROSS_MM = 3.0
"""Size of the crosses in the middle of an overlap; own choice."""
CROSSES_AT = (0.25, 0.75)
"""At which shares of its length they stand; own choice."""
OVERVIEW_MM = 60.0
"""Height of the overview of all pages; own choice."""
MARK_MM = 2.5
"""How far a seam's marks reach beyond its ends; own choice."""
ARROW_MM = 10.0
"""Length of the arrow to the fingertip; own choice."""


@dataclass(frozen=True, eq=False)
class Tiling:
    """How a pattern lies on pages: its lower left corner in the lower left window, windows overlapping.

    window : (2,) width and height of what one page shows
    """

    columns: int
    rows: int
    window: Floats
    turned: bool

    @property
    def sheets(self) -> int:
        """How many pages."""
        return self.columns * self.rows

    def corner(self, column: int, row: int) -> Floats:
        """Return the lower left corner of a window in the pattern; rows count from the top."""
        step = self.window - OVERLAP_MM
        return np.array([column * step[0], (self.rows - 1 - row) * step[1]])


@kept
def flat_parts(built: Built) -> dict[str, FlatShell]:
    """Return the parts laid flat by name, of the asked hand."""
    flat = {part.name: flatten(part.definition) for part in built.modelled.parts}
    return flat if built.side == "right" else {name: each.mirrored() for name, each in flat.items()}


def write_pattern_sheet(path: Path, built: Built) -> None:
    """Write one document with every part's pattern."""
    paper = begin(built, "sheets.pattern.title")
    for number, (name, each) in enumerate(flat_parts(built).items()):
        if number:
            paper.new_page()
        _write_part(paper, built, name, each)
    save(paper, built, path)


def _write_part(paper: Paper, built: Built, name: str, flat: FlatShell) -> None:
    words = words_of(built)
    tiling = tile(flat, paper)
    low, high = flat.box_mm
    shown = turned(flat) if tiling.turned else flat
    paper.paragraph(words("sheets.pattern.lead", part=words.named("part", name)))
    paper.items(lines("sheets.pattern.steps", words.language), dot)
    figures = {"trim_mm": flat.trim_mm, "wall_mm": flat.wall_mm}
    width, height = (float(each) for each in high - low)
    notes = [
        words("sheets.pattern.figures", width_mm=width, height_mm=height, **figures),
        words("sheets.pattern.stretch", stretch=max(1.0, ceil(flat.stretch_percent))),
    ]
    if flat.seam is not None:
        notes.append(words("sheets.pattern.seam"))
    if tiling.sheets > 1:
        counts = {"sheets": tiling.sheets, "columns": tiling.columns, "rows": tiling.rows}
        notes.append(words("sheets.pattern.tiles", overlap_mm=OVERLAP_MM, **counts))
    for note in notes:
        paper.paragraph(note, SMALL)
    cautions(paper)
    if tiling.sheets == 1:
        _draw_single(paper, shown, tiling)
        return
    _overview(paper, shown, tiling)
    for row in range(tiling.rows):
        for column in range(tiling.columns):
            paper.new_page()
            page = paper.on_page()
            scale_bars(page, paper.language, *BAR_AT_MM)
            _draw_tile(page, shown, tiling, (column, row))
            if (column, row) == (0, 0):
                top = BAR_AT_MM[1] + STRIP_MM + float(tiling.window[1])
                _arrow(
                    page, (BAR_AT_MM[0] + STRIP_MM, top - ARROW_MM), _say(paper, "up"), turned=tiling.turned
                )


def tile(flat: FlatShell, paper: Paper) -> Tiling:
    """Return the tiling with fewest pages, upright if it makes no difference."""
    window = np.array(
        [paper.width - 8.0 - BAR_AT_MM[0] - STRIP_MM, paper.height - 26.0 - BAR_AT_MM[1] - STRIP_MM]
    )
    low, high = flat.box_mm
    size = high - low + 2.0
    choices = []
    for is_turned in (False, True):
        across, up = size[::-1] if is_turned else size
        columns, rows = _count(across, window[0]), _count(up, window[1])
        choices.append(Tiling(columns, rows, window, is_turned))
    return min(choices, key=lambda each: each.sheets)


def _count(length: float, window: float) -> int:
    return max(1, ceil((length - OVERLAP_MM) / (window - OVERLAP_MM)))


def turned(flat: FlatShell) -> FlatShell:
    """Return a pattern turned by a quarter, its fingertip end to the right."""
    return flat.moved(np.array([[0.0, 1.0], [-1.0, 0.0]]))


def _draw_single(paper: Paper, flat: FlatShell, tiling: Tiling) -> None:
    """Draw the pattern in the middle of what is left of the page, or of a page of its own."""
    low, high = flat.box_mm
    bars = np.array(BAR_AT_MM) - paper.corner
    left, foot = bars + STRIP_MM

    def draw(drawing: Drawing) -> None:
        scale_bars(drawing, paper.language, *bars)
        arrow_at = (left, drawing.height_mm - ARROW_MM - 6.0)
        _arrow(drawing, arrow_at, _say(paper, "up"), turned=tiling.turned)
        middle = np.array([paper.width - paper.corner[0] + left, drawing.height_mm + foot]) / 2
        _draw(drawing, flat, middle - (low + high) / 2)

    paper.drawing(min(float(high[1] - low[1]) + STRIP_MM + 14.0, paper.depth), rest=draw)


def _draw_tile(drawing: Drawing, flat: FlatShell, tiling: Tiling, place: tuple[int, int]) -> None:
    """Draw what one page shows, clipped to its window, with cut lines and crosses on the overlaps."""
    column, row = place
    corner = np.array([BAR_AT_MM[0] + STRIP_MM, BAR_AT_MM[1] + STRIP_MM])
    shift = corner - tiling.corner(column, row) - flat.box_mm[0] + 1.0
    drawing.add(_clip(corner, tiling.window))
    _draw(drawing, flat, shift)
    drawing.add(lambda canvas: canvas.restoreState())
    (x, y), (w, h) = corner, tiling.window
    has_left, has_right = column > 0, column < tiling.columns - 1
    has_upper, has_lower = row > 0, row < tiling.rows - 1
    if has_left:
        drawing.line([(x + OVERLAP_MM, y), (x + OVERLAP_MM, y + h)], DASHED)
    if has_lower:
        drawing.line([(x, y + OVERLAP_MM), (x + w, y + OVERLAP_MM)], DASHED)
    half = OVERLAP_MM / 2
    upright = [at for at, is_there in ((x + half, has_left), (x + w - half, has_right)) if is_there]
    level = [at for at, is_there in ((y + half, has_lower), (y + h - half, has_upper)) if is_there]
    for share in CROSSES_AT:
        for at in upright:
            _cross(drawing, (at, y + share * h))
        for at in level:
            _cross(drawing, (x + share * w, at))
    drawing.write((x + w, y + h + 2.0), tile_name(column, row), SMALL, "right")


def tile_name(column: int, row: int) -> str:
    """Return the name of a sheet: A1 is the upper left one, B1 lies right of it."""
    return f"{chr(ord('A') + column)}{row + 1}"


def _clip(corner: Floats, window: Floats) -> Callable[[Canvas], None]:
    def stroke(canvas: Canvas) -> None:
        canvas.saveState()
        path = canvas.beginPath()
        path.rect(*(corner * MM), *(window * MM))
        canvas.clipPath(path, stroke=0)

    return stroke


def _cross(drawing: Drawing, middle: tuple[float, float]) -> None:
    x, y = middle
    drawing.line([(x - CROSS_MM, y), (x + CROSS_MM, y)], INNER)
    drawing.line([(x, y - CROSS_MM), (x, y + CROSS_MM)], INNER)


def _draw(drawing: Drawing, flat: FlatShell, shift: Floats, scale: float = 1.0) -> None:
    def drawn(loop: FlatLoop, style: Line) -> None:
        drawing.line(scale * loop.points + shift, style, closed=True)

    for loop in flat.boundary:
        drawn(loop, TRIM)
    for loop in flat.inner:
        drawn(loop, INNER)
    if flat.seam is not None:
        for end in _seam_marks(flat.seam):
            drawing.line(scale * end + shift, DASHED)


def _seam_marks(seam: Floats) -> list[Floats]:
    """Lines across the two cut ends of a ring, reaching a little beyond them."""
    across = seam[:, 1] - seam[:, 0]
    beyond = MARK_MM * across / np.linalg.norm(across, axis=1)[:, None]
    return [np.array([end[0] - step, end[1] + step]) for end, step in zip(seam, beyond, strict=True)]


def _arrow(drawing: Drawing, at: tuple[float, float], words: str, *, turned: bool) -> None:
    """Draw an arrow that points to the fingertip's end, its tail at a place, with its label."""
    tail, ahead = np.array(at), np.array([1.0, 0.0] if turned else [0.0, 1.0])
    across = np.array([-ahead[1], ahead[0]])
    tip = tail + ARROW_MM * ahead
    drawing.line([tuple(tail), tuple(tip)], TRIM)
    head = [tip - 2.2 * ahead + 1.1 * across, tip, tip - 2.2 * ahead - 1.1 * across]
    drawing.line(np.array(head), TRIM)
    label = tail + ([0.0, -4.0] if turned else [2.5, 1.0])
    drawing.write((float(label[0]), float(label[1])), words, SMALL)


def _overview(paper: Paper, flat: FlatShell, tiling: Tiling) -> None:
    """Draw the whole pattern small, with the windows of its sheets."""
    span = tiling.window + (np.array([tiling.columns, tiling.rows]) - 1) * (tiling.window - OVERLAP_MM)
    scale = min(paper.room / span[0], OVERVIEW_MM / span[1]) * 0.95
    paper.heading(_say(paper, "overview"))
    drawing = paper.drawing(scale * float(span[1]) + 2.0)
    _draw(drawing, flat, -scale * (flat.box_mm[0] - 1.0), scale)
    for row in range(tiling.rows):
        for column in range(tiling.columns):
            at = scale * tiling.corner(column, row)
            drawing.box((float(at[0]), float(at[1])), tuple(scale * tiling.window), THIN)
            upper_right = at + scale * tiling.window
            name = (float(upper_right[0]) - 1.0, float(upper_right[1]) - 3.5)
            drawing.write(name, tile_name(column, row), SMALL, "right")


def _say(paper: Paper, key: str) -> str:
    return text(f"sheets.pattern.{key}", paper.language)
