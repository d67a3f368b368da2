"""A finger's skin rolled out flat: the pattern plane of a finger orthosis.

`around` is arc length at the reference girth, `along` is stretched by the same local scale
(along = integral of reference girth / girth), so that a small circle stays a circle on the skin.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_simpson
from scipy.interpolate import CubicSpline

from print3d.limb.finger import FingerLimb

Floats = NDArray[np.float64]

TIP_SHARE = 0.9
"""The pattern plane ends at this share of the way from nail fold to tip: further on a girth shrinks to nothing."""


@dataclass(frozen=True, eq=False)
class UnrolledFinger:
    """Pattern coordinates on a finger.

    limb : the posed finger
    centre_fraction : girth fraction of the line around = 0: 0 for dorsal patterns, 0.5 for volar ones
    """

    limb: FingerLimb
    centre_fraction: float

    @property
    def reference_girth_mm(self) -> float:
        """The girth that maps onto the pattern plane without stretch: the PIP's."""
        return float(self.limb.girth_mm(np.array([self.limb.landmarks["pip"]]))[0])

    def points(self, along_mm: Floats, around_mm: Floats) -> Floats:
        """Return posed skin points (n, 3) at pattern coordinates."""
        fraction = np.mod(self.centre_fraction + around_mm / self.reference_girth_mm, 1.0)
        return self.limb.skin_points(self.station(along_mm), fraction)

    def along(self, station_mm: float | Floats) -> Floats:
        """Return the pattern coordinate along at stations."""
        return np.asarray(self._maps[0](station_mm))

    def station(self, along_mm: float | Floats) -> Floats:
        """Return the stations at pattern coordinates along."""
        return np.asarray(self._maps[1](along_mm))

    def scale(self, station_mm: float) -> float:
        """Return skin mm per pattern mm at a station, the same in both directions."""
        return float(self.limb.girth_mm(np.array([station_mm]))[0]) / self.reference_girth_mm

    def scale_along(self, along_mm: Floats) -> Floats:
        """Return skin mm per pattern mm (n,) at pattern coordinates along."""
        return self.limb.girth_mm(self.station(along_mm)) / self.reference_girth_mm

    @cached_property
    def _maps(self) -> tuple[CubicSpline, CubicSpline]:
        landmarks = self.limb.landmarks
        stop = landmarks["nail_fold"] + TIP_SHARE * (landmarks["tip"] - landmarks["nail_fold"])
        station = np.linspace(0.0, stop, 241)
        stretch = self.reference_girth_mm / self.limb.girth_mm(station)
        along = np.asarray(cumulative_simpson(stretch, x=station, initial=0.0))
        along -= np.interp(landmarks["pip"], station, along) - landmarks["pip"]
        return CubicSpline(station, along), CubicSpline(along, station)
