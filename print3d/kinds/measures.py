"""What is measured for a kind, and how much hangs on it.

Each kind has one table, which form, started case and schema follow.

`kinds/<name>/measures.toml` has a line for each measure, in the order of the form:

    pip_girth_mm = "needed"
    forearm_length_mm = "needed over the wrist"
    wrist_girth_mm = "useful"
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from pydantic import create_model

from print3d.inputs.measured import FINGERS, FingerMeasured, Measured
from print3d.inputs.problems import Problem, refusal
from print3d.inputs.table import Section
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import validate

Need = Literal["needed", "needed over the wrist", "important", "important over the wrist", "useful"]
"""needed: the form marks it with a dot, and a started case is refused until it is filled in; important: the form marks it with a
plus, for it may be out of reach (an angle on a fresh repair, a girth beyond a child's elbow); over the wrist: only of an orthosis
that reaches so far."""

USUAL_HAND = frozenset(("hand_length_mm", "wrist_girth_mm"))
"""Asked for every finger, from which the rest of it is estimated; a form that needs more of the hand draws it, and begins with it."""
FINGER_KEYS = frozenset(FingerMeasured.model_fields)
HAND_KEYS = frozenset(key for key in Measured.model_fields if key.endswith("_mm"))
ALL_KEYS = sorted((FINGER_KEYS | HAND_KEYS) - set(FINGERS))
_KEYS: Mapping[str, Any] = {key: (Need | None, None) for key in ALL_KEYS}
_Needs: type[Section] = create_model("Needs", __base__=Section, **_KEYS)


@dataclass(frozen=True)
class Measure:
    """One measure of a kind; its key is one of the hand or of a finger."""

    key: str
    need: Need

    @property
    def is_of_hand(self) -> bool:
        """Whether it is a measure of hand or forearm."""
        return self.key in HAND_KEYS

    @property
    def is_needed(self) -> bool:
        """Whether it is needed, if only over the wrist."""
        return self.need.startswith("needed")

    @property
    def is_important(self) -> bool:
        """Whether it is important, if only over the wrist."""
        return self.need.startswith("important")

    @property
    def is_only_over_the_wrist(self) -> bool:
        """Whether it matters to an orthosis that reaches over the wrist alone."""
        return self.need.endswith("over the wrist")


Measures = tuple[Measure, ...]


def read_measures(path: Path) -> Measures:
    """Read the measures of one kind. Raises InputError with every problem of the file."""
    measures, problems = measures_of(read_toml(path))
    if problems:
        raise refusal(path, problems)
    return measures


def measures_of(data: Mapping[str, object]) -> tuple[Measures, list[Problem]]:
    """Return a table as measures in its order; or none, and unknown measures and needs that are none."""
    result = validate(_Needs, data)
    if result.table is None:
        return (), result.problems
    needs = vars(result.table)
    return tuple(Measure(key, needs[key]) for key in data), result.problems


def draws_hand(measures: Measures) -> bool:
    """Return whether the form draws hand and forearm."""
    return not USUAL_HAND.issuperset(each.key for each in measures if each.is_of_hand)


def in_form_order(measures: Measures) -> Measures:
    """Return measures as form and started case number them, from 1.

    Lengths of the finger stand before its angles.
    """
    of_hand = [each for each in measures if each.is_of_hand]
    of_finger = sorted(
        (each for each in measures if not each.is_of_hand), key=lambda each: each.key.endswith("_deg")
    )
    return tuple([*of_hand, *of_finger] if draws_hand(measures) else [*of_finger, *of_hand])
