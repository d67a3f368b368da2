"""The tables of the guidance files: injuries, signs, suggestions and stepped angles.

A sentence that holds a figure must end a bracket with its source and mark, `[Author year; seen]`: a figure without a source is refused.
"""

import re
from collections.abc import Iterator
from typing import Annotated, Literal, get_args

from pydantic import Field

from print3d.inputs.materials import Mark
from print3d.inputs.problems import Problem
from print3d.inputs.table import Accepts, GivenValues, Section
from print3d.language.message import message

Stage = Literal["acute", "chronic"]
STAGES: tuple[Stage, ...] = get_args(Stage)
SOURCED = re.compile(r"\[(?P<source>[^\]]+); (?P<mark>" + "|".join(get_args(Mark)) + r")\]")
NAMED = re.compile(r"\(types [^)]*\)|DIP|PIP|zones? [IV]+")
"""Figures that are names are none."""

PassiveKey = Literal[
    "pip_passive_extension_deficit_deg", "dip_passive_hyperextension_deg", "pip_max_flexion_deg"
]
Texts = Annotated[tuple[str, ...], Accepts(message("refusals.accepts.sentences")), Field(strict=False)]
Names = Annotated[tuple[str, ...], Accepts(message("refusals.accepts.names")), Field(strict=False)]
Stages = Annotated[
    tuple[Stage, ...],
    Accepts(message("refusals.accepts.stages", one_of=get_args(Stage))),
    Field(strict=False, min_length=1),
]


class Injury(Section):
    """What is hurt, where."""

    title: str = Field(min_length=3, description="As a therapist calls it")
    words: Names = Field((), description="What it also goes by")
    fresh_tendon: bool = Field(False, description="While acute, hand therapist and surgeon's protocol decide")
    refer_on: Texts = Field((), description="Said whenever this injury is named")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return figures without a source."""
        return list(_unsourced(given, ("refer_on",)))


class Sign(Section):
    """What else was found; a red flag stops."""

    title: str = Field(min_length=3, description="What is seen")
    words: Names = Field((), description="What it also goes by")
    injuries: Names = Field((), description="The only injuries it can be said of; all if left out")
    stops: bool = Field(False, description="Nothing is suggested, only referred on")
    below_age_years: float | None = Field(None, gt=0, le=120, description="Holds by itself below this age")
    refer_on: Texts = Field((), description="Whom to ask, and why")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return figures without a source, and a stop that says nothing."""
        problems = list(_unsourced(given, ("refer_on",)))
        if given.get("stops") and not given.get("refer_on"):
            problems.append(Problem("refer_on", (), message("refusals.guidance.stop_says_why")))
        return problems


class ProtocolFigure(Section):
    """One number of a protocol, or its range, with where it comes from.

    A value with `least_of` is never below that measured angle; one with `most_share` of `most_of` never above that share of it.
    """

    title: str = Field("", description="What the number is")
    unit: str = Field("", description="Its unit; degrees if left out and the key ends in _deg")
    value: float | None = Field(None, ge=-90, le=1000, description="The number to start from")
    low: float | None = Field(None, ge=-90, le=1000, description="Lower end of the published range")
    high: float | None = Field(None, ge=-90, le=1000, description="Upper end of the published range")
    least_of: PassiveKey | None = Field(None, description="Measured angle that the value is never below")
    most_of: PassiveKey | None = Field(
        None, description="Measured angle of which the value is at most a share"
    )
    most_share: float | None = Field(None, gt=0, le=1, description="That share")
    source: str = Field(min_length=3, description="Where it was read")
    mark: Mark = Field(description="How well it is known")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return a figure without a number, one outside its own range, and half a rule."""
        value, low, high = (given.get(key) for key in ("value", "low", "high"))
        problems = []
        if value is None and low is None and high is None:
            problems.append(Problem("value", value, message("refusals.guidance.no_number")))
        if value is not None and low is not None and value < low:
            problems.append(Problem("value", value, message("refusals.guidance.below_low", least=low)))
        if value is not None and high is not None and value > high:
            problems.append(Problem("value", value, message("refusals.guidance.above_high", most=high)))
        if (given.get("most_of") is None) != (given.get("most_share") is None):
            wanted = message("refusals.guidance.share_of_what")
            problems.append(Problem("most_share", given.get("most_share"), wanted))
        return problems


class SuggestionHead(Section):
    """One orthosis for some injuries, without its options and figures."""

    title: str = Field(min_length=3, description="Name of the orthosis as printed")
    kind: str = Field(description="Kind of orthosis in a case file")
    protocol: str | None = Field(
        None, description="Regimen that gives the angles of a dorsal blocking orthosis"
    )
    order: int = Field(ge=1, le=99, description="Place in the list; 1 is first")
    in_steps: bool = Field(False, description="Whether it is the first of a series")
    injuries: Names = Field(min_length=1, description="Injuries by name")
    stages: Stages = Field(description="When")
    with_signs: Names = Field((), description="Signs that all must be there")
    without_signs: Names = Field((), description="Signs none of which may be there")
    holds: str = Field(min_length=3, description="What is held")
    free: str = Field(min_length=3, description="What must stay free")
    reasons: Texts = Field(description="Why")
    cautions: Texts = Field((), description="What to watch")
    refer: Texts = Field(min_length=1, description="When to refer on")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return figures without a source."""
        return list(_unsourced(given, ("holds", "free", "reasons", "cautions", "refer")))


class StepRule(Section):
    """How one kind of orthosis goes on in steps."""

    title: str = Field(min_length=3, description="What moves, and which way")
    towards: Literal["extension", "flexion"] = Field(description="Which way the angle goes")
    goal_deg: ProtocolFigure = Field(description="Where it ends unless asked otherwise")
    step_deg: ProtocolFigure = Field(description="Usual step")
    most_step_deg: ProtocolFigure = Field(description="A larger step is flagged")
    least_gain_deg: ProtocolFigure = Field(description="A smaller gain counts as none")
    days: ProtocolFigure = Field(description="Days until the joint is measured again")
    wear_hours: ProtocolFigure | None = Field(None, description="Hours a day")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return figures that are ranges where one number is needed."""
        return [
            Problem(f"{key}.value", None, message("refusals.guidance.give_number"))
            for key in ("goal_deg", "step_deg", "most_step_deg", "least_gain_deg", "days")
            if f"{key}.source" in given and given.get(f"{key}.value") is None
        ]


def _unsourced(given: GivenValues, keys: tuple[str, ...]) -> Iterator[Problem]:
    for key in keys:
        found = given.get(key) or ()
        for text in (found,) if isinstance(found, str) else found:
            if re.search(r"\d", NAMED.sub("", str(text))) and not SOURCED.search(str(text)):
                yield Problem(key, text, message("refusals.guidance.unsourced"))
