"""The plan of a series on paper, in the language of the case: what is worn when, room for dates and measures, and how to go on."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from print3d import __version__
from print3d.exports.sheets.paper import BODY, NOTE, RULE, SMALL, Columns, Line, Paper, Sign, Style
from print3d.exports.sheets.sheet import cautions
from print3d.exports.sheets.signs import dot, fails, holds, warning
from print3d.exports.sheets.words import Words
from print3d.guidance.models import Figure
from print3d.guidance.sources import Sources
from print3d.studies.series import StepOutcome, rows_of
from print3d.studies.series_plan import Plan
from print3d.studies.steps import number_of
from print3d.texts.catalogue import lines

HAND_MM = 10.0
"""A row that is written into by hand."""
SHARES = (5, 9, 13, 27, 13, 20, 20, 14, 19, 38)
CHART_MM, AXIS_MM = 42.0, 14.0
PRESSURE = re.compile(r" \(\d+ mmHg\)$")
ROUND_DEG = 10.0
"""Angles of the chart's lines."""


@dataclass(frozen=True, eq=False)
class Sheet:
    """A plan under way to paper."""

    paper: Paper
    words: Words
    plan: Plan
    outcomes: Sequence[StepOutcome]
    sources: Sources = field(default_factory=Sources)

    def say(self, name: str, **values: object) -> str:
        """Return a text of the plan."""
        return self.words(f"series.{name}", **values)

    def cited(self, figure: Figure) -> str:
        """Return a figure with its range and the number of its source."""
        number = self.sources.place(figure.source, figure.mark)
        source = self.say("memory" if figure.mark == "memory" else "seen", n=number)
        if figure.low is None or figure.high is None:
            return self.say("cited", value=number_of(figure), source=source)
        return self.say("span", value=number_of(figure), low=figure.low, high=figure.high, source=source)


def write_plan_paper(path: Path, plan: Plan, outcomes: Sequence[StepOutcome]) -> None:
    """Write the plan as PDF."""
    head = plan.case.case
    words = Words(head.language)
    paper = Paper(words("series.title"), head.code, head.language, head.paper)
    sheet = Sheet(paper, words, plan, outcomes)
    paper.paragraph(words.title(plan.case), Style(BODY.size_pt, "Sheet-Bold"))
    paper.paragraph(sheet.say("lead"))
    _course(sheet)
    _steps(sheet)
    _notes(sheet)
    _chart(sheet)
    paper.heading(sheet.say("on_head"), keep_mm=30.0)
    paper.items(list(_how_to_go_on(sheet)), dot)
    paper.blanks(lines("series.signed", words.language))
    paper.heading(sheet.say("sources_head"), keep_mm=16.0)
    for number, source, mark in sheet.sources.entries():
        name = mark.replace(", ", "_").replace("-", "_")
        paper.paragraph(f"{number}  {source} ({sheet.say(f'mark.{name}')})", NOTE)
    cautions(paper)
    paper.save(path, words("sheets.paper.foot", version=__version__, code=head.code))


def _course(sheet: Sheet) -> None:
    """From where to where, and what must be looked at first."""
    course, override = sheet.plan.course, sheet.plan.case.override
    values = {"today": course.today_deg, "goal": course.goal_deg, "step": course.step_deg}
    count = len(sheet.plan.steps)
    told = [sheet.say("today" if count > 1 else "today_one", n=count, **values)]
    if course.margin_deg:
        told.append(sheet.say("margin", margin=course.margin_deg))
    if course.worn_deg is not None:
        told.append(sheet.say("worn", worn=course.worn_deg))
    sheet.paper.paragraph(" ".join(told))
    flagged = list[str]()
    for flag, text in sheet.plan.flags:
        name = sheet.say(f"flag.{flag.replace(' ', '_')}")
        flagged.append(f"{name}: {sheet.words.said(sheet.sources.cited(text), 'series')}")
    if override is not None:
        flagged.append(sheet.say("override", names=", ".join(override.allow), reason=override.reason))
    sheet.paper.items(flagged, warning)


def _steps(sheet: Sheet) -> None:
    """A row for each orthosis, with room to write."""
    rows, signs = [], list[Sign]()
    towards = sheet.plan.course.towards
    for step, outcome in rows_of(sheet.plan, sheet.outcomes):
        when = sheet.say(f"gives_{towards}", angle=step.gives_deg)
        if step.number == 1:
            when = sheet.say("is_today", when=when)
        form = sheet.words.named("form", outcome.form) if outcome.form else ""
        rows.append(("", str(step.number), sheet.say("held", angle=step.angle_deg), when, form, *[""] * 5))
        signs.append(_sign(outcome))
    sheet.paper.heading(sheet.say("steps_head"), keep_mm=30.0)
    head = ["", *lines("series.columns", sheet.words.language, when=sheet.say(f"when_{towards}"))]
    sheet.paper.table(rows, Columns(SHARES, head=head, style=NOTE, least_mm=HAND_MM, signs=signs))


def _sign(outcome: StepOutcome) -> Sign:
    if outcome.failing or (not outcome.is_built and outcome.message):
        return fails
    if not outcome.is_built:
        return lambda paper, at, style: None  # planned only
    return warning if outcome.watched else holds


def _notes(sheet: Sheet) -> None:
    """What is not as asked, what fails and what is to be watched; what is so at several orthoses is said once."""
    words, outcomes = sheet.words, list(enumerate(sheet.outcomes, start=1))
    unbuilt = [(n, each.message) for n, each in outcomes if each.message and not each.is_built]
    otherwise = [
        (n, words.said(each.message, "series")) for n, each in outcomes if each.message and each.is_built
    ]
    failing = [(n, what) for n, each in outcomes for what in _plain(words, each.failing)]
    watched = [(n, what) for n, each in outcomes for what in _plain(words, each.watched)]
    told = {"not_built": unbuilt, "fails": failing, "watch": watched, "as_built": otherwise}
    signs = {"not_built": fails, "fails": fails, "watch": warning, "as_built": dot}
    if any(told.values()):
        sheet.paper.heading(sheet.say("notes_head"), keep_mm=12.0)
    elif all(outcome.is_built for outcome in sheet.outcomes):
        sheet.paper.items([sheet.say("all_hold")], holds)
    for name, found in told.items():
        whats = dict.fromkeys(what for _, what in found)
        numbers = {what: ", ".join(str(n) for n, each in found if each == what) for what in whats}
        sheet.paper.items([sheet.say(name, n=numbers[what], what=what) for what in whats], signs[name])


def _plain(words: Words, whats: Sequence[str]) -> list[str]:
    """Findings in words, without the pressures that differ from step to step."""
    return [words.said(PRESSURE.sub("", what), "finding") for what in whats]


def _chart(sheet: Sheet) -> None:
    """Planned angles as circles over a grid on which the measured ones are marked by hand."""
    paper, steps = sheet.paper, sheet.plan.steps
    paper.heading(sheet.say("chart_head"), keep_mm=CHART_MM + 24.0)
    paper.paragraph(sheet.say("chart" if sheet.plan.course.towards == "extension" else "chart_flexion"))
    paper.need(CHART_MM + 12.0)
    top = max(sheet.plan.course.today_deg, *(step.angle_deg for step in steps))
    top = ROUND_DEG * (np.floor(top / ROUND_DEG) + 1)
    left, right = paper.left + AXIS_MM, paper.left + paper.room
    head, foot = paper.y - 5.0, paper.y - 5.0 - CHART_MM
    across = (right - left) / (len(steps) + 1)

    def at(number: float, angle: float) -> tuple[float, float]:
        return left + number * across, foot + CHART_MM * angle / top

    for angle in np.arange(0.0, top + 1.0, ROUND_DEG):
        paper.line([at(0, angle), (right, at(0, angle)[1])], RULE)
        paper.write((left - 2.0, at(0, angle)[1] - 1.0), f"{angle:g}", SMALL, "right")
    for step in steps:
        x, y = at(step.number, step.angle_deg)
        paper.line([(x, foot), (x, head)], Line(0.1, 0.75))
        paper.write((x, foot - 4.0), str(step.number), SMALL, "centre")
    paper.line([at(step.number, step.angle_deg) for step in steps], Line(0.3, 0.3, (1.5, 1.0)))
    for step in steps:
        paper.circle(at(step.number, step.angle_deg), 1.3, Line(0.4), fill=1.0)
    paper.write((paper.left, head + 2.0), sheet.say("axis"), SMALL)
    paper.write((paper.left, foot - 4.0), sheet.say("across"), SMALL)
    paper.y = foot - 7.0


def _how_to_go_on(sheet: Sheet) -> Iterator[str]:
    plan, rule = sheet.plan, sheet.plan.rule
    yield sheet.say(f"on_{plan.course.towards}")
    command = (
        f"print3d series {plan.case.source.as_posix()} --remeasured pip_flexion_deg=...,pip_girth_mm=... "
        f"--worn {plan.steps[0].angle_deg:g}"
    )
    yield f"{sheet.say('on_measure', days=sheet.cited(rule.days))} {command}"
    figures: dict[str, Any] = {
        "step": sheet.cited(rule.step_deg),
        "most": sheet.cited(rule.most_step_deg),
        "least": sheet.cited(rule.least_gain_deg),
    }
    yield sheet.say("on_step", **figures)
    if plan.course.goal_deg == rule.goal_deg.value:
        yield sheet.say("on_goal", goal=sheet.cited(rule.goal_deg))
    if rule.wear_hours is not None:
        yield sheet.say("on_wear", hours=sheet.cited(rule.wear_hours))
    yield sheet.say("on_stop")
    has_letters = plan.case.orthosis.marking.style != "none"
    yield sheet.say("on_letters" if has_letters else "on_no_letters", code=plan.case.case.code)
