"""Drawings in mm that stand among text or over a page, and how text and lines look."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from print3d.geometry.types import Floats

if TYPE_CHECKING:
    from PIL.Image import Image

Font = Literal["Sheet", "Sheet-Bold"]
Point = tuple[float, float]
MM = 72.0 / 25.4
"""Points in a mm."""
SHARE_BEFORE = {"left": 0.0, "centre": 0.5, "right": 1.0}
"""How much of a line of text stands left of its place."""


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

    def width_mm(self, words: str) -> float:
        """Return the width of one line of text."""
        return float(stringWidth(words, self.font, self.size_pt)) / MM


BODY = Style()
BOLD = Style(font="Sheet-Bold")
SMALL = Style(7.5, grey=0.25)
NOTE = Style(8.0, leading=1.25)
LARGE = Style(11.0, leading=1.4)


@dataclass(frozen=True)
class Line:
    """How a line looks."""

    width_mm: float = 0.25
    grey: float = 0.0
    dash_mm: tuple[float, ...] = ()


THIN, RULE = Line(0.15, 0.4), Line(0.2, 0.55)
DASHED = Line(0.2, 0.2, (1.5, 1.0))


class Drawing(Flowable):
    """A drawing in mm, from its own lower left corner, as wide as the text.

    height_mm : what it takes of the page
    rest : draws into all that is left of the page, at least `height_mm`, when that is known
    """

    def __init__(self, height_mm: float = 0.0, rest: "Callable[[Drawing], None] | None" = None) -> None:
        super().__init__()
        self.height_mm, self.rest = height_mm, rest
        self.strokes: list[Callable[[Canvas], None]] = []

    def wrap(self, width: float, height: float) -> Point:
        """Return what it takes, in points."""
        if self.rest is not None and height > self.height_mm * MM:
            self.height_mm = height / MM
        return width, self.height_mm * MM

    def draw(self) -> None:
        """Draw on ReportLab's canvas."""
        if self.rest is not None:
            self.rest(self)
        for stroke in self.strokes:
            stroke(self.canv)

    def add(self, stroke: Callable[[Canvas], None]) -> None:
        """Add a function that draws on ReportLab's canvas, in points."""
        self.strokes.append(stroke)

    def write(self, at: Point, words: str, style: Style = BODY, align: str = "left") -> None:
        """Write one line of text with its base line at a place."""

        def stroke(canvas: Canvas) -> None:
            canvas.setFont(style.font, style.size_pt)
            canvas.setFillGray(style.grey)
            canvas.drawString((at[0] - SHARE_BEFORE[align] * style.width_mm(words)) * MM, at[1] * MM, words)

        self.add(stroke)

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

        def stroke(canvas: Canvas) -> None:
            path = canvas.beginPath()
            path.moveTo(*at[0])
            for point in at[1:]:
                path.lineTo(*point)
            if closed:
                path.close()
            canvas.drawPath(path, **_inked(canvas, style, fill))

        self.add(stroke)

    def circle(self, centre: Point, radius_mm: float, style: Line = THIN, fill: float | None = None) -> None:
        """Draw a circle."""
        at = [MM * length for length in (*centre, radius_mm)]
        self.add(lambda canvas: canvas.circle(*at, **_inked(canvas, style, fill)))

    def box(self, corner: Point, size: Point, style: Line = THIN, fill: float | None = None) -> None:
        """Draw a rectangle from its lower left corner."""
        (x, y), (w, h) = corner, size
        self.line([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], style, closed=True, fill=fill)

    def picture(self, corner: Point, size: Point, image: "Image") -> None:
        """Draw a picture into a rectangle of a size, from its lower left corner."""
        at = [MM * length for length in (*corner, *size)]
        self.add(lambda canvas: canvas.drawImage(ImageReader(image), *at))


class OnPage(Drawing):
    """A drawing measured from the lower left corner of the page, which takes nothing from the text."""

    def drawOn(self, canvas: Canvas, _x: float, _y: float, _sW: float = 0.0) -> None:  # noqa: N802, N803  # ReportLab's names
        """Draw on the page, wherever the text has come to."""
        super().drawOn(canvas, 0.0, 0.0)


Sign = Callable[[Drawing, Point, Style], None]
"""Draws a sign at a place, as large as the style's letters."""


def _inked(canvas: Canvas, line: Line, fill: float | None) -> dict[str, int]:
    """Set how a line looks and its fill; return which of both are drawn."""
    canvas.setLineWidth(line.width_mm * MM)
    canvas.setStrokeGray(line.grey)
    canvas.setDash([dash * MM for dash in line.dash_mm])
    canvas.setLineJoin(1)
    canvas.setLineCap(1 if not line.dash_mm else 0)
    if fill is not None:
        canvas.setFillGray(fill)
    return {"stroke": int(line.width_mm > 0), "fill": int(fill is not None)}
