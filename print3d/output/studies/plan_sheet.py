"""The plan of a series as text to read, as a table and as data.

Dates are left to the therapist.
"""

import csv
import json
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

from print3d import __version__
from print3d.checks.finding import finding_as_data
from print3d.guidance.models import StepRule
from print3d.inputs.cautions import CAUTIONS
from print3d.language.catalogue import Language, lines, text
from print3d.language.message import entry_of_table
from print3d.output.paper.words import Words
from print3d.output.studies.plan_words import Note, PlanWords
from print3d.output.title import title_of
from print3d.studies.series import StepOutcome, folder_of, rows_of, skin_bears, verdict
from print3d.studies.series_plan import SeriesPlan
from print3d.studies.steps import Flagged

COLUMNS = 110
"""Letters in a line of the text file; own choice."""
SIGN_OF: dict[Note, str] = {"not_built": "x", "fails": "x", "watch": "!", "as_built": "-"}
BLANKS = ("__________", "__________", "_______", "_______")
TO_FILL_IN = ("planned_date", "fitted_date", "pip_measured_deg", "pip_girth_mm", "skin_and_remarks")
NAMES = ("plan.pdf", "plan.txt", "plan.csv", "plan.json")


def write_plan(folder: Path, plan: SeriesPlan, outcomes: Sequence[StepOutcome]) -> None:
    """Write plan.pdf, plan.txt, plan.csv and plan.json."""
    from print3d.output.studies.plan_paper import write_plan_paper

    write_plan_paper(folder / "plan.pdf", plan, outcomes)
    (folder / "plan.txt").write_text("\n".join(plan_text(plan, outcomes)) + "\n", encoding="utf-8")
    data = json.dumps(plan_data(plan, outcomes), indent=2, ensure_ascii=False, allow_nan=False)
    (folder / "plan.json").write_text(data + "\n", encoding="utf-8")
    with (folder / "plan.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(
            ["step", "pip_flexion_deg", "form", "only_when_pip_gives_deg", "checks", "folder", *TO_FILL_IN]
        )
        for step, outcome in rows_of(plan, outcomes):
            told = [step.number, f"{step.angle_deg:g}", outcome.form, f"{step.gives_deg:g}"]
            rows.writerow(
                [
                    *told,
                    verdict(outcome, plan.case.header.language),
                    folder_of(step),
                    *("" for _ in TO_FILL_IN),
                ]
            )


def plan_text(plan: SeriesPlan, outcomes: Sequence[StepOutcome]) -> Iterator[str]:
    """Yield the lines of the plan in the language of its case.

    They come in the order in which a therapist needs them.
    """
    language = plan.case.header.language
    words = PlanWords(Words(language), plan)
    yield f"{words.say('title')}: {title_of(plan.case)}"
    yield from _wrapped("", words.say("lead"))
    yield from _wrapped("", words.course())
    for told in words.flagged():
        yield from _wrapped("  ! ", told)
    yield ""
    yield from _step_lines(words, outcomes)
    notes = list(words.notes(outcomes))
    if notes:
        yield ""
        yield words.say("notes_head").upper()
        for note, told in notes:
            yield from _wrapped(f"  {SIGN_OF[note]} ", told)
    elif all(outcome.is_built for outcome in outcomes):
        yield from _wrapped("  + ", words.say("all_hold"))
    yield ""
    yield words.say("on_head").upper()
    for told in words.how_to_go_on():
        yield from _wrapped("  - ", told)
    yield ""
    yield words.say("sources_head").upper()
    for number, source in words.sources_listed():
        yield from _wrapped(f"  {number:2}  ", source)
    yield ""
    for caution in lines("cautions.all", language):
        yield from _wrapped(f"{text('cautions.head', language)}: ", caution)


def _step_lines(words: PlanWords, outcomes: Sequence[StepOutcome]) -> Iterator[str]:
    """A line for each step, in columns, with room for what is written by hand."""
    columns = words.columns()[:-1]  # remarks have no room here
    rows = [
        [_sign(outcome), *words.row(step, outcome), *BLANKS]
        for step, outcome in rows_of(words.plan, outcomes)
    ]
    table = [["", *columns], *rows]
    widths = [max(len(row[place]) for row in table) for place in range(len(columns) + 1)]
    for row in table:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _sign(outcome: StepOutcome) -> str:
    if outcome.failing or (not outcome.is_built and outcome.message):
        return "x"
    if not outcome.is_built:
        return ""  # planned only
    return "!" if outcome.watched else "+"


def _wrapped(first: str, told: str) -> list[str]:
    return textwrap.wrap(
        told,
        COLUMNS,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )


def plan_data(plan: SeriesPlan, outcomes: Sequence[StepOutcome]) -> dict[str, object]:
    """Return the plan as plain data, all findings in it; empty places are the therapist's."""
    head, course, language = plan.case.header, plan.course, plan.case.header.language
    bears = skin_bears(plan, outcomes)
    return {
        "case": head.code,
        "visit": head.visit,
        "side": head.side,
        "finger": head.finger,
        "kind": plan.case.orthosis.kind,
        "version": __version__,
        "today_deg": course.today_deg,
        "goal_deg": course.goal_deg,
        "step_deg": course.step_deg,
        "margin_deg": course.margin_deg,
        "worn_deg": course.worn_deg,
        "wear_hours_per_day": plan.wear_hours_per_day,
        "remeasured_girths_mm": {
            key: {"before": before, "now": now} for key, before, now in course.girths_mm
        },
        "rule": _rule_as_data(plan.rule, language),
        "flags": [_flag_as_data(each, language) for each in plan.flags],
        "override": None if plan.case.override is None else plan.case.override.model_dump(mode="json"),
        "holds": all(each.is_built and not each.failing for each in outcomes),
        "skin_bears": None if bears is None else asdict(bears),
        "steps": [
            {
                "step": step.number,
                "asked": asked,
                "pip_flexion_deg": step.angle_deg,
                "only_when_pip_gives_deg": step.gives_deg,
                "form": outcome.form,
                "built": outcome.is_built,
                "holds": outcome.is_built and not outcome.failing,
                "message": "" if outcome.message is None else outcome.message.said(language),
                "folder": folder_of(step),
                "files": list(outcome.files),
                "findings": [finding_as_data(each, language) for each in outcome.findings],
                **dict.fromkeys(TO_FILL_IN),
            }
            for (step, outcome), asked in zip(rows_of(plan, outcomes), plan.asked, strict=True)
        ],
        "cautions": CAUTIONS,
    }


def _rule_as_data(rule: StepRule, language: Language) -> dict[str, object]:
    """The rule with its title and the sources of its figures in words."""
    data = rule.model_dump(mode="json", exclude_none=True)
    for figure in data.values():
        if isinstance(figure, dict):
            figure["source"] = entry_of_table(figure["source"]).said(language)
    return {**data, "title": entry_of_table(rule.title).said(language)}


def _flag_as_data(each: Flagged, language: Language) -> dict[str, object]:
    return {"flag": each.flag, **each.words.as_data(), "text": each.words.said(language)}
