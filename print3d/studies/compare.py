"""Variants side by side: all of them measured, on all cores, and the best by a stated rule.

variants -> what is kept already -> the rest, in parallel, each kept as soon as it is there -> rows, best first
"""

from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import partial

from print3d.errors import InputError
from print3d.inputs.case import Case
from print3d.inputs.problems import unknown_name
from print3d.language.catalogue import Language, text
from print3d.language.message import message
from print3d.studies.outcome import FIGURES, Check, Outcome, OutcomeColumn, measure, outcome_from
from print3d.studies.run import Run
from print3d.studies.store import Store, key_of
from print3d.studies.variants import Variant
from print3d.workers import run_all

STEP_OF_MARGIN = 0.01
"""Margins are compared in whole percent of their limits: finer differences are the triangulation's own."""
RANKED = {each.name: each for each in FIGURES if each.larger_is_better is not None}


@dataclass(frozen=True)
class ComparedVariant:
    """One variant with what became of it; `number` counts the variants as they were asked for, from 1."""

    number: int
    variant: Variant
    outcome: Outcome


@dataclass(frozen=True)
class Comparison:
    """All variants, best first.

    best_by : name of the figure that decided between those whose findings all hold
    n_reused : how many results were kept from an earlier run
    """

    rows: tuple[ComparedVariant, ...]
    best_by: str
    n_reused: int = 0

    @property
    def best(self) -> ComparedVariant | None:
        """The best variant, or None if no variant's findings all hold."""
        first = self.rows[0]
        return first if first.outcome.holds else None

    @property
    def keys(self) -> tuple[str, ...]:
        """The varied keys."""
        return tuple(self.rows[0].variant.values)

    @property
    def figures(self) -> tuple[OutcomeColumn, ...]:
        """The figures that at least one variant has."""
        return tuple(
            each for each in FIGURES if any(row.outcome.figure(each.name) is not None for row in self.rows)
        )

    @property
    def figures_of_merit(self) -> tuple[OutcomeColumn, ...]:
        """Those of them that tell something of the orthosis: all but the computing time."""
        return tuple(each for each in self.figures if each.name != "cpu_s")

    @property
    def language(self) -> Language:
        """The language of the first variant that has a case."""
        cases = {row.number: row.variant.case for row in self.rows if row.variant.case is not None}
        return cases[min(cases)].header.language if cases else "en"

    def rule(self, language: Language = "en") -> str:
        """Return how the rows are ordered, in words."""
        then = "mass_g" if self.best_by == "margin" else "margin"
        return text(
            "studies.order.rule",
            language,
            chosen=text(f"studies.order.{self.best_by}", language),
            then=text(f"studies.order.{then}", language),
            step=text("studies.percent", language, value=100.0 * STEP_OF_MARGIN),
        )


def compare(variants: Sequence[Variant], check: Check, run: Run, *, best_by: str = "margin") -> Comparison:
    """Measure every variant whose result is not kept yet, and order them.

    check : a module's function, such as `built.shape_and_check`

    Raises InputError if there is no such figure as `best_by`. May be stopped at any time: what is measured is kept.
    """
    if best_by not in RANKED:
        raise InputError(unknown_name("--best-by", best_by, message("refusals.no_such.figure"), RANKED))
    outcomes = {
        number: Outcome(refused=each.problems) for number, each in enumerate(variants) if each.case is None
    }
    cases = {number: each.case for number, each in enumerate(variants) if each.case is not None}
    keys = {number: key_of(case) for number, case in cases.items()}
    outcomes |= {number: outcome for number, outcome in _kept(run.store, keys)}
    n_reused = len(outcomes) - len(variants) + len(cases)
    run.on_result(len(outcomes), len(variants))
    open_numbers = _first_of_each_key({number: key for number, key in keys.items() if number not in outcomes})
    jobs: list[Case] = [cases[number] for number in open_numbers]
    with closing(run_all(partial(measure, check), jobs, run.workers)) as results:
        for place, outcome in results:
            key = keys[open_numbers[place]]
            run.store.write(key, outcome.as_data())
            outcomes |= {number: outcome for number, each in keys.items() if each == key}
            run.on_result(len(outcomes), len(variants))
    rows = [ComparedVariant(number + 1, each, outcomes[number]) for number, each in enumerate(variants)]
    return Comparison(tuple(sorted(rows, key=partial(_order, best_by))), best_by, n_reused)


def _kept(store: Store, keys: dict[int, str]) -> Iterator[tuple[int, Outcome]]:
    for number, key in keys.items():
        data = store.read(key)
        if data is not None:
            yield number, outcome_from(data)


def _first_of_each_key(keys: dict[int, str]) -> list[int]:
    """Variants that come to the same case are measured once."""
    return sorted({key: number for number, key in reversed(keys.items())}.values())


def _order(best_by: str, row: ComparedVariant) -> tuple[object, ...]:
    """Sort key, best first."""
    outcome = row.outcome
    names = [best_by, "mass_g"] if best_by == "margin" else [best_by, "margin", "mass_g"]
    return (
        bool(outcome.refused),
        not outcome.holds,
        *(_badness(outcome, name) for name in names),
        row.number,
    )


def _badness(outcome: Outcome, name: str) -> tuple[bool, float]:
    """What is missing comes last."""
    value = outcome.figure(name)
    if value is None:
        return True, 0.0
    if name == "margin":
        value = round(value / STEP_OF_MARGIN) * STEP_OF_MARGIN
    return False, -value if RANKED[name].larger_is_better else value
