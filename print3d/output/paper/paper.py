"""Paper: text and tables flow over pages by ReportLab's platypus, drawings stand among them; the same bytes each time.

The font is DejaVu Sans (open licence), which the matplotlib package ships as a file; it is embedded.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cache, partial
from io import BytesIO
from pathlib import Path
from typing import Literal, get_args
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from print3d.language.catalogue import Language, text
from print3d.language.fonts import font_file
from print3d.output.paper.drawing import (
    BODY,
    BOLD,
    MM,
    RULE,
    SMALL,
    THIN,
    Drawing,
    Font,
    Line,
    OnPage,
    Point,
    Sign,
    Style,
)
from print3d.output.paper.headings import IS_HEADING, with_headings_kept

Size = Literal["a4", "letter"]
SIZES_MM: dict[Size, Point] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Paper sizes: ISO 216, and US letter of 8.5 by 11 inches."""
MARGIN_MM = 16.0
"""Clear of what office printers cannot reach, 4 to 6 mm (common practice, no single source), with room to punch holes."""
FOOT_MM = 14.0
"""The foot of the page stands below, text ends a little above."""
HEAD_MM = 8.0
"""What the small head takes of every page but the first."""
CELL_MM = 2.5
"""Room between two columns."""
BLANK_MM = 7.5
"""Height of a line that is written on by hand."""
LEAST_BLANK_MM = 5.5
"""Less is too low for a hand; own choice."""
LEAST_PT = 8.0
"""Smaller text is hard to read on paper; own choice."""
LEAST_LEADING = 1.15
"""Lines closer than this run into each other; own choice."""

TITLE = Style(15.0, "Sheet-Bold", 1.2)
HEADING = Style(10.5, "Sheet-Bold", 1.3)


@cache
def load_fonts() -> None:
    """Make the embedded fonts known to ReportLab."""
    for name in get_args(Font):
        registerFont(TTFont(name, str(font_file(is_bold=name == "Sheet-Bold"))))


def flowing(words: str, style: Style, *, name: str = "", **options: object) -> Paragraph:
    """Return text that is broken into lines.

    What has no space to break at, such as a hash, is broken anywhere.
    """
    size = {"fontSize": style.size_pt, "leading": style.size_pt * style.leading}
    look = ParagraphStyle(name, fontName=style.font, textColor=_grey(style.grey), **size, **options)
    return Paragraph(escape(words), look)


class Item(Flowable):
    """Words behind a drawn sign; they are not broken over pages."""

    def __init__(self, words: str, sign: Sign, style: Style) -> None:
        super().__init__()
        self.words, self.sign, self.style = flowing(words, style), sign, style
        self.indent = 5.0 * MM * style.size_pt / BODY.size_pt
        self.spaceAfter = 0.6 * MM

    def wrap(self, width: float, height: float) -> Point:
        """Return what it takes, in points."""
        _, self.height = self.words.wrap(max(width - self.indent, MM), height)
        return width, self.height

    def draw(self) -> None:
        """Draw the sign, and the words beside it."""
        mark = Drawing()
        self.sign(mark, (0.0, (self.height - self.style.size_pt) / MM), self.style)
        mark.drawOn(self.canv, 0.0, 0.0)
        self.words.drawOn(self.canv, self.indent, 0.0)


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


@dataclass(frozen=True)
class Made:
    """A finished PDF and how many pages it has."""

    content: bytes
    pages: int


@dataclass
class Paper:
    """A document under way.

    title, code : what stands at the head of every page, left and right
    story : what flows over the pages
    scale : of text, as far as it stays legible, of drawings, and of room to write
    """

    title: str
    code: str
    language: Language = "en"
    size: Size = "a4"
    scale: float = 1.0
    story: list[Flowable] = field(default_factory=list)

    def __post_init__(self) -> None:
        load_fonts()
        code_mm = BOLD.width_mm(self.code) + 1.0
        cells = [flowing(self.title, TITLE), flowing(self.code, BOLD, alignment=2)]
        look = [_ruled(Line(0.5)), ("RIGHTPADDING", (1, 0), (1, 0), 0)]
        self.story += [_table([cells], (self.room - code_mm, code_mm), look), Spacer(1, 2.0 * MM)]

    def scaled(self, style: Style) -> Style:
        """Return a style at the scale of the document: no smaller than can be read, but closer from there on."""
        size = max(min(style.size_pt, LEAST_PT), self.scale * style.size_pt)
        leading = max(min(style.leading, LEAST_LEADING), 1.0 + self.scale * (style.leading - 1.0))
        return replace(style, size_pt=size, leading=leading)

    @property
    def width(self) -> float:
        """Width of the page."""
        return SIZES_MM[self.size][0]

    @property
    def height(self) -> float:
        """Height of the page."""
        return SIZES_MM[self.size][1]

    @property
    def room(self) -> float:
        """Width for text."""
        return self.width - 2 * MARGIN_MM

    @property
    def corner(self) -> Point:
        """Lower left corner of the text on a page."""
        return MARGIN_MM, FOOT_MM + 2.0

    @property
    def depth(self) -> float:
        """Height for text on every page but the first."""
        return self.height - MARGIN_MM - HEAD_MM - self.corner[1]

    # --- flow ----------------------------------------------------------------------------------------------------

    def new_page(self) -> None:
        """Go on with a new page."""
        self.story.append(PageBreak())

    @contextmanager
    def together(self) -> Iterator[None]:
        """Keep on one page what the block adds."""
        start = len(self.story)
        yield
        self.story[start:] = [KeepTogether(self.story[start:])]

    def drawing(self, height_mm: float, rest: Callable[[Drawing], None] | None = None) -> Drawing:
        """Add a drawing as wide as the text."""
        drawing = Drawing(height_mm, rest)
        self.story.append(drawing)
        return drawing

    def on_page(self) -> Drawing:
        """Add a drawing over the page, measured from its lower left corner."""
        self.story.append(drawing := OnPage())
        return drawing

    def space(self, height_mm: float = 2.0) -> None:
        """Leave some room."""
        self.story.append(Spacer(1, self.scale * height_mm * MM))

    def heading(self, words: str) -> None:
        """Write a heading that stays with what follows."""
        room = {"spaceBefore": 2.2 * self.scale * MM, "spaceAfter": 0.9 * self.scale * MM}
        self.story.append(flowing(words, self.scaled(HEADING), name=IS_HEADING, **room))

    def paragraph(self, words: str, style: Style = BODY) -> None:
        """Write text from side to side."""
        self.story.append(flowing(words, self.scaled(style), spaceAfter=0.8 * self.scale * MM))

    def items(self, texts: Sequence[str], sign: Sign, style: Style = BODY, *, columns: int = 1) -> None:
        """Write a list, each item behind a drawn sign; in columns it runs across."""
        cells: list[Flowable] = [Item(words, sign, self.scaled(style)) for words in texts]
        if columns == 1:
            self.story += cells
            return
        cells += [Spacer(0, 0)] * (-len(cells) % columns)
        rows = [cells[start : start + columns] for start in range(0, len(cells), columns)]
        self.story.append(_table(rows, [self.room / columns] * columns, self._padding()))

    def blanks(
        self, labels: Sequence[str], style: Style = BODY, *, label_share: float = 0.42, columns: int = 1
    ) -> None:
        """Write labels, all on one page, with a line to write on behind each, in one or more columns."""
        widths = (label_share * self.room / columns, (1.0 - label_share) * self.room / columns) * columns
        look: list[tuple[object, ...]] = [("VALIGN", (0, 0), (-1, -1), "BOTTOM")]
        look += [
            ("LEFTPADDING", (2 * place, 0), (2 * place, -1), CELL_MM * MM) for place in range(1, columns)
        ]
        at = [(2 * (number % columns) + 1, number // columns) for number in range(len(labels))]
        look += [("LINEBELOW", cell, cell, *_ink(THIN)) for cell in at]
        cells = [cell for words in labels for cell in (flowing(words, self.scaled(style)), "")]
        cells += [""] * (-len(cells) % (2 * columns))
        rows = [cells[start : start + 2 * columns] for start in range(0, len(cells), 2 * columns)]
        least = max(LEAST_BLANK_MM, self.scale * BLANK_MM) * MM
        self.story.append(_table(rows, widths, look, minRowHeights=[least] * len(rows), splitByRow=0))

    def table(self, rows: Sequence[Sequence[str]], columns: Columns) -> None:
        """Write rows of cells; the head is written again on a new page."""
        style = self.scaled(columns.style)
        bold = Style(style.size_pt, "Sheet-Bold", style.leading)
        cells = [[flowing(words, style) for words in row] for row in rows]
        for row, sign in zip(cells, columns.signs, strict=bool(columns.signs)):
            row[0] = Item("", sign, style)
        heads = [] if columns.head is None else [[flowing(words, bold) for words in columns.head]]
        widths = [share * self.room / sum(columns.shares) for share in columns.shares]
        by_hand = max(min(columns.least_mm, LEAST_BLANK_MM), self.scale * columns.least_mm) * MM
        least = [0.0] * len(heads) + [by_hand] * len(rows)
        look = [_ruled(RULE), *self._padding()]
        self.story.append(_table([*heads, *cells], widths, look, minRowHeights=least, repeatRows=len(heads)))

    def _padding(self) -> list[tuple[object, ...]]:
        """Above and below the text of a cell."""
        rooms = {"TOP": 0.6, "BOTTOM": 1.0}
        return [(f"{side}PADDING", (0, 0), (-1, -1), self.scale * room * MM) for side, room in rooms.items()]

    def beside(self, drawing: Drawing, width_mm: float, texts: Sequence[tuple[str, Style]]) -> None:
        """Put a drawing left of texts, and a line below both."""
        cells = [drawing, [flowing(words, self.scaled(style)) for words, style in texts]]
        self.story.append(_table([cells], (width_mm, self.room - width_mm), [_ruled(RULE)]))

    # --- end -----------------------------------------------------------------------------------------------------

    def save(self, path: Path, foot: str) -> None:
        """Write the PDF; `foot` stands at the foot of every page, with its number."""
        path.write_bytes(self.made(foot).content)

    def made(self, foot: str) -> Made:
        """Return the finished PDF."""
        content = BytesIO()  # written below, so that a full disk leaves no file open
        document = BaseDocTemplate(
            content,
            pagesize=(self.width * MM, self.height * MM),
            pageTemplates=[self._page("first", 0.0), self._page("later", HEAD_MM)],
            title=f"{self.title}, {self.code}" if self.code else self.title,
            lang=self.language,
            invariant=1,
            initialFontName="Sheet",
            printScaling="None",
        )
        story = list(with_headings_kept(self.story, self.room * MM))
        document.build(story, canvasmaker=partial(_Numbered, write_foot=partial(self._foot, foot)))
        return Made(content.getvalue(), document.page)

    def _page(self, name: str, head_mm: float) -> PageTemplate:
        box = (*self.corner, self.room, self.depth + HEAD_MM - head_mm)
        frame = Frame(*(MM * each for each in box), 0, 0, 0, 0)
        head = {"onPage": self._head} if head_mm else {}
        return PageTemplate(name, [frame], autoNextPageTemplate="later", **head)

    def _head(self, canvas: Canvas, _document: BaseDocTemplate) -> None:
        self._ends(canvas, self.height - MARGIN_MM - 3.0, self.title, self.code)

    def _foot(self, words: str, canvas: Canvas, number: int, pages: int) -> None:
        self._ends(
            canvas, FOOT_MM - 5.0, words, text("sheets.paper.page", self.language, number=number, pages=pages)
        )

    def _ends(self, canvas: Canvas, base: float, left: str, right: str) -> None:
        """Write small words at both ends of a line across the page."""
        line = Drawing()
        line.write((MARGIN_MM, base), left, SMALL)
        line.write((self.width - MARGIN_MM, base), right, SMALL, "right")
        line.drawOn(canvas, 0.0, 0.0)


class _Numbered(Canvas):
    """Keeps the pages until it is known how many they are."""

    def __init__(
        self, *args: object, write_foot: Callable[[Canvas, int, int], None], **options: object
    ) -> None:
        super().__init__(*args, **options)
        self.kept: list[dict[str, object]] = []
        self.write_foot = write_foot

    def showPage(self) -> None:  # noqa: N802  # ReportLab's name
        self.kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self.kept, start=1):
            self.__dict__.update(page)
            self.write_foot(self, number, len(self.kept))
            super().showPage()
        super().save()


def _table(
    rows: list[list[Flowable]], widths_mm: Sequence[float], look: list[tuple[object, ...]], **options: object
) -> Table:
    """Return rows of cells, the text of each at its upper left."""
    everywhere = (0, 0), (-1, -1)
    paddings = {"LEFT": 0.0, "RIGHT": CELL_MM, "TOP": 0.6, "BOTTOM": 1.0}
    base: list[tuple[object, ...]] = [
        (f"{side}PADDING", *everywhere, length * MM) for side, length in paddings.items()
    ]
    base += [("VALIGN", *everywhere, "TOP"), ("FONT", *everywhere, "Sheet")]
    return Table(
        rows, [MM * each for each in widths_mm], style=[*base, *look], spaceAfter=1.0 * MM, **options
    )


def _ruled(line: Line) -> tuple[object, ...]:
    return "LINEBELOW", (0, 0), (-1, -1), *_ink(line)


def _ink(line: Line) -> tuple[float, Color]:
    return line.width_mm * MM, _grey(line.grey)


def _grey(share: float) -> Color:
    return Color(share, share, share)
