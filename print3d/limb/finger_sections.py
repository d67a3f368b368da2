"""One finger stretched out: superellipse sections solved from girths, and its segments as rigid bodies.

Sections stand across the axis through the joint centres; stations are mm along it from the MCP centre.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator

from print3d.geometry.cross_section import angle_at_fraction, perimeter, radius
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.limb.bodies import ROW_SPACING_MM, cap_rows, closed_tube, rows_between
from print3d.limb.joint_id import SegmentName

SECTION_EXPONENT = 2.5
"""A finger is squarer than an ellipse: with 2.5 a published breadth and depth give back the girth
(women's index PIP 18 x 16 mm, Bodyspace from memory, against girth 57.0, Nag et al. 2003)."""

DEPTH_RATIO = {
    "web": 0.97,
    "mid_proximal": 0.95,
    "pip": 0.90,
    "mid_middle": 0.92,
    "dip": 0.84,
    "nail_fold": 0.78,
}
"""Depth over breadth. PIP: 17/19, 19/21, 16/18 (Pheasant and Haslegrave, Bodyspace, from memory); rest from memory."""

NAIL_FOLD_FRACTION = 0.42
"""Nail fold from the DIP centre, as a fraction of DIP centre to tip; from memory."""

AXIS_VOLAR_FRACTION = 0.04
"""The joint axis lies this fraction of the depth volar of the section's middle ("slightly volar", from memory)."""

TIP_DORSAL_SHIFT = 0.45
"""Towards the tip the pulp rises more than the nail falls: share of the lost half-depth by which the
section's middle moves dorsally; own choice from the look of a finger."""

EVEN_BEYOND_MM = 5.0
"""Beyond web and nail fold the untapered section stays as it is there, reached without a kink."""

HAND_DEPTH_RATIO = 1.55
"""Thickness of the hand at the metacarpal heads over PIP depth: 28 mm over 18 mm (Bodyspace, from memory)."""

HAND_FINGERS = 3.0
"""The hand behind the MCP joint is a block half as wide as three fingers each way; own choice for the sweep."""
HAND_LENGTH_MM = 40.0
"""Length of that block; own choice for the sweep."""


@dataclass(frozen=True, eq=False)
class StraightFinger:
    """A finger's sections.

    proximal_mm, middle_mm, distal_mm : joint centre to joint centre, the last from DIP centre to tip
    landmarks : stations (mm along the straight axis from the MCP centre), proximal to distal: web,
        mid_proximal, pip, mid_middle, dip, nail_fold, tip; and the palmar creases pip_crease, dip_crease
    half_breadths_mm, half_depths_mm : at web ... nail_fold
    row_spacing_mm : of the rows and points of its meshes
    """

    finger: FingerName
    proximal_mm: float
    middle_mm: float
    distal_mm: float
    landmarks: Mapping[str, float]
    half_breadths_mm: Floats
    half_depths_mm: Floats
    row_spacing_mm: float = ROW_SPACING_MM

    @property
    def exponent(self) -> float:
        """Exponent of the sections."""
        return SECTION_EXPONENT

    def half_axes(self, station_mm: Floats) -> tuple[Floats, Floats]:
        """Return half-breadth and half-depth (n,) of the sections at stations (n,)."""
        breadth, depth = self._untapered(station_mm)
        taper = self._tip_taper(station_mm)
        return breadth * taper, depth * taper

    def girth_mm(self, station_mm: Floats) -> Floats:
        """Return the girth (n,) that a tape reads across the axis at stations (n,)."""
        half_breadth, half_depth = self.half_axes(station_mm)
        return np.asarray(perimeter(half_breadth, half_depth, SECTION_EXPONENT))

    def section_middle(self, station_mm: Floats) -> Floats:
        """Return how far dorsal of the joint axis the middle of each section lies (n,)."""
        _, full_depth = self._untapered(station_mm)
        lost = full_depth * (1.0 - self._tip_taper(station_mm))
        return 2.0 * AXIS_VOLAR_FRACTION * full_depth + TIP_DORSAL_SHIFT * lost

    def body(self, segment: SegmentName) -> Mesh:
        """Return one segment as a closed rigid body in its own frame.

        Both ends are rounded about the joint centres, so that neighbours can turn against each other.
        """
        if segment == "hand":
            return self._hand_body()
        start, stop = {
            "proximal": (0.0, self.landmarks["pip"]),
            "middle": (self.landmarks["pip"], self.landmarks["dip"]),
            "distal": (self.landmarks["dip"], self.landmarks["tip"]),
        }[segment]
        reach_start, before = self._rounded_end(start)
        if segment == "distal":
            shaft = np.concatenate(
                [
                    rows_between(start, self.landmarks["nail_fold"], self.row_spacing_mm),
                    self.tip_stations()[1:],
                ]
            )
            end_pole, after = stop, (np.empty(0), np.empty(0))
        else:
            shaft = rows_between(start, stop, self.row_spacing_mm)
            reach_stop, after = self._rounded_end(stop)
            end_pole = stop + reach_stop
        at = np.concatenate([np.full(len(before[0]), start), shaft, np.full(len(after[0]), stop)])
        along = np.concatenate([start - before[0][::-1], shaft, stop + after[0]])
        scale = np.concatenate([before[1][::-1], np.ones(len(shaft)), after[1]])
        rows = self._straight_rows(at, along, scale)
        middles = self.section_middle(np.array([start, stop]))
        body = closed_tube(
            rows, np.array([start - reach_start, 0.0, middles[0]]), np.array([end_pole, 0.0, middles[1]])
        )
        return Mesh(body.vertices - [start, 0.0, 0.0], body.faces)

    def _straight_rows(self, at: Floats, along: Floats, scale: Floats) -> Floats:
        """Rows of the straight finger: sections of stations `at`, scaled, placed at `along`."""
        n_around = self.points_around()
        fraction = np.tile(np.arange(n_around) / n_around, len(at))
        station, size = np.repeat(at, n_around), np.repeat(scale, n_around)
        half_breadth, half_depth = self.half_axes(station)
        angle = angle_at_fraction(fraction, self.ratio(station), SECTION_EXPONENT)
        reach = radius(angle, half_breadth, half_depth, SECTION_EXPONENT)
        points = np.column_stack(
            [
                np.repeat(along, n_around),
                size * reach * np.sin(angle),
                self.section_middle(station) + size * reach * np.cos(angle),
            ]
        )
        return points.reshape(len(at), n_around, 3)

    def _rounded_end(self, station: float) -> tuple[float, tuple[Floats, Floats]]:
        """Reach and rows of the rounded end at a joint: as far as the finger is deep there."""
        _, half_depth = self.half_axes(np.array([station]))
        reach = float(half_depth[0])
        return reach, cap_rows(reach, self.row_spacing_mm)

    def _hand_body(self) -> Mesh:
        """The hand behind the MCP joint as a rounded block three fingers wide."""
        breadth, depth = self.half_axes(np.array([self.landmarks["pip"]]))
        half = np.array([HAND_FINGERS * float(breadth[0]), HAND_DEPTH_RATIO * float(depth[0])])
        beyond, scale = cap_rows(half[1], self.row_spacing_mm)
        along = np.concatenate([rows_between(-HAND_LENGTH_MM, 0.0, self.row_spacing_mm), beyond])
        size = np.concatenate([np.ones(len(along) - len(beyond)), scale])
        angle = 2.0 * np.pi * np.arange(96) / 96
        reach = radius(angle, np.full(96, half[0]), np.full(96, half[1]), 3.0)
        ring = np.column_stack([np.zeros(96), reach * np.sin(angle), reach * np.cos(angle)])
        rows = size[:, None, None] * ring + along[:, None, None] * np.array([1.0, 0.0, 0.0])
        return closed_tube(rows, np.array([-HAND_LENGTH_MM, 0.0, 0.0]), np.array([half[1], 0.0, 0.0]))

    def tip_stations(self) -> Floats:
        """Stations from the nail fold to just before the tip, closer where the end rounds off."""
        start, stop = self.landmarks["nail_fold"], self.landmarks["tip"]
        n = max(8, int(np.ceil(1.6 * (stop - start) / self.row_spacing_mm)))
        return start + (stop - start) * np.sin(np.linspace(0.0, np.pi / 2, n + 1))[:-1]

    def points_around(self) -> int:
        """Points of a section so that they lie about one row spacing apart at the widest girth."""
        widest = float(self.girth_mm(np.array([self.landmarks["web"], self.landmarks["pip"]])).max())
        return 4 * int(np.ceil(widest / self.row_spacing_mm / 4))

    @cached_property
    def _profiles(self) -> tuple[PchipInterpolator, PchipInterpolator]:
        at = [self.landmarks[name] for name in DEPTH_RATIO]
        at = [at[0] - EVEN_BEYOND_MM, *at, at[-1] + EVEN_BEYOND_MM]
        breadth, depth = (
            PchipInterpolator(at, np.pad(half, 1, mode="edge"))
            for half in (self.half_breadths_mm, self.half_depths_mm)
        )
        return breadth, depth

    def _untapered(self, station: Floats) -> tuple[Floats, Floats]:
        """Half-axes without the tip's rounding; even beyond web and nail fold."""
        breadth, depth = self._profiles
        low, high = self.landmarks["web"] - EVEN_BEYOND_MM, self.landmarks["nail_fold"] + EVEN_BEYOND_MM
        at = np.clip(station, low, high)
        return np.asarray(breadth(at)), np.asarray(depth(at))

    def ratio(self, station: Floats) -> Floats:
        """Return depth over breadth (n,) of the sections at stations (n,)."""
        breadth, depth = self._untapered(station)
        return depth / breadth

    def _tip_taper(self, station: Floats) -> Floats:
        """Scale of the section from the nail fold (1) to the tip (0): flat at first, round at the end."""
        start, stop = self.landmarks["nail_fold"], self.landmarks["tip"]
        t = np.clip((station - start) / (stop - start), 0.0, 1.0)
        return np.sqrt(1.0 - t**3)
