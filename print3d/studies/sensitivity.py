"""How surely an orthosis fits, when the numbers it is built from are not quite the person's.

    draws of everything that is not known -> the person's true finger, and the print -> the fit, measured on meshes
    -> how probable it is that each thing asked of the fit holds, which measurement decides, and which clearance fits best

The orthosis is built once, from the numbers of the case; each draw puts it on another finger.
"""

import hashlib
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from annotated_types import Le
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm, rankdata

from print3d.checks.finding import Limit
from print3d.checks.limits import limits_of_case
from print3d.errors import Print3dError, Sayable
from print3d.forms.orthosis import Orthosis
from print3d.geometry.types import Floats
from print3d.inputs.case import Case, canonical_data
from print3d.inputs.case_file import Kinds, case_from_data
from print3d.inputs.problems import refused, sayable_from, without_file
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import Language
from print3d.language.message import Message, message, message_from
from print3d.limb.finger import FingerLimb
from print3d.limb.parametric import as_finger
from print3d.limb.uncertainty import FingerUnknowns, Source, Spreads, unknowns_of_case
from print3d.mechanics.placement import printed, with_larger_facets
from print3d.studies.fit import Fit, measure_fit
from print3d.studies.run import Run
from print3d.studies.store import Kept, key_of
from print3d.studies.variants import with_values
from print3d.workers import run_all

DRAWS_A_JOB = 16
"""Draws that a worker measures at once, so that progress shows; own choice."""
CONFIDENCE = 0.95
"""Of the interval of a share; the usual one."""
DEGREE = 3
"""Of the polynomial in one unknown whose share of the variance is shown; own choice."""
CLEARANCES_BESIDE_MM = (-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.35, 0.5)
"""Clearances that are tried, from the asked one."""
SURE = 0.9
"""What holds on a smaller share of the fingers is not sure, and worth another measurement; own choice."""


@dataclass(frozen=True, eq=False)
class DrawJob:
    """Some draws of one case.

    deviations : (n, k) mm
    """

    case: Case
    spreads: Spreads
    loosest: Limit
    deviations: Floats

    @property
    def key(self) -> str:
        """The name of its result."""
        what = f"{key_of(self.case)} {self.spreads} {self.loosest}".encode() + self.deviations.tobytes()
        return "fit-" + hashlib.sha256(what).hexdigest()[:32]


@dataclass(frozen=True, eq=False)
class DrawResults:
    """What a study measured, a row for each draw.

    names, units : (f) what is asked of the fit
    values, margins : (n, f) as measured, and as shares of the limits; not a number where no finger could be made of a draw
    refused : why the orthosis cannot be built
    """

    names: tuple[Message, ...]
    units: tuple[str, ...]
    values: Floats
    margins: Floats
    refused: tuple[Sayable, ...] = ()

    @property
    def holds(self) -> NDArray[np.bool_]:
        """Whether each holds in each draw (n, f); draws without a finger left out."""
        return np.asarray(self.margins[np.isfinite(self.margins).all(axis=1)] >= 0.0)


@dataclass(frozen=True)
class Probability:
    """A share of draws, with the interval that covers the truth in 95 of 100 studies (Wilson 1927)."""

    share: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """A whole study.

    sources : (k) what is not known
    fit : everything holds at once
    each : (f) the probability of each thing asked
    shares : (f, k) variance shares
    by_clearance : clearance (mm) -> what was measured with it, on the first draws
    """

    case: Case
    sources: tuple[Source, ...]
    spreads: Spreads
    loosest: Limit
    seed: int
    deviations: Floats
    measured: DrawResults
    by_clearance: dict[float, DrawResults]

    @property
    def language(self) -> Language:
        """The language of the case."""
        return self.case.header.language

    @property
    def fit(self) -> Probability:
        """How probable it is that everything holds."""
        return probability(self.measured.holds.all(axis=1))

    @property
    def each(self) -> list[Probability]:
        """How probable each is."""
        return [probability(column) for column in self.measured.holds.T]

    @property
    def shares(self) -> Floats:
        """Variance shares (f, k)."""
        known = np.isfinite(self.measured.margins).all(axis=1)
        columns = self.measured.margins[known].T
        return np.array([variance_shares(self.deviations[known], column) for column in columns])

    @property
    def importance(self) -> Floats:
        """How much of what fails each source decides (k,): its shares, each weighted by how often that thing fails."""
        failing = np.array([1.0 - each.share for each in self.each])
        if failing.sum() == 0.0:
            failing = np.ones_like(failing)
        return np.asarray(failing @ self.shares / failing.sum())

    @property
    def measure_first(self) -> list[tuple[Source, float]]:
        """What a tape could tell better, the most telling first: measured once, or not yet."""
        ranked = sorted(zip(self.sources, self.importance, strict=True), key=lambda pair: -pair[1])
        return [
            (source, float(share)) for source, share in ranked if source.origin in ("tape", "not measured")
        ]

    @property
    def fit_by_clearance(self) -> dict[float, Probability]:
        """How probable a fit is with each clearance that can be built."""
        return {
            clearance: probability(found.holds.all(axis=1))
            for clearance, found in self.by_clearance.items()
            if not found.refused
        }

    @property
    def best_clearance_mm(self) -> float | None:
        """The clearance with the most probable fit, the one nearest to the asked among equals; None if none was tried."""
        tried, asked = self.fit_by_clearance, self.case.orthosis.clearance_mm
        return max(tried, key=lambda each: (tried[each].share, -abs(each - asked))) if tried else None


@dataclass(frozen=True)
class StudyPlan:
    """How a study is run.

    n_draws, n_scan : draws for the case itself, and for each clearance tried
    clearances_mm : tried; none: no scan
    """

    spreads: Spreads
    loosest: Limit
    n_draws: int
    n_scan: int
    seed: int
    clearances_mm: tuple[float, ...]


def usual_clearances_mm(asked_mm: float, most_mm: float = np.inf) -> tuple[float, ...]:
    """Return the clearances tried around an asked one, none below zero or above `most_mm`."""
    beside = np.clip(asked_mm + np.array(CLEARANCES_BESIDE_MM), 0.0, most_mm)
    return tuple(sorted({round(float(each), 3) for each in beside}))


def most_clearance_mm(case: Case) -> float:
    """Return the largest clearance that the kind of a case accepts."""
    field = type(case.orthosis).model_fields["clearance_mm"]
    return min(float(str(limit.le)) for limit in field.metadata if isinstance(limit, Le))


def study(case: Case, plan: StudyPlan, run: Run) -> Sensitivity:
    """Run a study of one case. It may be stopped at any time: what is measured is kept.

    Raises InputError if the orthosis does not sit on a single finger, and what building it raises.
    """
    unknowns = unknowns_of_case(case, plan.spreads)
    _finger_orthosis(case)
    deviations = unknowns.draw(max(plan.n_draws, plan.n_scan), plan.seed)
    cases = {clearance: _with_clearance(case, clearance) for clearance in plan.clearances_mm}
    blocks = [
        (case, deviations[: plan.n_draws]),
        *((each, deviations[: plan.n_scan]) for each in cases.values()),
    ]
    jobs, owner = list[DrawJob](), list[int]()
    for number, (each, rows) in enumerate(blocks):
        for start in range(0, len(rows), DRAWS_A_JOB):
            jobs.append(DrawJob(each, plan.spreads, plan.loosest, rows[start : start + DRAWS_A_JOB]))
            owner.append(number)
    results = _measured_jobs(jobs, run)
    found = [
        _joined([result for result, number in zip(results, owner, strict=True) if number == block])
        for block in range(len(blocks))
    ]
    if found[0].refused:
        raise refused(case.source, message("refusals.why", why=found[0].refused))
    return Sensitivity(
        case, unknowns.sources, plan.spreads, plan.loosest, plan.seed, deviations[: plan.n_draws], found[0],
        dict(zip(cases, found[1:], strict=True)),
    )  # fmt: skip


def measure_draws(job: DrawJob) -> DrawResults:
    """Measure the fit in every draw of a job."""
    try:
        orthosis, built_for = _of_worker(job.case)
    except Print3dError as error:
        return DrawResults((), (), np.empty((0, 0)), np.empty((0, 0)), without_file(error))
    unknowns = unknowns_of_case(job.case, job.spreads)
    nominal = measure_one(job, unknowns, np.zeros(len(unknowns.sources)), orthosis, built_for)
    rows = [measure_one(job, unknowns, each, orthosis, built_for) for each in job.deviations]
    names, units = tuple(each.what for each in nominal), tuple(each.unit for each in nominal)
    missing = [np.nan] * len(names)
    values = [[each.measured for each in row] if row else missing for row in rows]
    margins = [[each.margin for each in row] if row else missing for row in rows]
    return DrawResults(names, units, np.array(values), np.array(margins))


def measure_one(
    job: DrawJob, unknowns: FingerUnknowns, deviation: Floats, orthosis: Orthosis, built_for: FingerLimb
) -> list[Fit]:
    """Measure the fit in one draw (k,); nothing if no finger can be made of it."""
    try:
        finger = unknowns.true_finger(deviation, built_for.pose)
    except Print3dError:
        return []
    made = printed(orthosis, unknowns.print_offset_mm(deviation))
    return measure_fit(made, built_for, finger, limits_of_case(job.case), job.loosest)


@lru_cache(maxsize=1)
def _of_worker(case: Case) -> tuple[Orthosis, FingerLimb]:
    """Build a case once in each worker, which ends with the study; its jobs come case by case."""
    return _finger_orthosis(case)


def _finger_orthosis(case: Case) -> tuple[Orthosis, FingerLimb]:
    """Build a case for the study. Raises InputError if the orthosis does not sit on a single finger."""
    orthosis = KINDS[case.orthosis.kind].build(case)
    finger = as_finger(orthosis.limb)
    if finger is None:
        wanted = message("refusals.studies.one_finger")
        raise refused(case.source, wanted, "orthosis.kind", case.orthosis.kind)
    return with_larger_facets(orthosis), finger


def _with_clearance(case: Case, clearance_mm: float) -> Case:
    kinds: Kinds = {name: kind.options for name, kind in KINDS.items()}
    data = with_values(canonical_data(case), {"orthosis.clearance_mm": clearance_mm}, case.source)
    return case_from_data(data, kinds, case.source)


def _measured_jobs(jobs: Sequence[DrawJob], run: Run) -> list[DrawResults]:
    """What is kept already, and the rest in parallel, kept as it comes; `run.on_result` counts draws."""
    keys = [job.key for job in jobs]
    results: dict[int, DrawResults] = {
        number: _from_data(data)
        for number, key in enumerate(keys)
        if (data := run.store.read(key)) is not None
    }
    of = sum(len(job.deviations) for job in jobs)
    done = sum(len(jobs[number].deviations) for number in results)
    run.on_result(done, of)
    open_numbers = [number for number in range(len(jobs)) if number not in results]
    with closing(run_all(measure_draws, [jobs[number] for number in open_numbers], run.workers)) as found:
        for place, result in found:
            number = open_numbers[place]
            results[number] = result
            run.store.write(keys[number], _as_data(result))
            done += len(jobs[number].deviations)
            run.on_result(done, of)
    return [results[number] for number in range(len(jobs))]


def _as_data(measured: DrawResults) -> Kept:
    plain = {
        key: each.tolist() if isinstance(each, np.ndarray) else each for key, each in vars(measured).items()
    }
    return {
        **plain,
        "names": [each.as_data() for each in measured.names],
        "refused": [each.as_data() for each in measured.refused],
    }


def _from_data(data: Kept) -> DrawResults:
    shape = (-1, len(data["names"]))
    values, margins = (np.array(data[key], dtype=float).reshape(shape) for key in ("values", "margins"))
    names = tuple(map(message_from, data["names"]))
    return DrawResults(
        names, tuple(data["units"]), values, margins, tuple(map(sayable_from, data["refused"]))
    )


def _joined(results: Sequence[DrawResults]) -> DrawResults:
    first = results[0]
    return replace(
        first,
        values=np.vstack([each.values for each in results]),
        margins=np.vstack([each.margins for each in results]),
    )


def probability(draws: ArrayLike) -> Probability:
    """Return the share of draws (n,) that hold, with its Wilson interval.

    That is cautious, as the draws are more even than random ones.
    """
    holds = np.asarray(draws, dtype=bool)
    n, z = len(holds), float(norm.ppf(0.5 + CONFIDENCE / 2.0))
    if n == 0:
        return Probability(0.0, 0.0, 1.0)
    share = float(holds.mean())
    middle = (share + z**2 / (2 * n)) / (1 + z**2 / n)
    half = z / (1 + z**2 / n) * np.sqrt(share * (1 - share) / n + z**2 / (4 * n**2))
    return Probability(share, max(0.0, float(middle - half)), min(1.0, float(middle + half)))


def variance_shares(deviations: Floats, margin: Floats) -> Floats:
    """Return which share of the variance of a margin's rank each unknown explains alone (k,).

    The rank keeps a joint that is not stopped at all from outweighing everything. Shares of unknowns that go together overlap.
    """
    rank = rankdata(margin)
    if np.ptp(rank) == 0.0:
        return np.zeros(deviations.shape[1])
    centred = rank - rank.mean()
    shares = []
    for column in (deviations / deviations.std(axis=0)).T:
        basis = np.vander(column, DEGREE + 1)
        left = centred - basis @ np.linalg.lstsq(basis, centred)[0]
        explained = 1.0 - (left @ left) / (centred @ centred)
        n = len(rank)
        shares.append(
            max(0.0, 1.0 - (1.0 - explained) * (n - 1) / (n - DEGREE - 1)) if n > DEGREE + 1 else 0.0
        )
    return np.array(shares)
