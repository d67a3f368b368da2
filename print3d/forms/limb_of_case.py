"""From a case to its finger, its free arcs and its marking."""

from typing import Literal

from print3d.inputs.case import Case
from print3d.inputs.measured import FingerName
from print3d.limb.estimates import FingerMeasures, estimate_finger, estimate_hand
from print3d.limb.finger import FingerLimb, build_finger

FREE_FLEXION_DEG = {"mcp": 90.0, "pip": 100.0, "dip": 80.0}
"""Normal active flexion (Eaton, Electronic Textbook of Hand Surgery, normal range table); used where none was measured."""


def measures_of_case(case: Case, finger: FingerName | None = None) -> FingerMeasures:
    """Return the dimensions of one finger (the case's own if none is named), measured where measured and estimated elsewhere."""
    name: FingerName = case.header.finger if finger is None else finger
    hand = estimate_hand(case.measured.hand_measures(), case.measured.sex)
    return estimate_finger(name, case.measured.finger_measures(name), hand)


def finger_of_case(case: Case) -> FingerLimb:
    """Return the straight finger of a case."""
    return build_finger(case.header.finger, measures_of_case(case))


def free_flexion_deg(
    case: Case, joint: Literal["mcp", "pip", "dip"], finger: FingerName | None = None
) -> float:
    """Return the flexion a free joint must reach: as measured, else normal."""
    measured = case.measured.motion_deg(finger or case.header.finger, f"{joint}_max_flexion_deg")
    return FREE_FLEXION_DEG[joint] if measured is None else measured


def case_label(case: Case) -> str:
    """Return what is written on the orthosis: code, side, and an arrow to the fingertip."""
    return f"{case.header.code} {case.header.side[0].upper()} →"
