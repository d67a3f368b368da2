"""A finger as a field: the limb's own skin, with nail, creases and wrinkles carved into it.

Everything is drawn in the finger's own coordinates: station along the bent axis, radial place and height over the axis. The skin is
that of `FingerLimb` exactly; marks lie beside the stations where a tape is laid, so that girths stay what they are.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.spatial import KDTree

from print3d.geometry.smooth_step import smooth_step
from print3d.geometry.types import Floats
from print3d.limb.finger import FingerLimb
from print3d.limb.finger_sections import SECTION_EXPONENT
from print3d.limb.hand_rays import PLACE_UNTIL, SIZE_FROM, SIZE_UNTIL
from print3d.limb.nail import nail_span
from print3d.training.marks import Mark

AXIS_STEP_MM = 0.2
"""Spacing of the axis' points, among which the nearest one is sought; own choice."""
BEFORE_MM = 90.0
"""The axis goes on straight this far before the MCP centre,"""
BEYOND_MM = 30.0
"""and this far beyond the tip: farther than any body reaches."""
CREASE_MM = 0.55
"""Depth of volar creases: deeper than a layer, seen from across a table; own choice."""
WRINKLE_MM = 0.40
"""Depth of dorsal wrinkles; own choice."""
FOLD_MM = 0.50
"""Depth of the groove around the nail; own choice."""
CREASE_WIDTH_MM = 0.45
"""Standard deviation of a crease's profile; own choice."""
WRINKLE_WIDTH_MM = 0.38
"""Standard deviation of a wrinkle's profile; own choice."""
BESIDE_MM = 1.5
"""Creases at a joint stand this far beside the place of the tape; own choice."""


@dataclass(frozen=True, eq=False)
class FingerPlace:
    """Points in a finger's own coordinates.

    station, radial, height : (n,) mm; height over the joint axis
    angle : (n,) rad around the section's middle, 0 dorsal, positive radial
    """

    station: Floats
    radial: Floats
    height: Floats
    angle: Floats


@dataclass(frozen=True, eq=False)
class FingerForm:
    """The field of one finger in its own frame (origin at the MCP centre).

    marks : further grooves, such as a tendon's course
    has_details : with nail, creases and wrinkles
    has_base_crease : with the crease at the web too
    head : half-breadth and half-depth of the metacarpal head that the finger grows from, as in `limb/hand_rays.py`; without one its
        section stays as it is at the web
    relief : depth of creases and wrinkles over the usual one
    """

    limb: FingerLimb
    marks: tuple[Mark, ...] = ()
    has_details: bool = True
    has_base_crease: bool = True
    head: tuple[float, float] | None = None
    relief: float = 1.0

    def distance(self, points: Floats) -> Floats:
        """Return about the distance (n,) mm of points (n, 3) to the skin, negative inside; exactly zero on it."""
        place, value = self._skin(points)
        if self.has_details:
            value = value + self._details(place)
        for mark in self.marks:
            turn = np.mod(place.angle - mark.centre_rad + np.pi, 2.0 * np.pi) - np.pi
            value = value + mark.depth(place.station, turn * self._girth_radius(place.station))
        return value

    def place(self, points: Floats) -> FingerPlace:
        """Return points (n, 3) in the finger's own coordinates."""
        return self._skin(points)[0]

    def _skin(self, points: Floats) -> tuple[FingerPlace, Floats]:
        limb = self.limb
        station, height = self._on_axis(points[:, [0, 2]])
        breadth, depth = self._sizes(station)
        start, tip = limb.landmarks["nail_fold"], limb.landmarks["tip"]
        way = np.maximum((station - start) / (tip - start), 0.0)
        middle = limb.section_middle(np.minimum(station, tip)) * self._share_of_finger(
            station, 0.0, PLACE_UNTIL
        )
        radial, up = points[:, 1], height - middle
        power = SECTION_EXPONENT
        relative = (np.abs(radial / breadth) ** power + np.abs(up / depth) ** power) ** (1.0 / power)
        out = np.sqrt(relative**2 + way**3) - 1.0
        angle = np.arctan2(radial, up)
        size = np.hypot(radial, up) / np.maximum(relative, 1e-9)
        size = np.where(relative < 1e-6, depth, size)
        return FingerPlace(station, radial, height, angle), out * size

    def _sizes(self, station: Floats) -> tuple[Floats, Floats]:
        """Half-breadth and half-depth (n,) without the tip's rounding."""
        breadth, depth = self.limb.half_axes(np.minimum(station, self.limb.landmarks["nail_fold"]))
        if self.head is None:
            return breadth, depth
        share = self._share_of_finger(station, SIZE_FROM, SIZE_UNTIL)
        return self.head[0] + share * (breadth - self.head[0]), self.head[1] + share * (depth - self.head[1])

    def _share_of_finger(self, station: Floats, start: float, stop: float) -> Floats:
        """From 0 at the metacarpal head to 1 where the finger is its own.

        start, stop : shares of the way from MCP centre to web
        """
        if self.head is None:
            return np.ones_like(station)
        t = np.clip((station / self.limb.landmarks["web"] - start) / (stop - start), 0.0, 1.0)
        return np.asarray(t * t * (3.0 - 2.0 * t))

    def _girth_radius(self, station: Floats) -> Floats:
        breadth, depth = self._sizes(station)
        return (breadth + depth) / 2.0

    def _on_axis(self, points: Floats) -> tuple[Floats, Floats]:
        """Station and height (n,) of points (n, 2) of the finger's plane: of the nearest point of the axis."""
        tree, stations, axis, dorsal = self._axis
        _, nearest = tree.query(points)
        off = points - axis[nearest]
        up = dorsal[nearest]
        along = off[:, 0] * up[:, 1] - off[:, 1] * up[:, 0]
        return stations[nearest] + along, np.einsum("ij,ij->i", off, up)

    @cached_property
    def _axis(self) -> tuple[KDTree, Floats, Floats, Floats]:
        stations = np.arange(-BEFORE_MM, self.limb.landmarks["tip"] + BEYOND_MM, AXIS_STEP_MM)
        axis, dorsal = self.limb.spine.at(stations)
        return KDTree(axis[:, [0, 2]]), stations, axis[:, [0, 2]], dorsal[:, [0, 2]]

    def _details(self, place: FingerPlace) -> Floats:
        """How much (n,) the skin is carved, mm; negative where it is raised."""
        return self.relief * (self._creases(place) + self._wrinkles(place)) + self._nail(place)

    def _creases(self, place: FingerPlace) -> Floats:
        """Flexion creases on the volar side, two at the PIP, deeper on the midline."""
        marks = self.limb.landmarks
        volar = smooth_step((np.abs(place.angle) - 1.25) / 0.7)
        bow = 0.9 * np.cos(place.angle)
        carved = np.zeros_like(volar)
        for at, depth in (
            (marks["web"] + 2.2, float(self.has_base_crease)), (marks["pip_crease"] - 0.2, 0.9), (marks["pip_crease"] + 2.2, 0.8),
            (marks["dip_crease"], 1.0),
        ):  # fmt: skip
            carved += depth * np.exp(-0.5 * ((place.station - at - bow - 0.9) / CREASE_WIDTH_MM) ** 2)
        return CREASE_MM * volar * carved

    def _wrinkles(self, place: FingerPlace) -> Floats:
        """Wrinkles on the back of the two joints, an oval of short arcs; gone when the joint is bent."""
        pose, marks = self.limb.pose, self.limb.landmarks
        carved = np.zeros_like(place.station)
        for joint, bent, lines in (
            ("pip", pose.pip_flexion_deg, ((-4.4, 0.55), (-BESIDE_MM, 0.85), (BESIDE_MM, 0.85), (4.4, 0.55))),
            ("dip", pose.dip_flexion_deg, ((-BESIDE_MM, 0.7), (BESIDE_MM, 0.7))),
        ):
            loose = float(smooth_step(np.array([1.25 - bent / 50.0]))[0])
            for offset, breadth in lines:
                bow = -np.sign(offset) * 1.1 * (place.angle / 0.9) ** 2
                line = np.exp(-0.5 * ((place.station - marks[joint] - offset - bow) / WRINKLE_WIDTH_MM) ** 2)
                carved += loose * line * smooth_step((breadth - np.abs(place.angle)) / 0.25)
        return WRINKLE_MM * carved

    def _nail(self, place: FingerPlace) -> Floats:
        """The nail: a plate in a groove, standing free at its distal edge."""
        span = nail_span(self.limb)
        first, last, wide = span.first_mm, span.last_mm, span.half_breadth_mm
        half = (last - first) / 2.0
        along, across = (place.station - (first + last) / 2.0) / half, place.radial / wide
        beside = ((np.abs(along) ** 4 + np.abs(across) ** 4) ** 0.25 - 1.0) * wide
        beside = np.where((np.abs(along) > np.abs(across)), beside * half / wide, beside)
        dorsal = smooth_step((1.75 - np.abs(place.angle)) / 0.35)
        free = smooth_step((along - 0.55) / 0.4)
        groove = FOLD_MM * np.exp(-0.5 * (beside / 0.42) ** 2)
        plate = smooth_step((0.35 - beside) / 0.5)
        fold = 0.18 * np.exp(-0.5 * ((beside - 1.1) / 0.45) ** 2) * (1.0 - free)
        return dorsal * (groove * (1.0 - 0.3 * free) - 0.45 * free * plate - fold)
