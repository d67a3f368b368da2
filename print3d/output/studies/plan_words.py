"""The sentences of a series' plan in the language of its case, for paper and for the screen."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from print3d.guidance.models import ProtocolFigure
from print3d.guidance.sources import Sources
from print3d.language.catalogue import lines
from print3d.language.message import entry_of_table
from print3d.mechanics.three_point import grams_of_force
from print3d.output.paper.words import Words
from print3d.studies.series import SkinBears, StepOutcome, skin_bears
from print3d.studies.series_plan import SeriesPlan
from print3d.studies.steps import Step, number_of

Note = Literal["not_built", "fails", "watch", "as_built"]


@dataclass(frozen=True, eq=False)
class PlanWords:
    """What a plan says; sources are numbered in the order in which they are cited."""

    words: Words
    plan: SeriesPlan
    sources: Sources = field(default_factory=Sources)

    def say(self, name: str, **values: object) -> str:
        """Return a text of the plan."""
        return self.words(f"series.{name}", **values)

    @property
    def first(self) -> int:
        """Number of the first orthosis."""
        return self.plan.steps[0].number

    def course(self) -> str:
        """Return from where to where, and in how many steps."""
        course, count = self.plan.course, len(self.plan.steps)
        values = {"today": course.today_deg, "goal": course.goal_deg, "step": course.step_deg}
        told = [self.say("today" if count > 1 else "today_one", n=count, **values)]
        if course.margin_deg:
            told.append(self.say("margin", margin=course.margin_deg))
        if course.worn_deg is not None:
            told.append(self.say("worn", worn=course.worn_deg))
        return " ".join(told)

    def flagged(self) -> Iterator[str]:
        """Yield what must be looked at before going on, and what the prescriber allows."""
        for each in self.plan.flags:
            name = self.say(f"flag.{each.flag.replace(' ', '_')}")
            words = each.words if each.limit is None else each.citing(self._limit(each.limit))
            yield f"{name}: {words.said(self.words.language)}"
        override = self.plan.case.override
        if override is not None:
            yield self.say("override", names=", ".join(override.allow), reason=override.reason)

    def columns(self) -> tuple[str, ...]:
        """Return what stands above the steps; the last five are for the hand."""
        when = self.say(f"when_{self.plan.course.towards}")
        return lines("series.columns", self.words.language, when=when)

    def row(self, step: Step, outcome: StepOutcome) -> tuple[str, str, str, str]:
        """Return number, angle, when it is worn, and form of a step."""
        when = self.say(f"gives_{self.plan.course.towards}", angle=step.gives_deg)
        if step is self.plan.steps[0]:
            when = self.say("is_today", when=when)
        form = self.words.named("form", outcome.form) if outcome.form else ""
        return str(step.number), self.say("held", angle=step.angle_deg), when, form

    def notes(self, outcomes: Sequence[StepOutcome]) -> Iterator[tuple[Note, str]]:
        """Yield what is not built, fails, is to be watched or not as asked.

        What is so at several orthoses is said once.
        """
        numbered, language = list(enumerate(outcomes, self.first)), self.words.language
        told: dict[Note, list[tuple[int, str]]] = {
            "not_built": [(n, each.message.said(language)) for n, each in numbered if each.message and not each.is_built],
            "fails": [(n, what.brief.said(language)) for n, each in numbered for what in each.failing],
            "watch": [(n, what.brief.said(language)) for n, each in numbered for what in each.watched],
            "as_built": [(n, each.message.said(language)) for n, each in numbered if each.message and each.is_built],
        }  # fmt: skip
        for note, found in told.items():
            for what in dict.fromkeys(what for _, what in found):
                numbers = ", ".join(str(n) for n, each in found if each == what)
                yield note, self.say(note, n=numbers, what=what)
        bears = skin_bears(self.plan, outcomes)
        if bears is not None:
            yield "fails", self._gentler(bears)

    def _gentler(self, bears: SkinBears) -> str:
        """The force, or the area, with which skin bears the planned hours."""
        told = {
            "n": ", ".join(str(self.plan.steps[place].number) for place in bears.places),
            "times": bears.times_area,
        }
        hours = self.plan.wear_hours_per_day
        if bears.force_n is None:
            return self.say("skin_area", hours=hours, **told)
        grams = grams_of_force(bears.force_n)
        return self.say("skin_force", hours=hours, force_n=bears.force_n, grams=grams, **told)

    def how_to_go_on(self) -> Iterator[str]:
        """Yield what to do from here on."""
        plan, rule = self.plan, self.plan.rule
        yield self.say(f"on_{plan.course.towards}", first=self.first)
        command = (
            f"print3d series {plan.case.source.as_posix()} --remeasured pip_flexion_deg=...,pip_girth_mm=... "
            f"--worn {plan.steps[0].angle_deg:g}"
        )
        yield f"{self.say('on_measure', days=self._cited(rule.days))} {command}"
        figures: dict[str, str] = {
            "step": self._cited(rule.step_deg),
            "most": self._cited(rule.most_step_deg),
            "least": self._cited(rule.least_gain_deg),
        }
        yield self.say("on_step", **figures)
        if plan.course.goal_deg == rule.goal_deg.value:
            yield self.say("on_goal", goal=self._cited(rule.goal_deg))
        yield from self._wear()
        yield self.say("on_stop")
        has_letters = plan.case.orthosis.marking.style != "none"
        values = {"mark": str(plan.case.mark), "first": self.first, "second": self.first + 1}
        yield self.say("on_letters", **values) if has_letters else self.say("on_no_letters")

    def _wear(self) -> Iterator[str]:
        """Yield the hours that every step is judged for, with their source where they are those of the rule."""
        figure, hours = self.plan.rule.wear_hours, self.plan.wear_hours_per_day
        is_of_rule = figure is not None and self.plan.case.orthosis.wear_hours_per_day is None
        told = self._cited(figure) if figure is not None and is_of_rule else f"{hours:g}"
        yield self.say("on_wear", hours=told)

    def sources_listed(self) -> Iterator[tuple[int, str]]:
        """Yield every source cited so far: its number, and what it says and how it is known."""
        for number, source, mark in self.sources.entries():
            name = mark.replace(", ", "_").replace("-", "_")
            words = entry_of_table(source).said(self.words.language)
            yield number, f"{words} ({self.say(f'mark.{name}')})"

    def _limit(self, figure: ProtocolFigure) -> str:
        """A figure with the number of its source."""
        return self.say("cited", value=number_of(figure), source=self._number(figure))

    def _number(self, figure: ProtocolFigure) -> str:
        number = self.sources.place(figure.source, figure.mark)
        return self.say("memory" if figure.mark == "memory" else "seen", n=number)

    def _cited(self, figure: ProtocolFigure) -> str:
        """A figure with its range and the number of its source."""
        source = self._number(figure)
        if figure.low is None or figure.high is None:
            return self.say("cited", value=number_of(figure), source=source)
        return self.say("span", value=number_of(figure), low=figure.low, high=figure.high, source=source)
