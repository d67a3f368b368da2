"""Signs drawn as lines, so that no font has to have them.

There is a box to tick, a dot, a tick, a cross, a warning triangle, and scale bars.
"""

import numpy as np

from print3d.language.catalogue import Language, text
from print3d.output.paper.drawing import BODY, MM, SMALL, Drawing, Line, Point, Style

BAR_MM = 100.0
"""Length of the control bar: long enough to show a scale that is off by 1 percent."""
BAR_HEIGHT_MM = 2.0
"""Height of the control bar; own choice."""
STROKE = Line(0.45)


def tick_box(drawing: Drawing, at: Point, style: Style = BODY) -> None:
    """Draw an empty box as high as a capital, to be ticked by hand."""
    side = 0.82 * style.size_pt / MM
    drawing.box((at[0] + 0.3, at[1] - 0.1), (side, side), Line(0.25))


def dot(drawing: Drawing, at: Point, style: Style = BODY) -> None:
    """Draw the dot before an item of a list."""
    drawing.circle((at[0] + 1.3, at[1] + 0.32 * style.size_pt / MM), 0.55, Line(0.1), fill=0.0)


def holds(drawing: Drawing, at: Point, style: Style = BODY) -> None:
    """Draw a tick in a circle."""
    x, y, size = at[0], at[1], style.size_pt / MM
    drawing.circle((x + 0.5 * size, y + 0.36 * size), 0.5 * size, Line(0.2))
    drawing.line(
        [
            (x + 0.27 * size, y + 0.36 * size),
            (x + 0.44 * size, y + 0.16 * size),
            (x + 0.75 * size, y + 0.6 * size),
        ],
        STROKE,
    )


def fails(drawing: Drawing, at: Point, style: Style = BODY) -> None:
    """Draw a cross in a filled square: another shape, not only another colour."""
    x, y, size = at[0], at[1] - 0.1 * style.size_pt / MM, 0.95 * style.size_pt / MM
    drawing.box((x, y), (size, size), Line(0.2), fill=0.0)
    for low, high in ((0.22, 0.78), (0.78, 0.22)):
        drawing.line([(x + 0.22 * size, y + low * size), (x + 0.78 * size, y + high * size)], Line(0.45, 1.0))


def warning(drawing: Drawing, at: Point, style: Style = BODY) -> None:
    """Draw a triangle with an exclamation mark."""
    size = 1.05 * style.size_pt / MM
    corner = np.array(at) - [0.0, 0.08 * size]
    drawing.line(corner + size * np.array([(0, 0), (1.1, 0), (0.55, 0.95)]), STROKE, closed=True)
    drawing.line(corner + size * np.array([(0.55, 0.3), (0.55, 0.6)]), STROKE)
    drawing.circle(tuple(corner + size * np.array([0.55, 0.15])), 0.2, Line(0.1), fill=0.0)


def scale_bars(drawing: Drawing, language: Language, x: float = 8.0, y: float = 17.0) -> None:
    """Draw a control bar of 100 mm along either axis, near the lower left corner of the page.

    Each is black from end to end with every second centimetre hollow, so that its outer ends are exactly 100 mm apart.
    """
    label = text("sheets.paper.bar", language, length_mm=BAR_MM)
    corner, along, across = np.array([x, y]), np.array([1.0, 0.0]), np.array([0.0, 1.0])
    for first, second, start in ((along, across, corner + [8.0, 0.0]), (across, along, corner + [0.0, 8.0])):
        _bar(drawing, start, first, second)
    drawing.write((x + 8.0, y + BAR_HEIGHT_MM + 1.2), label, SMALL)


def _bar(drawing: Drawing, start: np.ndarray, along: np.ndarray, across: np.ndarray) -> None:
    def block(low: float, high: float, inset: float, grey: float) -> None:
        corners = [(low, inset), (high, inset), (high, BAR_HEIGHT_MM - inset), (low, BAR_HEIGHT_MM - inset)]
        points = np.array([start + a * along + b * across for a, b in corners])
        drawing.line(points, Line(0.0), closed=True, fill=grey)

    block(0.0, BAR_MM, 0.0, 0.0)
    for centimetre in range(1, 10, 2):
        low = 10.0 * centimetre
        block(low, min(low + 10.0, BAR_MM - 0.3), 0.3, 1.0)
