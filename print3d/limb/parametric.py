"""Which parametric limb a limb is.

Asked by what rebuilds or models just that: a study of one finger's measures, a training model.
"""

from print3d.limb.finger import FingerLimb
from print3d.limb.hand import HandLimb
from print3d.limb.limb import Limb


def as_finger(limb: Limb) -> FingerLimb | None:
    """Return the limb if it is one parametric finger."""
    return limb if isinstance(limb, FingerLimb) else None


def as_hand(limb: Limb) -> HandLimb | None:
    """Return the limb if it is a parametric hand on its forearm."""
    return limb if isinstance(limb, HandLimb) else None
