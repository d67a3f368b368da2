"""Numbers of the orthoses of a series, and what stays of earlier plans: number, files and record of each.

series/plan.json                  the plan that was made last, here orthoses 8 to 11
series/plan_from_01.json          the one before
series/step_01_45_deg ...         every orthosis of both
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path

from print3d.errors import InputError
from print3d.inputs.problems import refused
from print3d.language.message import message
from print3d.output.fileset import copy_into, names_of_set
from print3d.output.place import differences, free_visit, is_same, standing_at
from print3d.output.record.record import stamp_to_be
from print3d.output.studies.plan_sheet import NAMES
from print3d.studies.series import folder_of
from print3d.studies.series_plan import SeriesPlan

STEP = re.compile(r"step_(\d+)_")
Asked = dict[int, str]
"""Digest of each step of a plan by its number; empty for one that an older program planned."""


def first_number(place: Path, plan: SeriesPlan, *, goes_on: bool) -> int:
    """Return the number of a plan's first orthosis: the same for the same plan, else the next free one.

    Raises InputError if another plan stands there and this one does not go on from it.
    """
    plans, worn = list(_plans_at(place)), _steps_at(place)
    if same := [numbers for numbers in plans if list(numbers.values()) == plan.asked]:
        return min(same[0])
    last = max([*worn, *(number for numbers in plans for number in numbers)], default=0)
    # guard: a series goes on
    if last and not goes_on:
        raise _planned_otherwise(place, plan, last)
    return last + 1


def keep_earlier(place: Path, fresh: Path, plan: SeriesPlan) -> None:
    """Copy what a new series does not make again from its place: every other orthosis, and other plans.

    Raises InputError if an orthosis was made again in another shape.
    """
    first, made = plan.steps[0].number, {step.number: folder_of(step) for step in plan.steps}
    for name in sorted(names_of_set(place)):
        path, step = place / name, STEP.match(name)
        if step and path.is_dir():
            if not (fresh / name).is_dir():
                copy_into(path, fresh / name)
            # guard: an orthosis of a series stays
            if made.get(int(step[1]), name) != name or not _is_as_it_was(path, fresh / name):
                raise _planned_otherwise(place, plan, max(_steps_at(place)))
        elif path.is_file() and name.startswith("plan"):
            before = _first_of(place / f"{path.stem}.json")
            if before != first:
                copy_into(path, fresh / (f"plan_from_{before:02}{path.suffix}" if name in NAMES else name))


def _is_as_it_was(before: Path, now: Path) -> bool:
    there, new = standing_at(before), standing_at(now)
    return there is None or new is None or is_same(there, new)


def _steps_at(place: Path) -> dict[int, Path]:
    """Folders of the orthoses at a place, by their number."""
    return {
        int(found[1]): place / name for name in sorted(names_of_set(place)) if (found := STEP.match(name))
    }


def _plans_at(place: Path) -> Iterator[Asked]:
    for path in sorted(place.glob("plan*.json")):
        yield _asked_in(path)


def _asked_in(plan: Path) -> Asked:
    """Return what a plan asks for; of one that cannot be read nothing is known."""
    try:
        steps = json.loads(plan.read_text(encoding="utf-8"))["steps"]
        return {int(each["step"]): str(each.get("asked", "")) for each in steps}
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return {}


def _first_of(plan: Path) -> int:
    return min(_asked_in(plan), default=0)


def _planned_otherwise(place: Path, plan: SeriesPlan, last: int) -> InputError:
    """Return the refusal of a plan where orthoses of another stand."""
    mark, steps = plan.case.mark, _steps_at(place)
    first = plan.variants[0][0].case
    there = next(filter(None, (standing_at(steps[number]) for number in sorted(steps))), None)
    differs = [] if there is None else list(differences(there, stamp_to_be(first)))
    values = {
        "place": str(place),
        "differs": differs or [message("refusals.place.unknown")],
        "last": last,
        "next": last + 1,
        "visit": free_visit(place.parent.parent, mark) or mark.visit,
    }
    return refused(plan.case.source, message("refusals.place.series", **values), "case.visit", mark.visit)
