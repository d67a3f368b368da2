"""The plan of a series as text to read, as a table and as data. Dates are left to the therapist."""

import csv
import json
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from print3d import __version__
from print3d.guidance.models import Figure
from print3d.guidance.sources import Sources
from print3d.inputs.cautions import CAUTIONS
from print3d.studies.series import StepOutcome, folder_of, rows_of, verdict
from print3d.studies.series_plan import Plan
from print3d.studies.steps import Step, number_of

COLUMNS = 110
TO_FILL_IN = ("planned_date", "fitted_date", "pip_measured_deg", "pip_girth_mm", "skin_and_remarks")
NAMES = ("plan.pdf", "plan.txt", "plan.csv", "plan.json")


def write_plan(folder: Path, plan: Plan, outcomes: Sequence[StepOutcome]) -> None:
    """Write plan.pdf, plan.txt, plan.csv and plan.json."""
    from print3d.studies.plan_paper import write_plan_paper

    write_plan_paper(folder / "plan.pdf", plan, outcomes)
    (folder / "plan.txt").write_text("\n".join(plan_text(plan, outcomes)) + "\n", encoding="utf-8")
    text = json.dumps(plan_data(plan, outcomes), indent=2, ensure_ascii=False, allow_nan=False)
    (folder / "plan.json").write_text(text + "\n", encoding="utf-8")
    with (folder / "plan.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(
            ["step", "pip_flexion_deg", "form", "only_when_pip_gives_deg", "checks", "folder", *TO_FILL_IN]
        )
        for step, outcome in rows_of(plan, outcomes):
            told = [step.number, f"{step.angle_deg:g}", outcome.form, f"{step.gives_deg:g}"]
            rows.writerow([*told, verdict(outcome), folder_of(step), *("" for _ in TO_FILL_IN)])


def plan_text(plan: Plan, outcomes: Sequence[StepOutcome]) -> Iterator[str]:
    """Yield the lines of the plan sheet, in the order in which a therapist needs them."""
    head, course, sources = plan.case.case, plan.course, Sources()
    n_more = len(plan.steps) - 1
    yield f"{head.code}, {head.side} {head.finger} finger: {plan.rule.title}"
    yield (
        f"Today {course.today_deg:g} degrees, goal {course.goal_deg:g}: first orthosis"
        + (f" and {n_more} steps" if n_more else "")
        + (f", {course.margin_deg:g} degrees short of what the joint gives" if course.margin_deg else "")
    )
    for flag, text in plan.flags:
        yield from _wrapped(f"  ! {flag}: ", sources.cited(text))
    yield ""
    yield _heading(plan)
    for step, outcome in rows_of(plan, outcomes):
        yield _row(step, outcome)
        yield from _wrapped("        ", _remark(outcome))
    yield ""
    yield "HOW TO GO ON"
    for text in _how_to_go_on(plan, sources):
        yield from _wrapped("  - ", text)
    yield ""
    yield "SOURCES (seen: read there; memory: remembered, verify before use)"
    for number, text in sources.listed():
        yield from _wrapped(f"  {number:2}  ", text)
    yield ""
    for text in CAUTIONS:
        yield from _wrapped("Caution: ", text)


def _heading(plan: Plan) -> str:
    when = "lacks at most" if plan.course.towards == "extension" else "bends to"
    return f"step  PIP flexion  when the PIP {when:13}  form    planned     fitted      PIP measured  girth"


def _row(step: Step, outcome: StepOutcome) -> str:
    when = f"{step.gives_deg:g} deg" + (" (today)" if step.number == 1 else "")
    blanks = "__________  __________  ____________  _____"
    return f"{step.number:4}  {step.angle_deg:>7g} deg  {when:26}  {outcome.form:6}  {blanks}"


def _remark(outcome: StepOutcome) -> str:
    """Return what a step's row does not show: that it fails, is not built, or is not as asked."""
    if outcome.is_built and not outcome.failing:
        return outcome.message
    return verdict(outcome) if outcome.is_built or outcome.message else ""


def _how_to_go_on(plan: Plan, sources: Sources) -> Iterator[str]:
    rule, code, first = plan.rule, plan.case.case.code, plan.steps[0].angle_deg

    def cited(figure: Figure, unit: str) -> str:
        has_span = figure.low is not None and figure.high is not None
        span = f" ({figure.low:g} to {figure.high:g})" if has_span else ""
        return f"{number_of(figure):g}{span} {unit} {sources.number(figure.source, figure.mark)}"

    extends = plan.course.towards == "extension"
    gives = (
        "gently extended by hand, gives"
        if extends
        else "bent and straightened by the patient without lag, gives"
    )
    yield f"Print and fit step 1 now. A later one is printed and worn only when the PIP, measured again and {gives} its angle."
    yield (
        f"Measure angle and girth again after {cited(rule.days, 'days')}, then: print3d series {plan.case.source} "
        f"--remeasured pip_flexion_deg=ANGLE,pip_girth_mm=GIRTH --worn {first:g}"
    )
    yield (
        f"A step is usually {cited(rule.step_deg, 'degrees')}, at most {cited(rule.most_step_deg, 'degrees')}; "
        f"a gain counts from {cited(rule.least_gain_deg, 'degrees')}."
    )
    if plan.course.goal_deg == rule.goal_deg.value:
        yield f"The goal is {cited(rule.goal_deg, 'degrees')}."
    if rule.wear_hours is not None:
        yield f"Wear {cited(rule.wear_hours, 'hours a day')}, as far as skin and protocol allow."
    yield "Two steps without gain, a hard end feel, swelling or sores: stop, and refer on."
    if plan.case.orthosis.marking.style == "none":
        yield "These orthoses carry no letters: keep each in a bag with its step on it."
        return
    yield f"Each orthosis carries its step: {code}-1, {code}-2 ...; where there is no room for that, fewer letters."


def _wrapped(first: str, text: str) -> list[str]:
    return textwrap.wrap(
        text,
        COLUMNS,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )


def plan_data(plan: Plan, outcomes: Sequence[StepOutcome]) -> dict[str, Any]:
    """Return the plan as plain data, all findings in it; empty places are the therapist's."""
    head, course = plan.case.case, plan.course
    return {
        "case": head.code,
        "side": head.side,
        "finger": head.finger,
        "kind": plan.case.orthosis.kind,
        "version": __version__,
        "today_deg": course.today_deg,
        "goal_deg": course.goal_deg,
        "step_deg": course.step_deg,
        "margin_deg": course.margin_deg,
        "worn_deg": course.worn_deg,
        "remeasured_girths_mm": {
            key: {"before": before, "now": now} for key, before, now in course.girths_mm
        },
        "rule": plan.rule.model_dump(mode="json", exclude_none=True),
        "flags": [{"flag": kind, "text": text} for kind, text in plan.flags],
        "override": None if plan.case.override is None else plan.case.override.model_dump(mode="json"),
        "holds": all(each.is_built and not each.failing for each in outcomes),
        "steps": [
            {
                "step": step.number,
                "pip_flexion_deg": step.angle_deg,
                "only_when_pip_gives_deg": step.gives_deg,
                "form": outcome.form,
                "built": outcome.is_built,
                "holds": outcome.is_built and not outcome.failing,
                "message": outcome.message,
                "folder": folder_of(step),
                "files": list(outcome.files),
                "findings": list(outcome.findings),
                **dict.fromkeys(TO_FILL_IN),
            }
            for step, outcome in rows_of(plan, outcomes)
        ],
        "cautions": CAUTIONS,
    }
