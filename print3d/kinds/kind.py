"""What a kind of orthosis is to the rest of the program."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Generic, TypeVar

from print3d.forms.orthosis import Orthosis
from print3d.inputs.case import Case
from print3d.inputs.model_case import PoseName
from print3d.inputs.options import OrthosisOptions
from print3d.kinds.measures import Measures, read_measures
from print3d.kinds.random_designs import Sweep
from print3d.language.message import Message, message

Own = TypeVar("Own", bound=OrthosisOptions)


@dataclass(frozen=True)
class Wear:
    """How long it is usually worn a day, and who says so."""

    hours_per_day: float
    source: Message


def _day_and_night(_case: Case, _options: Own) -> Wear:
    return Wear(24.0, message("sources.wear.unknown"))


def _no_remarks(_case: Case, _options: Own) -> list[Message]:
    return []


def _as_they_are(_case: Case, options: Own) -> Own:
    return options


@dataclass(frozen=True)
class Kind(Generic[Own]):
    """One kind. Its functions take a case and the kind's own options of it.

    name : in case files, and of the kind's folder
    options : with defaults and limits
    shape : how it is built
    look_twice : what a prescriber should look at twice in a case that can be built
    hours : how long it is usually worn
    spell_out : the same options with every number in them that a clinic's own files would answer
    takes_all_fingers : whether fingers beside the injured one are measured too
    answers : pose of a training model that it is put on -> its options for that, beyond the defaults
    """

    name: str
    options: type[Own]
    shape: Callable[[Case, Own], Orthosis]
    look_twice: Callable[[Case, Own], list[Message]] = _no_remarks
    spell_out: Callable[[Case, Own], Own] = _as_they_are
    hours: Callable[[Case, Own], Wear] = _day_and_night
    takes_all_fingers: bool = False
    answers: Mapping[PoseName, Mapping[str, object]] = field(default_factory=dict)

    @cached_property
    def measures(self) -> Measures:
        """What is measured for it. Raises InputError if its table is faulty."""
        return read_measures(self.home / "measures.toml")

    @property
    def sweep(self) -> Sweep:
        """How it is drawn at random for the sweep."""
        found: Sweep = import_module(f"{__package__}.{self.name}.sweep").SWEEP
        return found

    @property
    def home(self) -> Path:
        """Its folder."""
        return Path(__file__).parent / self.name

    def build(self, case: Case) -> Orthosis:
        """Build the orthosis of a case. Raises Print3dError if the limb or the options leave no room for it."""
        return self.shape(case, self.own(case))

    def remarks(self, case: Case) -> list[Message]:
        """Return what a prescriber should look at twice, keys of the file that have another name now among it."""
        return [*case.notes, *self.look_twice(case, self.own(case))]

    def explicit(self, case: Case) -> Case:
        """Return the same case whatever a clinic's own files will say."""
        return replace(case, orthosis=self.spell_out(case, self.own(case)))

    def wear(self, case: Case) -> Wear:
        """Return how long it is usually worn."""
        return self.hours(case, self.own(case))

    def own(self, case: Case) -> Own:
        """Return the options of a case of this kind."""
        if not isinstance(case.orthosis, self.options):
            raise TypeError(f"{case.source} is no case of {self.name}")
        return case.orthosis
