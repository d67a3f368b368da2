"""The back of forearm, hand and fingers rolled out flat: the pattern plane of a dorsal shell.

`around` is arc length at the reference girth, `along` is stretched by the same local scale, so that a small circle stays nearly a
circle on the skin. Over the knuckle line, which is oblique, a square is sheared by up to 9 degrees at 50 degrees of MCP flexion.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Generic, Protocol, TypeVar

import numpy as np
from scipy.integrate import cumulative_simpson
from scipy.interpolate import CubicSpline

from print3d.geometry.types import Floats
from print3d.limb.hand_skin import GroupSkin

STATION_MM = 1.0
"""Spacing of the stations between which lengths along the skin are interpolated; own choice."""


class HasGroupSkin(Protocol):
    """A hand with one skin over everything."""

    @property
    def skin(self) -> GroupSkin:
        """The skin."""


HandT = TypeVar("HandT", bound=HasGroupSkin)


@dataclass(frozen=True, eq=False)
class UnrolledHand(Generic[HandT]):
    """Pattern coordinates on the back of a hand; stations run along the back from 0 at the wrist crease."""

    limb: HandT

    @cached_property
    def reference_girth_mm(self) -> float:
        """The girth that maps onto the pattern plane without stretch: that around the metacarpal heads."""
        at_heads = self.limb.skin.station_of("middle", 0.0)
        return float(self.limb.skin.girth_of_back_mm(np.array([at_heads]))[0])

    @property
    def tip_along_mm(self) -> float:
        """The place along of the first fingertip."""
        skin = self.limb.skin
        tips = [skin.station_of(ray.name, ray.ray.limb.landmarks["tip"]) for ray in skin.rays]
        return float(self.along(min(tips)))

    def points(self, along_mm: Floats, around_mm: Floats) -> Floats:
        """Return posed skin points (n, 3) at pattern coordinates."""
        return self.limb.skin.points(self.station(along_mm), around_mm / self.reference_girth_mm)

    def along(self, station_mm: float | Floats) -> Floats:
        """Return the pattern coordinate along at stations."""
        return np.asarray(self._maps[0](station_mm))

    def station(self, along_mm: float | Floats) -> Floats:
        """Return the stations at pattern coordinates along."""
        return np.asarray(self._maps[1](along_mm))

    def place(self, station_mm: float, fraction: float) -> tuple[float, float]:
        """Return pattern coordinates of a station and girth fraction."""
        return float(self.along(station_mm)), fraction * self.reference_girth_mm

    def scale(self, station_mm: float) -> float:
        """Return skin mm per pattern mm at a station."""
        return float(self.limb.skin.girth_of_back_mm(np.array([station_mm]))[0]) / self.reference_girth_mm

    def scale_along(self, along_mm: Floats) -> Floats:
        """Return skin mm per pattern mm (n,) at pattern coordinates along."""
        return self.limb.skin.girth_of_back_mm(self.station(along_mm)) / self.reference_girth_mm

    @cached_property
    def _maps(self) -> tuple[CubicSpline, CubicSpline]:
        first, last = self.limb.skin.ends_mm
        station = np.arange(first, last + STATION_MM, STATION_MM)
        stretch = self.reference_girth_mm / self.limb.skin.girth_of_back_mm(station)
        along = np.asarray(cumulative_simpson(stretch, x=station, initial=0.0))
        along -= np.interp(0.0, station, along)
        return CubicSpline(station, along), CubicSpline(along, station)
