"""How far a strap may reach over the palm, so that the fingers close: behind the distal palmar crease."""

from print3d.inputs.measured import FingerName
from print3d.limb.limb import Limb, palmar_creases_of

BEHIND_CREASE_MM = 3.0
"""From the distal palmar crease to a strap or an edge; common practice, no single source."""
CREASE_SD_MM = 5.0
"""The same more where the crease was not measured: two estimates of its place differ by this (computed)."""


def behind_crease_mm(limb: Limb, finger: FingerName) -> float:
    """Return how far from the distal wrist crease a strap or an edge may reach in line with a finger."""
    crease = palmar_creases_of(limb)[finger]
    return crease.value - BEHIND_CREASE_MM - (0.0 if crease.is_measured else CREASE_SD_MM)
