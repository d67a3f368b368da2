"""From a case to its finger, its free arcs and its marking."""

from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS, FingerName
from print3d.limb.estimates import FingerMeasures, estimate_finger, estimate_hand
from print3d.limb.finger import FingerLimb, build_finger
from print3d.limb.joint_id import RANGE_DEG, JointId, joints_of


def measures_of_case(case: Case, finger: FingerName | None = None) -> FingerMeasures:
    """Return the dimensions of one finger (the case's own if none is named), measured where measured and estimated elsewhere."""
    name: FingerName = case.header.finger if finger is None else finger
    hand = estimate_hand(case.measured.hand_measures(), case.measured.sex)
    return estimate_finger(name, case.measured.finger_measures(name), hand)


def finger_of_case(case: Case) -> FingerLimb:
    """Return the straight finger of a case."""
    return build_finger(case.header.finger, measures_of_case(case))


def joints_of_case(case: Case) -> tuple[JointId, ...]:
    """Return MCP, PIP and DIP of the finger of a case."""
    return joints_of(case.header.finger)


def free_flexion_deg(case: Case, joint: JointId) -> float:
    """Return the flexion a free joint must reach: as measured, else normal."""
    measured = None
    if joint.ray in FINGERS:
        measured = case.measured.motion_deg(joint.ray, f"{joint.joint}_max_flexion_deg")
    return RANGE_DEG[joint.joint][1] if measured is None else measured


def case_label(case: Case) -> str:
    """Return what is written on the orthosis: its mark, side, and an arrow to the fingertip."""
    return f"{case.mark} {case.header.side[0].upper()} →"
