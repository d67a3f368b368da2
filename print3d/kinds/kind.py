"""What a kind of orthosis is to the rest of the program."""

from collections.abc import Callable
from dataclasses import dataclass

from print3d.forms.orthosis import Orthosis
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions


def _no_remarks(case: Case) -> list[str]:
    return []


def _as_it_is(case: Case) -> Case:
    return case


@dataclass(frozen=True)
class Kind:
    """One kind.

    name : in case files
    options : with defaults and limits
    build : how it is built
    remarks : what a prescriber should look at twice in a case that can be built
    explicit : the same case with every number in it that a clinic's own files would answer
    """

    name: str
    options: type[OrthosisOptions]
    build: Callable[[Case], Orthosis]
    remarks: Callable[[Case], list[str]] = _no_remarks
    explicit: Callable[[Case], Case] = _as_it_is
