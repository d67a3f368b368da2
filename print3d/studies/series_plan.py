"""A series of orthoses for one case, planned: the case of every step.

It follows from a case file and what was measured again.
"""

import re
from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path

from print3d.errors import InputError
from print3d.guidance.models import StepRule
from print3d.guidance.tables import read_step_rules
from print3d.inputs.case import Case, canonical_text
from print3d.inputs.case_file import Kinds, case_from_data, read_case
from print3d.inputs.finger_words import with_fingers_named
from print3d.inputs.measured import FingerMeasured, with_finger
from print3d.inputs.problems import MISSING, Problem, either, refused, unknown_name
from print3d.inputs.tables import Tables
from print3d.inputs.toml_file import read_toml
from print3d.inputs.toml_text import toml_text
from print3d.inputs.typed import number_typed
from print3d.inputs.validation import validate
from print3d.kinds.registry import KINDS
from print3d.language.message import Message, message
from print3d.mechanics.loads import pull_of_case
from print3d.studies.steps import (
    LARGEST_MARGIN_DEG,
    LARGEST_STEP_DEG,
    LEAST_STEP_DEG,
    Course,
    Flagged,
    Step,
    flags_of,
    number_of,
    steps_of,
)

PASSIVE_KEY = "pip_passive_extension_deficit_deg"
REMEASURED = "--remeasured"
REMEASURED_ANGLE = "pip_flexion_deg"
"""What `--remeasured` calls the PIP flexion that is left when the joint is gently moved by hand."""
_BETWEEN = re.compile(r",(?!\s*\d+\s*(?:,|$))")
"""A comma between two measures; one before nothing but digits is a decimal comma."""
FORMS = ("volar", "dorsal", "sleeve")


@dataclass(frozen=True)
class Request:
    """What the therapist asks for; None takes the default of the kind."""

    goal_deg: float | None = None
    step_deg: float | None = None
    margin_deg: float = 0.0
    worn_deg: float | None = None
    remeasured: Mapping[str, float] | None = None


@dataclass(frozen=True)
class StepVariant:
    """One way to build a step.

    text : of its case file
    remark : how it differs from what was asked
    """

    case: Case
    text: str
    remarks: tuple[Message, ...] = ()


@dataclass(frozen=True)
class SeriesPlan:
    """A series before it is built.

    variants : for each step what is tried in turn
    """

    case: Case
    rule: StepRule
    course: Course
    steps: tuple[Step, ...]
    flags: tuple[Flagged, ...]
    variants: tuple[tuple[StepVariant, ...], ...]

    @property
    def wear_hours_per_day(self) -> float:
        """Planned wear of every step, for which its pressure on the skin is judged."""
        return pull_of_case(self.variants[0][0].case).wear_hours

    @property
    def asked(self) -> list[str]:
        """A digest of each step as it is asked for, whatever its number."""
        return [sha256(canonical_text(each[0].case).encode()).hexdigest() for each in self.variants]

    def numbered_from(self, first: int) -> "SeriesPlan":
        """Return the same with other numbers: no two orthoses of a visit ever share one."""
        steps = tuple(replace(step, number=number) for number, step in enumerate(self.steps, first))
        variants = tuple(
            tuple(replace(each, case=replace(each.case, step=step.number)) for each in found)
            for step, found in zip(steps, self.variants, strict=True)
        )
        return replace(self, steps=steps, variants=variants)


def read_plan(path: Path, kinds: Kinds, request: Request) -> SeriesPlan:
    """Plan the series of a case file.

    Raises InputError with everything that is wrong with the file, with the request, or with a step.
    """
    case = read_case(path, kinds)
    rule = _rule(case)
    course = _course(case, rule, request)
    steps = tuple(steps_of(course))
    tables = _measured_again(with_fingers_named(read_toml(path)).data, case, request)
    variants = tuple(tuple(_variants(tables, case, kinds, step, rule)) for step in steps)
    plan = SeriesPlan(case, rule, course, steps, tuple(flags_of(course, rule)), variants)
    return plan.numbered_from(steps[0].number)


def read_remeasured(text: str) -> dict[str, float]:
    """Read "pip_flexion_deg=30,pip_girth_mm=66". Raises InputError with every part that is none of these."""
    found, problems = dict[str, float](), list[Problem]()
    known = [REMEASURED_ANGLE, *FingerMeasured.model_fields]
    for part in filter(None, (each.strip() for each in _BETWEEN.split(text))):
        key, _, number = (each.strip() for each in part.partition("="))
        if key not in known:
            no_such = message("refusals.no_such.finger_measure")
            problems.append(Problem(REMEASURED, part, unknown_name("", key, no_such, known).wanted))
            continue
        key = PASSIVE_KEY if key == REMEASURED_ANGLE else key
        if key in found:
            problems.append(Problem(REMEASURED, part, message("refusals.series.twice", key=key)))
        try:
            found[key] = number_typed(number)
        except ValueError:
            given = part.partition("=")[0].strip()
            problems.append(Problem(REMEASURED, part, message("refusals.series.give_number", key=given)))
    problems += [problem.of(REMEASURED) for problem in validate(FingerMeasured, found).problems]
    if not problems and not found:
        wanted = message("refusals.series.give_number", key=REMEASURED_ANGLE)
        problems.append(Problem(REMEASURED, text, wanted))
    if problems:
        raise InputError(*problems)
    return found


def _rule(case: Case) -> StepRule:
    """Return how the kind goes on; a ring that stops flexion has a rule of its own."""
    rules = read_step_rules(case.libraries)
    kind = case.orthosis.kind
    name = f"{kind}_{blocks}" if (blocks := getattr(case.orthosis, "blocks", None)) else kind
    if name not in rules:
        wanted = message("refusals.series.kind", having=either([_in_words(each) for each in rules]))
        raise refused(case.source, wanted, "orthosis.kind", kind)
    return rules[name]


def _in_words(name: str) -> Message | str:
    """Return what a rule is for: a kind, or a kind that blocks one way."""
    kind = next((each for each in KINDS if name == each or name.startswith(f"{each}_")), name)
    if kind == name:
        return kind
    return message("refusals.series.kind_blocking", kind=kind, blocks=name.removeprefix(f"{kind}_"))


def _course(case: Case, rule: StepRule, request: Request) -> Course:
    again = request.remeasured or {}
    measured = case.measured.finger(case.header.finger)
    held = float(getattr(case.orthosis, REMEASURED_ANGLE))
    if rule.towards == "extension":
        today = again.get(PASSIVE_KEY, measured.pip_passive_extension_deficit_deg)
    else:
        today = again.get(PASSIVE_KEY, held)
    if today is None:
        key = f"measured.{case.header.finger}.{PASSIVE_KEY}"
        raise refused(case.source, message("refusals.series.start"), key, MISSING)
    goal = request.goal_deg if request.goal_deg is not None else number_of(rule.goal_deg)
    step = request.step_deg if request.step_deg is not None else number_of(rule.step_deg)
    worn = None if request.remeasured is None else request.worn_deg if request.worn_deg is not None else held
    girths = tuple(
        (key, float(before), now)
        for key, now in again.items()
        if key.endswith("_girth_mm") and (before := getattr(measured, key)) is not None
    )
    course = Course(rule.towards, today, goal, step, request.margin_deg, worn, girths)
    _refuse_nonsense(course)
    return course


def _refuse_nonsense(course: Course) -> None:
    """Raise InputError for numbers with which no series is safe; only flagged ones pass."""
    problems = [
        Problem(f"--{name}", float(value), message("refusals.series.range", least=low, most=high))
        for name, value, low, high in (
            ("step", course.step_deg, LEAST_STEP_DEG, LARGEST_STEP_DEG),
            ("margin", course.margin_deg, 0.0, LARGEST_MARGIN_DEG),
            ("goal", course.goal_deg, 0.0, 90.0),
            ("worn", course.worn_deg or 0.0, 0.0, 90.0),
        )
        if not low <= value <= high
    ]
    if problems:
        raise InputError(*problems)


def _variants(data: Tables, case: Case, kinds: Kinds, step: Step, rule: StepRule) -> Iterator[StepVariant]:
    """Yield the case of a step as asked, then without letters, then the same in the other forms.

    Fewer letters might be those of another part.
    """
    own, marking = getattr(case.orthosis, "form", None), case.orthosis.marking.style
    for form in dict.fromkeys((own, *FORMS)) if own is not None else (None,):
        for style in dict.fromkeys((marking, "none")):
            tables, remarks = _tables(data, case, step, rule), []
            if style != marking:
                tables["orthosis"].setdefault("marking", {})["style"] = style
                remarks.append(message("series.outcome.no_letters"))
            if form is not None:
                tables["orthosis"]["form"] = form
                shape = message(f"common.form.{form}")
                remarks += [message("series.outcome.form", shape=shape)] if form != own else []
            yield StepVariant(
                case_from_data(tables, kinds, case.source, case.libraries),
                toml_text(tables),
                tuple(remarks),
            )


def _measured_again(data: Tables, case: Case, request: Request) -> Tables:
    """Return the tables of the case file with what was measured again; the joint's angle is left to each step.

    Who confirmed the old number did not confirm the new one.
    """
    tables: Tables = deepcopy(dict(data))
    measured, name, again = tables.setdefault("measured", {}), case.header.finger, request.remeasured or {}
    finger = measured.setdefault(name, {})
    finger |= again
    if "confirmed" in measured:
        renewed = {f"{name}.{key}" for key in again}
        measured["confirmed"] = [
            key for key in measured["confirmed"] if with_finger(key, name) not in renewed
        ]
    finger.pop(PASSIVE_KEY, None)
    return tables


def _tables(data: Tables, case: Case, step: Step, rule: StepRule) -> Tables:
    """Return the tables of the case file with the angle of a step.

    The hours of wear of the rule are among them, where the file leaves them open.
    """
    tables: Tables = deepcopy(dict(data))
    if rule.wear_hours is not None and case.orthosis.wear_hours_per_day is None:
        tables["orthosis"]["wear_hours_per_day"] = number_of(rule.wear_hours)
    if rule.towards == "extension":
        tables["measured"][case.header.finger][PASSIVE_KEY] = step.gives_deg
    tables["orthosis"][REMEASURED_ANGLE] = step.angle_deg
    return tables
