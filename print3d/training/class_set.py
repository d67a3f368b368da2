"""All models of a list, built on all cores and packed on beds.

A row that fails stops no other.
"""

import os
import time
import traceback
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from print3d.checks.finding import Finding
from print3d.errors import InputError, Print3dError, Sayable, StudyError
from print3d.geometry.mesh import Mesh
from print3d.inputs.class_list import ListRow
from print3d.inputs.model_case import model_case_from_data
from print3d.inputs.problems import Problem
from print3d.language.message import Message, message
from print3d.training.make import build_case
from print3d.training.names import body_name, model_name, what_it_shows
from print3d.training.plates import Plate, packed
from print3d.workers import Workers, run_all

Progress = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class ModelOutcome:
    """What became of a row.

    refused : why there is no model; a `mistake` is ours, with its traceback
    title, shows : its name, and what a learner should see
    parts : its bodies by id
    failed : findings outside their limits
    seconds : processor time; process : which one built it
    """

    place: str
    code: str
    refused: tuple[Sayable, ...] = ()
    mistake: str = ""
    title: Message | None = None
    shows: Message | None = None
    printer: str = ""
    bed_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    parts: Mapping[str, Mesh] = field(default_factory=dict)
    failed: tuple[Finding, ...] = ()
    seconds: float = 0.0
    process: int = 0

    @property
    def is_built(self) -> bool:
        """Whether there is a model."""
        return bool(self.parts)

    @property
    def bodies(self) -> Mapping[str, Mesh]:
        """The bodies by an id of the whole set, which begins with the code."""
        return {f"{self.code} {part}": mesh for part, mesh in self.parts.items()}

    @property
    def names(self) -> Mapping[str, Message]:
        """Names of the bodies."""
        return {
            f"{self.code} {part}": message("training.of_code", code=self.code, body=body_name(part))
            for part in self.parts
        }


@dataclass(frozen=True, eq=False)
class ClassSet:
    """A finished set.

    plates : by printer, each a list of plates of bodies by their id in the set
    """

    outcomes: tuple[ModelOutcome, ...]
    plates: Mapping[str, list[Plate]]

    @property
    def holds(self) -> bool:
        """Whether every row became a model without a failed check."""
        return all(outcome.is_built and not outcome.failed for outcome in self.outcomes)

    def plate_of(self, outcome: ModelOutcome) -> str:
        """Return the names of the plates on which an outcome's bodies lie."""
        found = [
            plate_name(printer, number)
            for printer, plates in self.plates.items()
            for number, plate in enumerate(plates, start=1)
            if any(body in plate for body in outcome.bodies)
        ]
        return ", ".join(found)


def plate_name(printer: str, number: int) -> str:
    """Return the name of a plate, which is that of its file too."""
    return f"{printer}_plate_{number:02d}"


def build_class_set(rows: Sequence[ListRow], progress: Progress, workers: int | None = None) -> ClassSet:
    """Build all rows in `workers` processes (as many as there are cores if None) and pack what was built."""
    known: set[str] = set()
    outcomes: dict[int, ModelOutcome] = {}
    jobs: dict[int, ListRow] = {}
    for number, row in enumerate(rows):
        if row.code.casefold() in known:
            outcomes[number] = ModelOutcome(
                row.place,
                row.code,
                (Problem("case.code", row.code, message("refusals.list.code_twice"), row.place),),
            )
        else:
            jobs[number] = row
        known.add(row.code.casefold())
    outcomes |= _built(jobs, progress, workers)
    ordered = tuple(outcomes[number] for number in range(len(rows)))
    progress("plates")
    return ClassSet(ordered, _plates(ordered))


def _built(jobs: Mapping[int, ListRow], progress: Progress, workers: int | None) -> dict[int, ModelOutcome]:
    """Build rows; those that end their process again and again come last, when all others are built."""
    numbers, rows = list(jobs), list(jobs.values())
    found: dict[int, ModelOutcome] = {}
    try:
        with closing(run_all(build_row, rows, Workers(n_workers=workers))) as results:
            for at, outcome in results:
                found[numbers[at]] = outcome
                progress(f"{len(found)} of {len(jobs)}: {outcome.code}")
    except StudyError as error:
        for number in jobs.keys() - found.keys():
            row = jobs[number]
            found[number] = ModelOutcome(
                row.place, row.code, (message("training.process_ended", place=row.place, why=error.problems),)
            )
    return found


def build_row(row: ListRow) -> ModelOutcome:
    """Build one row. Never raises: what went wrong is part of the outcome."""
    began = time.process_time()
    try:
        case = model_case_from_data(row.data, Path(row.place))
        model = build_case(case, lambda step: None)
    except Print3dError as error:
        return ModelOutcome(row.place, row.code, error.problems, process=os.getpid())
    except Exception as error:
        return ModelOutcome(
            row.place,
            row.code,
            (message("training.mistake", place=row.place, error=repr(error)),),
            mistake=traceback.format_exc(),
            process=os.getpid(),
        )
    return ModelOutcome(
        row.place, case.header.code, title=model_name(case.model), shows=what_it_shows(case.model), printer=case.print.printer,
        bed_mm=case.printer.bed_mm, parts=model.parts, failed=tuple(each for each in model.findings if not each.holds),
        seconds=time.process_time() - began, process=os.getpid(),
    )  # fmt: skip


def _plates(outcomes: Sequence[ModelOutcome]) -> dict[str, list[Plate]]:
    """Pack everything, printer by printer; a body that fits no bed is left out, as its own check says so."""
    beds = {outcome.printer: outcome.bed_mm for outcome in outcomes if outcome.is_built}
    plates = {}
    for printer, bed in beds.items():
        parts = {
            name: mesh
            for outcome in outcomes
            if outcome.printer == printer
            for name, mesh in outcome.bodies.items()
            if _fits(name, mesh, bed)
        }
        plates[printer] = packed(parts, bed)
    return plates


def _fits(name: str, mesh: Mesh, bed: tuple[float, float, float]) -> bool:
    try:
        packed({name: mesh}, bed)
    except InputError:
        return False
    return True
