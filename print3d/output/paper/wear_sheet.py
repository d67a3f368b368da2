"""Wear and care, in plain words for the wearer; the wear plan is left for the therapist to fill in."""

from collections.abc import Sequence
from pathlib import Path

from print3d.built import Built
from print3d.language.catalogue import lines
from print3d.language.message import Message
from print3d.output.paper.drawing import LARGE
from print3d.output.paper.paper import Paper
from print3d.output.paper.sheet import cautions, words_of, write_on_one_page
from print3d.output.paper.signs import dot, warning
from print3d.output.paper.straps import write_putting_on
from print3d.output.paper.wearing import Wearing
from print3d.output.paper.words import Words


def write_wear_sheet(path: Path, built: Built) -> None:
    """Write the sheet for the wearer."""
    write_on_one_page(path, built, "sheets.wear.title", _fill)


def _fill(paper: Paper, built: Built) -> None:
    words, kind = words_of(built), built.case.orthosis.kind
    language, wearing = words.language, Wearing(built, words_of(built))
    paper.heading(words("sheets.wear.what"))
    _paragraphs(paper, wearing.purpose())
    own = lines(f"kinds.{kind}.wear", language)
    _section(paper, words, "special", (*_said(wearing.special(), words), *own))
    write_putting_on(paper, words, built, is_protected=wearing.is_protected)
    paper.heading(words("sheets.wear.plan"))
    _paragraphs(paper, wearing.hours())
    paper.blanks(lines(wearing.plan_rows(), language), LARGE, label_share=0.4, columns=2)
    paper.heading(words("sheets.wear.stop"))
    paper.items(lines("sheets.wear.stop_rows", language), warning, LARGE, columns=2)
    _paragraphs(paper, wearing.urgent())
    _section(paper, words, "skin", _said(wearing.skin(), words))
    _section(paper, words, "care", _said(wearing.care(), words))
    paper.heading(words("sheets.wear.call"))
    paper.blanks(lines("sheets.wear.call_rows", language), LARGE, label_share=0.4, columns=2)
    cautions(paper)


def _section(paper: Paper, words: Words, key: str, rows: Sequence[str]) -> None:
    paper.heading(words(f"sheets.wear.{key}"))
    paper.items(rows, dot, LARGE)


def _paragraphs(paper: Paper, messages: Sequence[Message]) -> None:
    for each in messages:
        paper.paragraph(each.said(paper.language), LARGE)


def _said(messages: Sequence[Message], words: Words) -> list[str]:
    return [each.said(words.language) for each in messages]
