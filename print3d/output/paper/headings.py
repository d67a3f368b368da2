"""Headings stay with what follows them: a page is broken before a heading rather than after it."""

from collections.abc import Iterator, Sequence

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Paragraph, Table

from print3d.output.paper.drawing import MM

KEEP_MM = 12.0
"""A heading takes this much of what follows along to its page: two lines of text, a row with its head, or a whole drawing."""
IS_HEADING = "heading"
"""Name of the style of a heading."""


def with_headings_kept(story: Sequence[Flowable], width: float) -> Iterator[Flowable]:
    """Yield a story with a break before each heading where the page holds too little of what follows it."""
    for number, each in enumerate(story):
        if _is_heading(each):
            yield CondPageBreak(_least_height(story[number:], width))
        yield each


def _is_heading(each: Flowable) -> bool:
    return isinstance(each, Paragraph) and each.style.name == IS_HEADING


def _least_height(story: Sequence[Flowable], width: float) -> float:
    """Height of a heading and of what is kept with it."""
    height = kept = 0.0
    for each in story:
        piece = _first_piece(each, width)
        height += each.getSpaceBefore() + piece + each.getSpaceAfter()
        kept += 0.0 if _is_heading(each) else piece
        if kept >= KEEP_MM * MM or isinstance(each, PageBreak):
            break
    return height


def _first_piece(each: Flowable, width: float) -> float:
    """Height of the least that begins with a flowable on a page.

    That is the first rows of a table, some lines of text, or a whole drawing.
    """
    if isinstance(each, KeepTogether):
        return sum(_first_piece(part, width) for part in each._content)
    _, height = each.wrap(width, 0.0)
    if isinstance(each, Table) and each.splitByRow:
        return min(height, max(KEEP_MM * MM, sum(each._rowHeights[: each.repeatRows + 1])))
    if isinstance(each, Paragraph):
        return min(height, KEEP_MM * MM)
    return float(height)
