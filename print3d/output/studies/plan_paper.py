"""The plan of a series on paper, in the language of the case.

It says what is worn when and how to go on, with room for dates and measures.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from print3d import __version__
from print3d.language.catalogue import lines
from print3d.output.paper.drawing import BODY, NOTE, RULE, SMALL, Line, Sign, Style
from print3d.output.paper.paper import Columns, Paper
from print3d.output.paper.sheet import cautions
from print3d.output.paper.signs import dot, fails, holds, warning
from print3d.output.paper.words import Words
from print3d.output.studies.plan_words import Note, PlanWords
from print3d.output.title import title_of
from print3d.studies.series import StepOutcome, rows_of
from print3d.studies.series_plan import SeriesPlan

HAND_MM = 10.0
"""A row that is written into by hand."""
SHARES = (5, 9, 13, 27, 13, 20, 20, 14, 19, 38)
"""Widths of the columns against each other; own choice."""
CHART_MM = 42.0
"""Height of the chart; own choice."""
AXIS_MM = 14.0
"""Room beside it for the numbers of its axis; own choice."""
BELOW_MM = 7.0
"""Room below the chart for the numbers of the steps; own choice."""
ABOVE_MM = 5.0
"""Room above the chart for the name of its axis; own choice."""
ROUND_DEG = 10.0
"""Angles of the chart's lines."""


@dataclass(frozen=True, eq=False)
class SeriesSheet:
    """A plan under way to paper."""

    paper: Paper
    words: PlanWords
    outcomes: Sequence[StepOutcome]

    @property
    def plan(self) -> SeriesPlan:
        """What is planned."""
        return self.words.plan


def write_plan_paper(path: Path, plan: SeriesPlan, outcomes: Sequence[StepOutcome]) -> None:
    """Write the plan as PDF."""
    head = plan.case.header
    words = PlanWords(Words(head.language), plan)
    paper = Paper(words.say("title"), str(plan.case.mark), head.language, head.paper)
    sheet = SeriesSheet(paper, words, outcomes)
    paper.paragraph(title_of(plan.case), Style(BODY.size_pt, "Sheet-Bold"))
    paper.paragraph(words.say("lead"))
    paper.paragraph(words.course())
    paper.items(list(words.flagged()), warning)
    _steps(sheet)
    _notes(sheet)
    _chart(sheet)
    paper.heading(words.say("on_head"))
    paper.items(list(words.how_to_go_on()), dot)
    paper.blanks(lines("series.signed", head.language))
    paper.heading(words.say("sources_head"))
    for number, source in words.sources_listed():
        paper.paragraph(f"{number}  {source}", NOTE)
    cautions(paper)
    paper.save(path, words.words("sheets.paper.foot", version=__version__, code=str(plan.case.mark)))


def _steps(sheet: SeriesSheet) -> None:
    """A row for each orthosis, with room to write."""
    rows, signs = [], list[Sign]()
    for step, outcome in rows_of(sheet.plan, sheet.outcomes):
        rows.append(("", *sheet.words.row(step, outcome), *[""] * 5))
        signs.append(_sign(outcome))
    sheet.paper.heading(sheet.words.say("steps_head"))
    head = ["", *sheet.words.columns()]
    sheet.paper.table(rows, Columns(SHARES, head=head, style=NOTE, least_mm=HAND_MM, signs=signs))


def _sign(outcome: StepOutcome) -> Sign:
    if outcome.failing or (not outcome.is_built and outcome.message):
        return fails
    if not outcome.is_built:
        return lambda drawing, at, style: None  # planned only
    return warning if outcome.watched else holds


def _notes(sheet: SeriesSheet) -> None:
    """What is not as asked, what fails and what is to be watched."""
    notes = list(sheet.words.notes(sheet.outcomes))
    if notes:
        sheet.paper.heading(sheet.words.say("notes_head"))
    elif all(outcome.is_built for outcome in sheet.outcomes):
        sheet.paper.items([sheet.words.say("all_hold")], holds)
    signs: dict[Note, Sign] = {"not_built": fails, "fails": fails, "watch": warning, "as_built": dot}
    for note, sign in signs.items():
        sheet.paper.items([told for name, told in notes if name == note], sign)


def _chart(sheet: SeriesSheet) -> None:
    """Planned angles as circles over a grid on which the measured ones are marked by hand."""
    paper, steps = sheet.paper, sheet.plan.steps
    paper.heading(sheet.words.say("chart_head"))
    paper.paragraph(sheet.words.say("chart" if sheet.plan.course.towards == "extension" else "chart_flexion"))
    top = max(sheet.plan.course.today_deg, *(step.angle_deg for step in steps))
    top = ROUND_DEG * (np.floor(top / ROUND_DEG) + 1)
    left, right = AXIS_MM, paper.room
    foot, head = BELOW_MM, BELOW_MM + CHART_MM
    drawing = paper.drawing(head + ABOVE_MM)
    across = (right - left) / (len(steps) + 1)

    def at(place: float, angle: float) -> tuple[float, float]:
        return left + place * across, foot + CHART_MM * angle / top

    for angle in np.arange(0.0, top + 1.0, ROUND_DEG):
        drawing.line([at(0, angle), (right, at(0, angle)[1])], RULE)
        drawing.write((left - 2.0, at(0, angle)[1] - 1.0), f"{angle:g}", SMALL, "right")
    for place, step in enumerate(steps, 1):
        x, y = at(place, step.angle_deg)
        drawing.line([(x, foot), (x, head)], Line(0.1, 0.75))
        drawing.write((x, foot - 4.0), str(step.number), SMALL, "centre")
    planned = [at(place, step.angle_deg) for place, step in enumerate(steps, 1)]
    drawing.line(planned, Line(0.3, 0.3, (1.5, 1.0)))
    for each in planned:
        drawing.circle(each, 1.3, Line(0.4), fill=1.0)
    drawing.write((0.0, head + 2.0), sheet.words.say("axis"), SMALL)
    drawing.write((0.0, foot - 4.0), sheet.words.say("across"), SMALL)
