"""What a kind of orthosis is to the rest of the program."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.orthoses.built import Orthosis


@dataclass(frozen=True)
class Kind:
    """One kind: its name in case files, its options with defaults and limits, and how it is built."""

    name: str
    options: type[OrthosisOptions]
    build: Callable[[Case[Any]], Orthosis]
