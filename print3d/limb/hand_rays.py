"""The line of the knuckles, and each finger as a row of ovals.

A row runs from the metacarpal head to beyond the tip.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from print3d.errors import LimbError
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.language.message import message
from print3d.limb.bodies import cap_rows, closed_tube
from print3d.limb.finger_sections import SECTION_EXPONENT
from print3d.limb.four_fingers import FourFingers, Ray

BESIDE: tuple[tuple[FingerName, FingerName, float], ...] = (
    ("index", "middle", 1.0), ("ring", "middle", -1.0), ("little", "ring", -1.0),
)  # fmt: skip
"""Each finger, the one it lies beside, and on which side of it: radial (1) or ulnar (-1)."""
TOUCH_MM = 1.0
"""Fingers lying side by side press their soft tissue together by this much between them; from memory."""
MOST_SPREAD_DEG = 12.0
"""Fingers that lie side by side are spread by no more than this; own choice."""
BEYOND_TIP_MM = 60.0
"""A finger's row of ovals goes on beyond its tip, for shells that reach past it."""
STATION_MM = 1.5
"""Spacing of the ovals of a finger; own choice."""
PLACE_UNTIL = 0.45
"""Share of the way from MCP centre to web at which the oval of the metacarpal head has come to lie on the finger's axis; own choice."""
SIZE_FROM = 0.3
"""Share of that way from which the oval takes the finger's size; own choice."""
SIZE_UNTIL = 1.0
"""Share of that way at which it has the finger's size; own choice."""
ROOT_FROM = 0.1
"""A finger's root as a body begins at this share of the way from MCP centre to web; own choice."""
ROOT_ROUNDED_MM = 8.0
"""This far beyond either end it is rounded off; own choice."""
ROOT_ROW_MM = 1.5
"""Spacing of its rows; own choice."""
ROOT_POINTS = 56
"""Points of a row; own choice."""
ROOT_SHARE = 0.97
"""It is this much slimmer than the ovals, so that it fills hollows and stays under the back, which is smoothed over the knuckles."""


def side_by_side(fingers: FourFingers) -> FourFingers:
    """Return the fingers turned about their MCP centres until neighbours just touch at their PIPs, the middle one straight."""
    spread: dict[FingerName, float] = {"middle": 0.0}
    for name, beside, way in BESIDE:
        inner, outer = fingers.rays[beside], fingers.rays[name]
        station = outer.limb.landmarks["pip"]
        inner_place = inner.mcp_centre[1] + station * np.sin(np.radians(spread[beside]))
        room = sum(
            float(ray.limb.half_axes(np.array([ray.limb.landmarks["pip"]]))[0][0]) for ray in (inner, outer)
        )
        wanted = inner_place + way * (room - TOUCH_MM) - outer.mcp_centre[1]
        angle = np.degrees(np.arcsin(np.clip(wanted / station, -0.5, 0.5)))
        spread[name] = float(np.clip(angle, -MOST_SPREAD_DEG, MOST_SPREAD_DEG))
    return fingers.spread(spread)


@dataclass(frozen=True, eq=False)
class Knuckles:
    """The curve through the MCP centres, going on straight beyond the outermost.

    centres : (4, 3) mm, hand frame, index to little
    """

    centres: Floats

    def at(self, radial_mm: Floats) -> Floats:
        """Return points (n, 3) of the curve at radial places (n,)."""
        low, high = self.centres[-1, 1], self.centres[0, 1]
        inside = np.clip(radial_mm, low, high)
        points = self._curve(inside) + self._curve(inside, 1) * (radial_mm - inside)[:, None]
        return np.column_stack([points[:, 0], radial_mm, points[:, 1]])

    @cached_property
    def _curve(self) -> CubicSpline:
        ulnar_to_radial = self.centres[::-1]
        return CubicSpline(ulnar_to_radial[:, 1], ulnar_to_radial[:, [0, 2]], bc_type="natural")


@dataclass(frozen=True, eq=False)
class RayOvals:
    """One ray's sections over distance from its MCP centre, across a direction flexed by `turn_rad` like the mean finger.

    head : (4,) radial place, height, half-breadth and half-depth of the metacarpal head
    """

    name: FingerName
    ray: Ray
    turn_rad: float
    head: Floats

    def at(self, distance_mm: Floats) -> Floats:
        """Return radial place, height above the MCP centre, half-breadth, half-depth and roll (n, 5) at distances (n,)."""
        web = self.ray.limb.landmarks["web"]
        way = (distance_mm / web)[:, None]
        t = np.clip(
            (way - [0, 0, SIZE_FROM, SIZE_FROM, 0])
            / [*[PLACE_UNTIL] * 2, *[SIZE_UNTIL - SIZE_FROM] * 2, PLACE_UNTIL],
            0,
            1,
        )
        share = t * t * (3.0 - 2.0 * t)
        low, high = self._finger.x[[0, -1]]
        return (1.0 - share) * np.append(self.head, 0.0) + share * np.asarray(
            self._finger(np.clip(distance_mm, low, high))
        )

    def root(self) -> Mesh:
        """Return the finger's root as a closed body of the hand frame.

        It reaches from inside the palm to where the finger is its own, and is what fills the hollow between two fingers proximal of their web.
        """
        web = self.ray.limb.landmarks["web"]
        ahead, scale = cap_rows(ROOT_ROUNDED_MM)
        start, end = ROOT_FROM * web, SIZE_UNTIL * web
        shaft = np.linspace(start, end, int(np.ceil((end - start) / ROOT_ROW_MM)) + 1)
        distance = np.concatenate([start - ahead[::-1], shaft, end + ahead])
        scales = np.concatenate([scale[::-1], np.ones(len(shaft)), scale])
        middle, radial, dorsal = self._ovals_at(distance)
        angle = 2.0 * np.pi * np.arange(ROOT_POINTS) / ROOT_POINTS
        power = 2.0 / SECTION_EXPONENT
        across, up = (np.sign(each) * np.abs(each) ** power for each in (np.sin(angle), np.cos(angle)))
        around = radial[:, None] * across[:, None] + dorsal[:, None] * up[:, None]
        rows = middle[:, None] + scales[:, None, None] * around
        poles, _, _ = self._ovals_at(np.array([start - ROOT_ROUNDED_MM, end + ROOT_ROUNDED_MM]))
        return closed_tube(rows, poles[0], poles[1])

    def _ovals_at(self, distance_mm: Floats) -> tuple[Floats, Floats, Floats]:
        """Middles and radial and dorsal half-axes (n, 3) of the ovals at distances (n,), hand frame."""
        place, height, half_breadth, half_depth, roll = self.at(distance_mm).T[:, :, None]
        along, across = self._directions()
        centre = self.ray.mcp_centre * [1.0, 0.0, 1.0]
        sideways = np.array([0.0, 1.0, 0.0])
        middle = centre + distance_mm[:, None] * along + height * across + place * sideways
        radial = np.cos(roll) * sideways + np.sin(roll) * across
        dorsal = np.cos(roll) * across - np.sin(roll) * sideways
        return middle, ROOT_SHARE * half_breadth * radial, ROOT_SHARE * half_depth * dorsal

    @property
    def skew(self) -> float:
        """How much farther from the knuckle line a point of the finger's section lies per mm of radial place."""
        sideways = self.ray.hand_from_finger()[:3, 1]
        return float(sideways @ self._directions()[0] / sideways[1])

    def distance_mm(self, station_mm: float) -> float:
        """Return the distance from the MCP centre at which a station of the finger lies."""
        return float(np.interp(station_mm, self._stations, self._finger.x))

    @property
    def _stations(self) -> Floats:
        return np.arange(0.0, self.ray.limb.landmarks["tip"] + BEYOND_TIP_MM, STATION_MM)

    @cached_property
    def _finger(self) -> PchipInterpolator:
        """Of the finger's own sections, the last one before the tip rounds off going on beyond it."""
        limb, stations = self.ray.limb, self._stations
        solid = np.minimum(stations, limb.landmarks["nail_fold"])
        half_breadth, half_depth = limb.half_axes(solid)
        axis, dorsal = limb.spine.at(stations)
        place = self.ray.hand_from_finger()
        middles = apply(place, axis + limb.section_middle(solid)[:, None] * dorsal)
        along, across = self._directions()
        off = middles - self.ray.mcp_centre
        distance, height = off @ along, off @ across
        lean = (dorsal @ place[:3, :3].T) @ across
        if np.diff(distance).min() <= 0.2 * STATION_MM:
            raise LimbError(message("refusals.limb.bent_apart", finger=message(f"common.finger.{self.name}")))
        roll = np.full(len(stations), np.arctan2(place[:3, 1] @ across, place[1, 1]))
        values = np.column_stack([middles[:, 1], height, half_breadth, half_depth / lean, roll])
        return PchipInterpolator(distance, values)

    def _directions(self) -> tuple[Floats, Floats]:
        sine, cosine = np.sin(self.turn_rad), np.cos(self.turn_rad)
        return np.array([cosine, 0.0, -sine]), np.array([sine, 0.0, cosine])


def mean_turn_rad(rays: Mapping[FingerName, Ray]) -> float:
    """Return the mean MCP flexion of the fingers."""
    return float(np.radians(np.mean([ray.limb.pose.mcp_flexion_deg for ray in rays.values()])))
