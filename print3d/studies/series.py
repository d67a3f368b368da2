"""A series of orthoses for one case, built: every step on all cores.

A step that cannot be built is an outcome of the series; it never loses the others.
"""

import shutil
import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial, reduce
from pathlib import Path

from print3d.built import Built
from print3d.checks.finding import Finding
from print3d.checks.pressure import gentler_force_n
from print3d.errors import Print3dError, Sayable, StudyError
from print3d.inputs.problems import without_file
from print3d.language.catalogue import Language, text
from print3d.language.message import Message, message
from print3d.mechanics.loads import pull_of_case
from print3d.studies.outcome import Check
from print3d.studies.series_plan import SeriesPlan, StepVariant
from print3d.studies.steps import Step
from print3d.workers import Workers, run_all

CASE_FILE = "case.toml"


Write = Callable[[Built, Path, frozenset[str]], list[str]]
"""Writes the files of a checked case into a folder and returns their names: `files.write_files`."""


@dataclass(frozen=True)
class StepOutcome:
    """What became of one step.

    form : the one that was built; empty for a kind that has none, or where none could be built
    message : why it could not be built, else how it differs from what was asked and why, else None
    trace : of a mistake of this program, else empty
    """

    form: str = ""
    is_built: bool = False
    findings: tuple[Finding, ...] = ()
    files: tuple[str, ...] = ()
    message: Message | None = None
    trace: str = ""

    @property
    def failing(self) -> list[Finding]:
        """What is outside its limit."""
        return [each for each in self.findings if not each.holds]

    @property
    def watched(self) -> list[Finding]:
        """What is inside its limit but to be watched."""
        return [each for each in self.findings if each.is_watched]


@dataclass(frozen=True)
class StepJob:
    """One step for a worker."""

    variants: tuple[StepVariant, ...]
    folder: Path
    formats: frozenset[str]


def folder_of(step: Step) -> str:
    """Return the name of a step's folder."""
    return f"step_{step.number:02}_{step.angle_deg:g}_deg".replace(".", "_")


def build_series(
    plan: SeriesPlan,
    folder: Path,
    formats: frozenset[str],
    build: tuple[Check, Write],
    n_workers: int | None = None,
) -> Iterator[tuple[int, StepOutcome]]:
    """Build every step into a folder of its own inside `folder`, on all cores.

    Yield the place of each with what became of it.

    build : how a case is checked and how its files are written (`built.shape_and_check`, `files.write_files`)

    Raises OSError if the disk fails; whatever else befalls a step is its outcome.
    """
    jobs = [
        StepJob(variants, folder / folder_of(step), formats)
        for step, variants in zip(plan.steps, plan.variants, strict=True)
    ]
    left, task = set(range(len(jobs))), partial(build_step, *build)
    try:
        for place, outcome in run_all(task, jobs, Workers(n_workers=n_workers)):
            left.remove(place)
            yield place, outcome
    except StudyError:  # one of them ends its worker, and the others with it: each alone
        yield from ((place, _alone(task, jobs[place])) for place in sorted(left))


def _alone(task: Callable[[StepJob], StepOutcome], job: StepJob) -> StepOutcome:
    try:
        return next(outcome for _, outcome in run_all(task, [job]))
    except StudyError as error:
        shutil.rmtree(job.folder, ignore_errors=True)
        return StepOutcome(message=_refused(without_file(error)))


def build_step(check: Check, write: Write, job: StepJob) -> StepOutcome:
    """Build one step in the first form that can be built and passes every check.

    If none does, it is the first that can be built.
    """
    try:
        return _built(check, write, job)
    except OSError:
        raise
    except Exception as error:
        shutil.rmtree(job.folder, ignore_errors=True)
        is_ours = not isinstance(error, Print3dError)
        why = _refused(without_file(error)) if isinstance(error, Print3dError) else _mistake(error)
        return StepOutcome(message=why, trace=traceback.format_exc() if is_ours else "")


def _built(check: Check, write: Write, job: StepJob) -> StepOutcome:
    best: tuple[StepVariant, Built] | None = None
    refused = list[Message]()
    pressing = set[str]()  # forms that press too hard, whatever their letters
    for variant in job.variants:
        form = _form_of(variant)
        if form in pressing:
            continue
        try:
            built = check(variant.case)
        except Print3dError as error:
            refused.append(_refused(without_file(error)))
            continue
        failing = [each.brief for each in built.failing]
        if {each.check for each in built.failing} == {"pressure"}:
            pressing.add(form)
        if best is None or not failing:
            best = variant, built
        if not failing:
            break
        refused.append(message("series.outcome.fails", failing=failing))
    if best is None:
        return StepOutcome(message=_refused({each.said("en"): each for each in refused}.values()))
    variant, chosen = best
    shutil.rmtree(job.folder, ignore_errors=True)  # what a lost worker left
    job.folder.mkdir(parents=True)
    names = write(chosen, job.folder, job.formats)
    (job.folder / CASE_FILE).write_text(variant.text, encoding="utf-8")
    differs = _differs(variant.remarks, refused[0]) if variant.remarks else None
    return StepOutcome(_form_of(variant), True, tuple(chosen.findings), (*names, CASE_FILE), differs)


def _form_of(variant: StepVariant) -> str:
    """Return the form that a kind is asked in; empty for one that has none."""
    return str(getattr(variant.case.orthosis, "form", ""))


def _differs(remarks: Sequence[Message], why: Message) -> Message:
    """How an orthosis differs from what was asked, and why."""
    return message("series.outcome.as_asked", remarks=reduce(_and, remarks), why=why)


def _and(first: Message, second: Message) -> Message:
    return message("series.outcome.and", first=first, second=second)


def _refused(why: Iterable[Sayable]) -> Message:
    return message("series.outcome.refused", why=list(why))


def _mistake(error: Exception) -> Message:
    return message("series.outcome.mistake", error=repr(error))


def rows_of(plan: SeriesPlan, outcomes: Sequence[StepOutcome]) -> Iterator[tuple[Step, StepOutcome]]:
    """Yield each step with what became of it."""
    return zip(plan.steps, outcomes, strict=True)


@dataclass(frozen=True)
class SkinBears:
    """What skin bears for the planned hours, where steps press with more.

    places : of those steps in the plan, from 0 on
    force_n : at the far end, with which the hardest pressed of them holds; None where muscles make it, and nobody chose it
    times_area : by how much more area must bear under the same force
    """

    places: tuple[int, ...]
    force_n: float | None
    times_area: float


def skin_bears(plan: SeriesPlan, outcomes: Sequence[StepOutcome]) -> SkinBears | None:
    """Return what would hold for the planned hours, or None where every step does; pressure goes with force over area."""
    pressed = [
        (
            place,
            finding.measured,
            float(finding.limit),
            pull_of_case(plan.variants[place][0].case).chosen_end_n,
        )
        for place, outcome in enumerate(outcomes)
        for finding in outcome.failing
        if finding.check == "pressure" and finding.unit == "kPa" and not isinstance(finding.limit, tuple)
    ]
    if not pressed:
        return None
    forces = [gentler_force_n(force, kpa, limit) for _, kpa, limit, force in pressed if force is not None]
    places = tuple(sorted({place for place, *_ in pressed}))
    return SkinBears(places, min(forces, default=None), max(kpa / limit for _, kpa, limit, _ in pressed))


def verdict(outcome: StepOutcome, language: Language) -> str:
    """Return what became of a step, in words."""
    if not outcome.is_built:
        why = "" if outcome.message is None else outcome.message.said(language)
        return text("series.verdict.not_built", language, why=why)
    if outcome.failing:
        what = ", ".join(each.said(language) for each in outcome.failing)
        return text("series.verdict.fails", language, what=what)
    count, watched = len(outcome.findings), len(outcome.watched)
    return text(f"series.verdict.{'watch' if watched else 'holds'}", language, count=count, watched=watched)
