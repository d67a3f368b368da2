"""One smooth skin over forearm, hand and fingers as a group, for draping.

Sections stand along the back of the limb: the forearm's ovals, then a passage to the section around the four metacarpal heads, then
the section around the four fingers, each from its own distance beyond its own knuckle. The back half lies on the real skins and
bridges the hollows between fingers; the palm half is only good enough to look at.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicSpline, RectBivariateSpline

from print3d.geometry.smooth_step import smooth_step
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.limb.finger_sections import SECTION_EXPONENT
from print3d.limb.forearm import Forearm
from print3d.limb.hand_fold import Fold, Sway, placed
from print3d.limb.hand_rays import Knuckles, RayOvals
from print3d.limb.hand_section import Ovals, around_all, by_girth, directions

ROW_MM = 2.0
"""Spacing of the sections between which the skin is interpolated; own choice."""
POINTS_AROUND = 192
"""Points of a section between which the skin is interpolated; own choice."""
HEADS_FROM = 0.8
"""The section is that of the metacarpal heads from this share of the way between wrist and knuckles on."""
PASSES = 3
"""Rounds in which the section that passes a station is looked for; the third changes it by less than 0.01 mm."""
SPLIT = 0.45
"""Proximal of this share of that way the wrist bends the skin, distal of it the knuckles do."""


@dataclass(frozen=True, eq=False)
class GroupSkin:
    """The skin of a posed hand and forearm.

    wrist, knuckle : the two joints at which it folds
    sway : how the wrist turns the forearm sideways
    knuckles_x_mm : mean distance of the MCP centres from the wrist
    wrist_tape_mm : how far proximal of the wrist crease the wrist's girth is measured
    """

    forearm: Forearm
    rays: tuple[RayOvals, ...]
    knuckles: Knuckles
    wrist: Fold
    knuckle: Fold
    sway: Sway
    knuckles_x_mm: float
    wrist_tape_mm: float

    @cached_property
    def ends_mm(self) -> tuple[float, float]:
        """Stations along the back over which the skin is known: near the elbow, and beyond the longest finger."""
        tip = max(self.station_of(ray.name, ray.ray.limb.landmarks["tip"]) for ray in self.rays)
        return -0.98 * self.forearm.length_mm, tip + 30.0

    def points(self, station_mm: Floats, fraction: Floats) -> Floats:
        """Return posed skin points (n, 3) at stations along the back (n,) and girth fractions (n,), 0 dorsal, 0.25 radial."""
        around = np.mod(fraction + 0.5, 1.0) - 0.5
        radial, height = (table.ev(station_mm, around) for table in self._tables[:2])
        distance, angle = self.wrist.at(station_mm)
        origin = np.column_stack([np.zeros_like(radial), radial, np.zeros_like(radial)])
        points = placed(origin, distance, height, angle - self.wrist.turn_rad)
        far = station_mm > SPLIT * self.knuckles_x_mm
        points[far] = self._beyond(station_mm[far], radial[far], height[far])
        return self.sway.bent(points)

    def girth_of_back_mm(self, station_mm: Floats) -> Floats:
        """Return twice the length (n,) over the back of the sections, from their ulnar to their radial side."""
        return np.asarray(self._tables[2](station_mm))

    def station_of(self, finger: FingerName, station_mm: float) -> float:
        """Return the station along the back over a finger's own station."""
        ray = next(each for each in self.rays if each.name == finger)
        distance = ray.distance_mm(station_mm)
        joint = self.knuckles.at(ray.at(np.array([distance]))[:, 0])[0]
        apart, turn = (
            joint - self.knuckles.at(ray.head[:1])[0],
            self.knuckle.turn_rad if distance > 0.0 else 0.0,
        )
        distance -= float(apart[0] * np.cos(turn) - apart[2] * np.sin(turn))
        on_skin = np.linspace(-self.knuckle.reach_mm, self.knuckle.reach_mm, 201)
        reached = self.knuckle.at(on_skin)[0]
        inside = float(np.interp(distance, reached, on_skin))
        outside = max(distance - reached[-1], 0.0)
        return float(self.wrist.longer_mm + joint[0] + self.knuckle.longer_mm + inside + outside)

    def wrist_side_station(self, distal_mm: float) -> float:
        """Return the station along the back at a distance distal (negative: proximal) of the wrist crease along the bones."""
        on_skin = np.linspace(-self.wrist.reach_mm, self.wrist.reach_mm, 201)
        reached = self.wrist.at(on_skin)[0]
        beyond = distal_mm - np.clip(distal_mm, reached[0], reached[-1])
        return float(np.interp(distal_mm, reached, on_skin) + beyond)

    def _beyond(self, station: Floats, radial: Floats, height: Floats) -> Floats:
        """Points distal of the split, turned about the knuckle line."""
        joint = self.knuckles.at(radial)
        distance, angle = self._over_knuckles(station, joint[:, 0])
        return placed(joint, distance, height - self._drop(joint, angle), angle)

    def _over_knuckles(self, station: Floats, knuckle_x: Floats) -> tuple[Floats, Floats]:
        along = station - self.wrist.longer_mm - self.knuckle.longer_mm - knuckle_x
        return self.knuckle.at(along)

    def _drop(self, joint: Floats, angle: Floats) -> Floats:
        """Heights (n,) of knuckle points over a common plane that turns with them."""
        return (joint[:, 0] - self.knuckles_x_mm) * np.sin(angle) + joint[:, 2] * np.cos(angle)

    @cached_property
    def _tables(self) -> tuple[RectBivariateSpline, RectBivariateSpline, CubicSpline]:
        first, last = self.ends_mm
        stations = np.linspace(first - 10.0, last + 10.0, int((last - first + 20.0) / ROW_MM) + 1)
        fractions = np.arange(-8, POINTS_AROUND + 9) / POINTS_AROUND - 0.5
        phi = directions()
        sections, girths = by_girth(self.sections(stations, phi), phi, fractions)
        return (
            RectBivariateSpline(stations, fractions, sections[..., 0]),
            RectBivariateSpline(stations, fractions, sections[..., 1]),
            CubicSpline(stations, girths),
        )

    def sections(self, station_mm: Floats, phi: Floats) -> Floats:
        """Return points (s, p, 2), radial and dorsal, of the unbent sections at stations (s,) with normals phi (p,)."""
        bones = self.wrist.at(station_mm)[0]
        arm = self.forearm.sections(np.maximum(-bones, self.wrist_tape_mm))
        zero = np.zeros_like(bones)
        on_arm = Ovals(*(each[:, None] for each in (zero, zero, *arm, zero))).supports(phi)[1][:, 0]
        share = smooth_step(
            (bones + self.wrist_tape_mm) / (HEADS_FROM * self.knuckles_x_mm + self.wrist_tape_mm)
        )
        on_rays = around_all(self._ovals(station_mm), phi)[1]
        return on_arm + share[:, None, None] * (on_rays - on_arm)

    def _ovals(self, station: Floats) -> Ovals:
        """Ovals (s, 4) of all rays at stations along the back."""
        columns = []
        for ray in self.rays:
            middle = self._section(ray, station, 0.0)
            radial, ulnar = (self._section(ray, station, side)[:, 0] for side in (1.0, -1.0))
            joint = self.knuckles.at(ray.head[:1])
            angle = self._over_knuckles(station, np.repeat(joint[:, 0], len(station)))[1]
            height = middle[:, 1] + self._drop(joint, angle)
            columns.append([(radial + ulnar) / 2.0, height, (radial - ulnar) / 2.0, *middle[:, 3:].T])
        radial, dorsal, half_breadth, half_depth, roll = np.moveaxis(np.array(columns), 0, -1)
        return Ovals(radial, dorsal, half_breadth, half_depth, np.full_like(radial, SECTION_EXPONENT), roll)

    def _section(self, ray: RayOvals, station: Floats, side: float) -> Floats:
        """A ray's section values (s, 5) at stations of the skin.

        side : what passes the stations: the ray's radial (1) or ulnar (-1) edge, or its middle (0)

        As knuckles are staggered and fingers lie at an angle, the edges pass elsewhere than the middle; the first value is the
        radial place of what passes.
        """
        centre = self.knuckles.at(ray.head[:1])
        there = np.tile(np.append(ray.head, 0.0), (len(station), 1))
        for _ in range(PASSES):
            off = side * there[:, 2]
            joint = self.knuckles.at(there[:, 0] + off)
            distance, angle = self._over_knuckles(station, joint[:, 0])
            apart = joint - centre
            ahead = apart[:, 0] * np.cos(angle) - apart[:, 2] * np.sin(angle)
            there = ray.at(distance + ahead - off * ray.skew)
        there[:, 0] += side * there[:, 2]
        return there
