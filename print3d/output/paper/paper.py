"""Paper: text that flows down a page and on to the next, drawings in mm, written as PDF with the same bytes each time.

Everything is in mm from the lower left corner of the page. Drawing is kept until the number of pages is known, then written by
ReportLab. The font is DejaVu Sans (open licence), which the matplotlib package ships as a file; it is embedded.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from print3d.geometry.types import Floats
from print3d.language.catalogue import Language, text
from print3d.language.fonts import font_file

if TYPE_CHECKING:
    from PIL.Image import Image

Size = Literal["a4", "letter"]
Font = Literal["Sheet", "Sheet-Bold"]
Align = Literal["left", "centre", "right"]
Point = tuple[float, float]
Drawing = Callable[[Any], None]

SIZES_MM: dict[Size, Point] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Paper sizes: ISO 216, and US letter of 8.5 by 11 inches."""
MM = 72.0 / 25.4
"""Points of PDF in a millimetre, 72 to the inch."""
MARGIN_MM = 16.0
"""Clear of what office printers cannot reach, 4 to 6 mm (common practice, no single source), with room to punch holes."""
FOOT_MM = 14.0
"""Room for the foot line; own choice."""


@dataclass(frozen=True)
class Style:
    """How text looks: size in points, distance of lines as a multiple of it, grey (0 is black)."""

    size_pt: float = 9.0
    font: Font = "Sheet"
    leading: float = 1.35
    grey: float = 0.0

    @property
    def line_mm(self) -> float:
        """Distance between two base lines."""
        return self.size_pt * self.leading / MM


BODY = Style()
BOLD = Style(font="Sheet-Bold")
SMALL = Style(7.5, grey=0.25)
NOTE = Style(8.0, leading=1.25)
TITLE = Style(15.0, "Sheet-Bold", 1.2)
HEADING = Style(10.5, "Sheet-Bold", 1.3)
LARGE = Style(11.0, leading=1.4)


@dataclass(frozen=True)
class Line:
    """How a line looks."""

    width_mm: float = 0.25
    grey: float = 0.0
    dash_mm: tuple[float, ...] = ()


THIN, RULE = Line(0.15, 0.4), Line(0.2, 0.55)
DASHED = Line(0.2, 0.2, (1.5, 1.0))


@cache
def load_fonts() -> None:
    """Make the embedded fonts known to ReportLab."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name in get_args(Font):
        pdfmetrics.registerFont(TTFont(name, str(font_file(is_bold=name == "Sheet-Bold"))))


def width_mm(words: str, style: Style) -> float:
    """Return the width of one line of text."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    load_fonts()
    return float(stringWidth(words, style.font, style.size_pt)) / MM


def wrapped(words: str, style: Style, room_mm: float) -> list[str]:
    """Return text broken into lines that fit; what has no space to break at, such as a hash, is broken anywhere."""
    rows = [""]
    for word in words.split():
        longer = f"{rows[-1]} {word}".strip()
        if width_mm(longer, style) <= room_mm:
            rows[-1] = longer
            continue
        pieces = _broken(word, style, room_mm)
        rows = rows + pieces if rows[-1] else pieces if len(rows) == 1 else rows[:-1] + pieces
    return rows


def _broken(word: str, style: Style, room_mm: float) -> list[str]:
    pieces = [""]
    for letter in word:
        if width_mm(pieces[-1] + letter, style) > room_mm:
            pieces.append("")
        pieces[-1] += letter
    return pieces


Sign = Callable[["Paper", Point, Style], None]
"""Draws a sign at a place, as large as the style's letters."""


@dataclass(frozen=True)
class Columns:
    """How a table looks.

    shares : of the width, one a column
    least_mm : least height of a row, where a hand writes into it
    signs : one a row, drawn in the first column
    """

    shares: Sequence[float]
    head: Sequence[str] | None = None
    style: Style = BODY
    least_mm: float = 0.0
    signs: Sequence[Sign] = ()


@dataclass
class Paper:
    """A document under way.

    title, code : what stands at the head of every page, left and right
    size : of the page
    """

    title: str
    code: str
    language: Language = "en"
    size: Size = "a4"
    pages: list[list[Drawing]] = field(default_factory=list)
    y: float = 0.0

    def __post_init__(self) -> None:
        load_fonts()
        self.new_page()

    @property
    def width(self) -> float:
        """Width of the page."""
        return SIZES_MM[self.size][0]

    @property
    def height(self) -> float:
        """Height of the page."""
        return SIZES_MM[self.size][1]

    @property
    def left(self) -> float:
        """Where text begins."""
        return MARGIN_MM

    @property
    def room(self) -> float:
        """Width for text."""
        return self.width - 2 * MARGIN_MM

    @property
    def bottom(self) -> float:
        """Where text ends."""
        return FOOT_MM + 2.0

    def new_page(self) -> None:
        """Begin a page: title on the first, a small head on those that follow."""
        self.pages.append([])
        self.y = self.height - MARGIN_MM
        if len(self.pages) == 1:
            self._head_of_first_page()
        else:
            self.write((self.left, self.y - 3), self.title, SMALL)
            self.write((self.width - MARGIN_MM, self.y - 3), self.code, SMALL, "right")
            self.y -= 8.0

    def _head_of_first_page(self) -> None:
        code_room = width_mm(self.code, BOLD)
        for row in wrapped(self.title, TITLE, self.room - code_room - 6):
            self.y -= TITLE.line_mm
            self.write((self.left, self.y), row, TITLE)
        self.write(
            (self.width - MARGIN_MM, self.height - MARGIN_MM - TITLE.line_mm), self.code, BOLD, "right"
        )
        self.y -= 2.5
        self.line([(self.left, self.y), (self.width - MARGIN_MM, self.y)], Line(0.5))
        self.y -= 2.0

    # --- drawing -------------------------------------------------------------------------------------------------

    def draw(self, drawing: Drawing) -> None:
        """Add to the page a function that draws on ReportLab's canvas, in points."""
        self.pages[-1].append(drawing)

    def write(self, at: Point, words: str, style: Style = BODY, align: Align = "left") -> None:
        """Write one line of text with its base line at a place."""
        x = at[0] - {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * width_mm(words, style)

        def drawing(canvas: Any) -> None:
            canvas.setFont(style.font, style.size_pt)
            canvas.setFillGray(style.grey)
            canvas.drawString(x * MM, at[1] * MM, words)

        self.draw(drawing)

    def line(
        self,
        points: Sequence[Point] | Floats,
        style: Line = THIN,
        *,
        closed: bool = False,
        fill: float | None = None,
    ) -> None:
        """Draw a polyline (n, 2); fill is a grey, or None."""
        at = np.asarray(points, dtype=float) * MM

        def drawing(canvas: Any) -> None:
            path = canvas.beginPath()
            path.moveTo(*at[0])
            for point in at[1:]:
                path.lineTo(*point)
            if closed:
                path.close()
            _set_line(canvas, style)
            if fill is not None:
                canvas.setFillGray(fill)
            canvas.drawPath(path, stroke=int(style.width_mm > 0), fill=int(fill is not None))

        self.draw(drawing)

    def circle(self, centre: Point, radius_mm: float, style: Line = THIN, fill: float | None = None) -> None:
        """Draw a circle."""

        def drawing(canvas: Any) -> None:
            _set_line(canvas, style)
            if fill is not None:
                canvas.setFillGray(fill)
            canvas.circle(
                centre[0] * MM,
                centre[1] * MM,
                radius_mm * MM,
                stroke=int(style.width_mm > 0),
                fill=int(fill is not None),
            )

        self.draw(drawing)

    def box(self, corner: Point, size: Point, style: Line = THIN, fill: float | None = None) -> None:
        """Draw a rectangle from its lower left corner."""
        (x, y), (w, h) = corner, size
        self.line([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], style, closed=True, fill=fill)

    def picture(self, corner: Point, size: Point, image: "Image") -> None:
        """Draw a picture into a rectangle of a size, from its lower left corner."""

        def drawing(canvas: Any) -> None:
            from reportlab.lib.utils import ImageReader

            canvas.drawImage(ImageReader(image), *(MM * length for length in (*corner, *size)))

        self.draw(drawing)

    # --- flow ----------------------------------------------------------------------------------------------------

    def need(self, height_mm: float) -> None:
        """Go on to a new page if less room than this is left."""
        if self.y - height_mm < self.bottom:
            self.new_page()

    def space(self, height_mm: float = 2.0) -> None:
        """Leave some room."""
        self.y -= height_mm

    def heading(self, words: str, *, keep_mm: float = 12.0) -> None:
        """Write a heading that stays with what follows."""
        rows = wrapped(words, HEADING, self.room)
        self.need(len(rows) * HEADING.line_mm + 2.2 + keep_mm)
        self.y -= 2.2
        for row in rows:
            self.y -= HEADING.line_mm
            self.write((self.left, self.y), row, HEADING)
        self.y -= 0.9

    def paragraph(self, words: str, style: Style = BODY, indent_mm: float = 0.0) -> None:
        """Write text from side to side."""
        for row in wrapped(words, style, self.room - indent_mm):
            self.need(style.line_mm)
            self.y -= style.line_mm
            self.write((self.left + indent_mm, self.y), row, style)
        self.y -= 0.8

    def items(self, texts: Sequence[str], sign: Sign, style: Style = BODY) -> None:
        """Write a list, each item behind a drawn sign."""
        indent = 5.0 * style.size_pt / BODY.size_pt
        for words in texts:
            rows = wrapped(words, style, self.room - indent)
            self.need(len(rows) * style.line_mm)
            sign(self, (self.left, self.y - style.line_mm), style)
            for row in rows:
                self.y -= style.line_mm
                self.write((self.left + indent, self.y), row, style)
            self.y -= 0.6

    def blanks(self, labels: Sequence[str], style: Style = BODY, *, label_share: float = 0.42) -> None:
        """Write labels with a line to write on behind each."""
        split = self.left + label_share * self.room
        self.need(min(7.5 * len(labels), 60.0))
        for words in labels:
            rows = wrapped(words, style, label_share * self.room - 3.0)
            height = max(len(rows) * style.line_mm, 6.5) + 1.0
            self.need(height)
            base = self.y - height + 1.5
            for number, row in enumerate(rows):
                self.write((self.left, base + (len(rows) - 1 - number) * style.line_mm), row, style)
            self.line([(split, base - 0.8), (self.width - MARGIN_MM, base - 0.8)], THIN)
            self.y -= height

    def table(self, rows: Sequence[Sequence[str]], columns: "Columns") -> None:
        """Write rows of cells, each cell wrapped in its column; the head is written again on a new page."""
        head, style, least_mm = columns.head, columns.style, columns.least_mm
        edges = self.left + self.room * np.cumsum([0.0, *columns.shares]) / sum(columns.shares)
        bold = Style(style.size_pt, "Sheet-Bold", style.leading)
        if head is not None:
            self.need(_row_mm(head, edges, bold, 0.0) + 10.0)
            self._row(head, edges, bold, 0.0)
        for number, row in enumerate(rows):
            if self.y - _row_mm(row, edges, style, least_mm) < self.bottom:
                self.new_page()
                if head is not None:
                    self._row(head, edges, bold, 0.0)
            if columns.signs:
                columns.signs[number](
                    self, (float(edges[0]) + 0.3, self.y - 0.6 - 0.85 * style.line_mm), style
                )
            self._row(row, edges, style, least_mm)
        self.y -= 1.0

    def _row(self, row: Sequence[str], edges: Floats, style: Style, least_mm: float) -> None:
        height = _row_mm(row, edges, style, least_mm)
        for number, words in enumerate(row):
            room = edges[number + 1] - edges[number] - CELL_MM
            for line, part in enumerate(wrapped(words, style, room)):
                self.write((float(edges[number]), self.y - 0.6 - (line + 0.85) * style.line_mm), part, style)
        self.y -= height
        self.line([(float(edges[0]), self.y), (float(edges[-1]), self.y)], RULE)

    # --- end -----------------------------------------------------------------------------------------------------

    def save(self, path: Path, foot: str) -> None:
        """Write the PDF; `foot` stands at the foot of every page, with its number."""
        from reportlab.pdfgen.canvas import Canvas

        canvas = Canvas(
            "",  # written below, so that a full disk leaves no file open
            pagesize=(self.width * MM, self.height * MM),
            lang=self.language,
            invariant=1,
            initialFontName="Sheet",
        )
        canvas.setTitle(f"{self.title}, {self.code}" if self.code else self.title)
        canvas.setViewerPreference("PrintScaling", "None")
        pages, last = self.pages, len(self.pages)
        for number, page in enumerate(pages, start=1):
            self.pages = [page]
            self.write((self.left, FOOT_MM - 5.0), foot, SMALL)
            words = text("sheets.paper.page", self.language, number=number, pages=last)
            self.write((self.width - MARGIN_MM, FOOT_MM - 5.0), words, SMALL, "right")
            for drawing in page:
                drawing(canvas)
            canvas.showPage()
        self.pages = pages
        path.write_bytes(canvas.getpdfdata())


CELL_MM = 2.5
"""Room between two columns."""


def _row_mm(row: Sequence[str], edges: Floats, style: Style, least_mm: float) -> float:
    rows = max(
        len(wrapped(words, style, edges[number + 1] - edges[number] - CELL_MM))
        for number, words in enumerate(row)
    )
    return float(max(rows * style.line_mm + 1.6, least_mm))


def _set_line(canvas: Any, style: Line) -> None:
    canvas.setLineWidth(style.width_mm * MM)
    canvas.setStrokeGray(style.grey)
    canvas.setDash([dash * MM for dash in style.dash_mm])
    canvas.setLineJoin(1)
    canvas.setLineCap(1 if not style.dash_mm else 0)
