"""The angles of a series: from today's measured angle to the goal in steps.

What a remeasured joint says about the last step is worked out too.

    today 45, goal 0, step 7.5      45  37.5  30  22.5  15  7.5  0      the first orthosis and 6 steps

The first orthosis holds what the joint gives today, short of it by a margin, never more. Each next one is a forecast: it is worn only
when the joint, measured again, gives its angle.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from typing import Literal

from print3d.guidance.models import ProtocolFigure, StepRule
from print3d.language.message import Message, message
from print3d.limb.estimates import dimension

LEAST_STEP_DEG = 2.0
"""A goniometer sees no smaller step (standard error 2.4 to 4.9 degrees, Macionis 2013)."""
LARGEST_STEP_DEG = 20.0
"""No larger step is planned: twice the upper end of common practice, 5 to 10 degrees; own choice."""
LARGEST_MARGIN_DEG = 15.0
"""No larger margin makes sense: three usual errors of a goniometer; own choice."""
ROUNDED_TO_DEG = 0.5
"""Angles of a series are rounded to this; own choice."""
SWELLING_MM = 2.5
"""A ring size: a finger's girth can change by this in a day (common practice, no single source)."""

Towards = Literal["extension", "flexion"]
Flag = Literal["no gain", "ground lost", "large step", "girth changed", "goal reached"]


@dataclass(frozen=True)
class Course:
    """Where a series goes.

    today_deg : what the joint gives when gently moved by hand (flexion)
    worn_deg : angle of the orthosis worn until now; None before the first
    margin_deg : how far the first orthosis stays short of today's angle
    girths_mm : key of the case -> girth before and now, where it was measured again
    """

    towards: Towards
    today_deg: float
    goal_deg: float
    step_deg: float
    margin_deg: float = 0.0
    worn_deg: float | None = None
    girths_mm: tuple[tuple[str, float, float], ...] = ()

    @property
    def way(self) -> float:
        """Sign of a step: flexion is positive."""
        return -1.0 if self.towards == "extension" else 1.0


@dataclass(frozen=True)
class Flagged:
    """What must be looked at before going on.

    limit : the figure of the rule that it passes, whose number is a value of the words by that name
    """

    flag: Flag
    words: Message
    limit: ProtocolFigure | None = None

    def citing(self, limit: str) -> Message:
        """Return the words with the limit as a page cites it."""
        return message(self.words.key, **{**dict(self.words.values), "limit": limit})


@dataclass(frozen=True)
class Step:
    """One orthosis: worn when the joint gives `gives_deg` (flexion)."""

    number: int
    angle_deg: float
    gives_deg: float


def steps_of(course: Course) -> list[Step]:
    """Return the orthoses of a series in equal steps of at most the asked size, the goal last.

    Angles are rounded to half a degree.
    """
    way = course.way
    margin = -way * course.margin_deg
    first = course.today_deg + margin
    left = way * (course.goal_deg - first)
    n_more = ceil(left / course.step_deg - 1e-9) if left > 0 else 0
    angles = [first if left > 0 else course.goal_deg]
    angles += [_rounded(first + way * left * number / n_more) for number in range(1, n_more)]
    angles += [course.goal_deg] * (n_more > 0)
    return [Step(number, angle, max(angle - margin, 0.0)) for number, angle in enumerate(angles, 1)]


def flags_of(course: Course, rule: StepRule) -> Iterator[Flagged]:
    """Yield what a therapist must look at before going on."""
    steps = steps_of(course)
    if course.step_deg > number_of(rule.most_step_deg):
        words = message("series.flagged.steps", step_deg=course.step_deg, limit=number_of(rule.most_step_deg))
        yield Flagged("large step", words, rule.most_step_deg)
    if course.worn_deg is not None:
        yield from _since_the_last(course, rule, steps[0], course.worn_deg)
    for key, before, now in course.girths_mm:
        if abs(now - before) >= SWELLING_MM:
            way = "series.flagged.girth_more" if now > before else "series.flagged.girth_less"
            yield Flagged(
                "girth changed", message(way, dimension=dimension(key), change_mm=abs(now - before))
            )
    if len(steps) == 1:
        yield Flagged("goal reached", message("series.flagged.reached", today_deg=course.today_deg))


def _since_the_last(course: Course, rule: StepRule, first: Step, worn_deg: float) -> Iterator[Flagged]:
    """Yield what the measured joint says about the orthosis worn until now."""
    gain = course.way * (course.today_deg - worn_deg)
    seen = {"today_deg": course.today_deg, "worn_deg": worn_deg}
    if gain < 0:
        yield Flagged("ground lost", message("series.flagged.lost", lost_deg=-gain, **seen))
    elif gain < number_of(rule.least_gain_deg):
        words = message("series.flagged.no_gain", gain_deg=gain, limit=number_of(rule.least_gain_deg), **seen)
        yield Flagged("no gain", words, rule.least_gain_deg)
    jump = course.way * (first.angle_deg - worn_deg)
    if jump > number_of(rule.most_step_deg):
        words = message("series.flagged.jump", jump_deg=jump, limit=number_of(rule.most_step_deg))
        yield Flagged("large step", words, rule.most_step_deg)


def _rounded(angle_deg: float) -> float:
    return round(angle_deg / ROUNDED_TO_DEG) * ROUNDED_TO_DEG


def number_of(figure: ProtocolFigure) -> float:
    """Return the number of a figure that its rule was checked to have."""
    if figure.value is None:
        raise AssertionError("a step rule without a number passed its check")
    return figure.value
