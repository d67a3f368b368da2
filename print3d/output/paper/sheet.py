"""What every sheet of a case shares.

That is its paper, its foot, and what is said of it in the language of the case.
"""

from bisect import bisect_left
from collections.abc import Callable
from functools import cache
from pathlib import Path

from print3d import __version__
from print3d.built import Built
from print3d.inputs.measured import FINGERS
from print3d.language.catalogue import lines, number, text
from print3d.output.estimates import one_by_one
from print3d.output.measures import confirmed_lines
from print3d.output.paper.drawing import BODY, NOTE, Style
from print3d.output.paper.paper import Made, Paper
from print3d.output.paper.signs import warning
from print3d.output.paper.words import Words
from print3d.output.title import title_of

SCALES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.64, 0.58, 0.52, 0.46, 0.4, 0.32, 0.24)
"""At which a sheet that belongs on one page is tried, from the largest on; own choice."""


def words_of(built: Built) -> Words:
    """Return the language of the case."""
    return Words(built.case.header.language)


def begin(built: Built, title_key: str, scale: float = 1.0) -> Paper:
    """Begin a document."""
    words, head = words_of(built), built.case.header
    paper = Paper(words(title_key), str(built.case.mark), words.language, head.paper, scale)
    paper.paragraph(title_of(built.case), Style(BODY.size_pt, "Sheet-Bold"))
    return paper


def save(paper: Paper, built: Built, path: Path) -> None:
    """Write a document with the foot of the case."""
    paper.save(path, _foot(built))


def _foot(built: Built) -> str:
    return words_of(built)("sheets.paper.foot", version=__version__, code=str(built.case.mark))


def write_on_one_page(path: Path, built: Built, title_key: str, fill: Callable[[Paper, Built], None]) -> None:
    """Write a document as large as fits one page.

    One that fits at no scale goes on over pages, as large as usual.
    """

    @cache
    def made(place: int) -> Made:
        paper = begin(built, title_key, SCALES[place])
        fill(paper, built)
        return paper.made(_foot(built))

    fitting = bisect_left(range(len(SCALES)), True, key=lambda place: made(place).pages == 1)
    path.write_bytes(made(fitting if fitting < len(SCALES) else 0).content)


def wall_in_words(built: Built) -> str:
    """Return the wall of the parts: one thickness, or each with its part where they differ."""
    words = words_of(built)
    walls = {
        part.name: f"{number(part.definition.wall_mm, words.language)} mm" for part in built.modelled.parts
    }
    if len(set(walls.values())) == 1:
        return next(iter(walls.values()))
    return words.listed([f"{words.named('part', name)} {wall}" for name, wall in walls.items()])


def warnings_in_words(built: Built) -> list[str]:
    """Return the warnings in the language of the case."""
    return [each.said(words_of(built).language) for each in built.warnings]


def confirmed_in_words(built: Built) -> list[str]:
    """Return the measures that were taken again and confirmed, in the language of the case."""
    return [each.said(words_of(built).language) for each in confirmed_lines(built.case)]


def remarks_in_words(built: Built) -> list[str]:
    """Return the remarks in the language of the case."""
    return [each.said(words_of(built).language) for each in built.remarks]


def estimates_in_words(built: Built) -> list[str]:
    """Return the estimates in the language of the case."""
    return [each.said(words_of(built).language) for each in one_by_one(built.estimates)]


def own_estimates_in_words(built: Built) -> list[str]:
    """Return the estimates of the case's finger, hand and forearm; those of other fingers are left out."""
    others = [name for name in FINGERS if name != built.case.header.finger]
    own = {finger: found for finger, found in built.estimates.items() if finger not in others}
    return [each.said(words_of(built).language) for each in one_by_one(own)]


def cautions(paper: Paper) -> None:
    """Write what is always said beside an orthosis."""
    paper.heading(text("cautions.head", paper.language))
    paper.items(lines("cautions.all", paper.language), warning, NOTE)
