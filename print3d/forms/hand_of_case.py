"""From a case to its hand and forearm."""

from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS
from print3d.limb.hand import HandLimb, HandPose, build_hand
from print3d.limb.hand_estimates import HandMeasures, estimate_hand_and_forearm


def hand_measures_of_case(case: Case) -> HandMeasures:
    """Return the dimensions of a case's hand, forearm and fingers, measured where measured and estimated elsewhere."""
    measured = case.measured
    fingers = {name: measured.finger_measures(name) for name in FINGERS}
    return estimate_hand_and_forearm(measured.hand_measures(), measured.sex, fingers)


def hand_of_case(case: Case, pose: HandPose) -> HandLimb:
    """Return the posed hand of a case."""
    return build_hand(hand_measures_of_case(case), pose)
