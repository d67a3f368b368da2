"""A finger's skin rolled out flat: the pattern plane of a finger orthosis.

`around` is arc length at the reference girth, `along` is stretched by the same local scale
(along = integral of reference girth / girth), so that a small circle stays a circle on the skin.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Generic, TypeVar

import numpy as np
from scipy.integrate import cumulative_simpson
from scipy.interpolate import CubicSpline, RectBivariateSpline

from print3d.geometry.types import Floats
from print3d.limb.limb import Tube

TubeT = TypeVar("TubeT", bound=Tube)

TIP_SHARE = 0.9
"""The pattern plane ends at this share of the way from nail fold to tip: further on a girth shrinks to nothing."""


@dataclass(frozen=True, eq=False)
class UnrolledFinger(Generic[TubeT]):
    """Pattern coordinates on a finger.

    limb : the posed finger
    centre_fraction : girth fraction of the line around = 0: 0 for dorsal patterns, 0.5 for volar ones
    """

    limb: TubeT
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

    @property
    def tip_along_mm(self) -> float:
        """The place along where the sheet ends, a little before the fingertip."""
        return float(self.along(self._last_station_mm))

    @property
    def _last_station_mm(self) -> float:
        marks = self.limb.landmarks
        return marks["nail_fold"] + TIP_SHARE * (marks["tip"] - marks["nail_fold"])

    def scale(self, station_mm: float) -> float:
        """Return skin mm per pattern mm at a station, the same in both directions."""
        return float(self.limb.girth_mm(np.array([station_mm]))[0]) / self.reference_girth_mm

    def scale_along(self, along_mm: Floats) -> Floats:
        """Return skin mm per pattern mm (n,) at pattern coordinates along."""
        return self.limb.girth_mm(self.station(along_mm)) / self.reference_girth_mm

    @cached_property
    def _maps(self) -> tuple[CubicSpline, CubicSpline]:
        landmarks = self.limb.landmarks
        station = np.linspace(0.0, self._last_station_mm, 241)
        stretch = self.reference_girth_mm / self.limb.girth_mm(station)
        along = np.asarray(cumulative_simpson(stretch, x=station, initial=0.0))
        along -= np.interp(landmarks["pip"], station, along) - landmarks["pip"]
        return CubicSpline(station, along), CubicSpline(along, station)


GRID_STATIONS = 121
"""Stations at which the skin around a joint is sampled; with the lines below the map then lies within 0.01 mm."""
GRID_LINES = 48
"""Lines around at which it is sampled."""
LINES_OVER_SEAM = 4
"""Lines that are repeated beyond the seam, so that the map has no kink there."""


@dataclass(frozen=True, eq=False)
class UnrolledJoint(Generic[TubeT]):
    """The skin around a bent PIP, with `along` as true length on the skin.

    It is measured from the joint on every line around it.

    Where a bend squeezes the palm side, the other pattern plane would make a narrow bar narrower still; this one keeps widths.

    limb : the posed finger
    centre_fraction : girth fraction of the line around = 0
    reach_mm : stations up to this far from the PIP centre are covered
    """

    limb: TubeT
    centre_fraction: float
    reach_mm: float

    @property
    def reference_girth_mm(self) -> float:
        """The period around: the PIP's girth."""
        return float(self.limb.girth_mm(np.array([self.limb.landmarks["pip"]]))[0])

    def points(self, along_mm: Floats, around_mm: Floats) -> Floats:
        """Return posed skin points (n, 3) at pattern coordinates."""
        fraction = np.mod(self.centre_fraction + around_mm / self.reference_girth_mm, 1.0)
        return self.limb.skin_points(self.station(along_mm, around_mm), fraction)

    def station(self, along_mm: Floats, around_mm: Floats) -> Floats:
        """Return stations (n,) at pattern coordinates."""
        return np.asarray(self._map.ev(along_mm, self._wrapped(around_mm)))

    def along(self, station_mm: float, around_mm: float) -> float:
        """Return the pattern coordinate along of a station on one line."""
        pip = self.limb.landmarks["pip"]
        line = np.linspace(pip, station_mm, GRID_STATIONS)
        fraction = np.full(
            GRID_STATIONS, np.mod(self.centre_fraction + around_mm / self.reference_girth_mm, 1.0)
        )
        steps = np.linalg.norm(np.diff(self.limb.skin_points(line, fraction), axis=0), axis=1)
        return float(np.sign(station_mm - pip) * steps.sum())

    def _wrapped(self, around_mm: Floats) -> Floats:
        girth = self.reference_girth_mm
        return np.mod(around_mm + girth / 2, girth) - girth / 2

    @cached_property
    def _map(self) -> RectBivariateSpline:
        """Station as a smooth function of along and around."""
        pip, girth = self.limb.landmarks["pip"], self.reference_girth_mm
        station = np.linspace(pip - self.reach_mm, pip + self.reach_mm, GRID_STATIONS)
        lines = np.arange(-LINES_OVER_SEAM, GRID_LINES + LINES_OVER_SEAM + 1) / GRID_LINES - 0.5
        grid = np.meshgrid(station, np.mod(self.centre_fraction + lines, 1.0), indexing="ij")
        skin = self.limb.skin_points(grid[0].ravel(), grid[1].ravel()).reshape(*grid[0].shape, 3)
        steps = np.linalg.norm(np.diff(skin, axis=0), axis=2)
        length = np.vstack([np.zeros(len(lines)), np.cumsum(steps, axis=0)])
        length -= length[GRID_STATIONS // 2]
        even = np.linspace(length[0].min(), length[-1].max(), GRID_STATIONS)
        stations = [CubicSpline(length[:, line], station)(even) for line in range(len(lines))]
        return RectBivariateSpline(even, lines * girth, np.array(stations).T, kx=3, ky=3)
