"""One finger: sections from girths, posed about its joint centres.

Sections are superellipses solved from girth. They stand across the axis through the joint centres, whose
frame is the limb frame of `geometry/frames.py`: origin at the MCP centre, x along the straight proximal phalanx.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from scipy.interpolate import PchipInterpolator

from print3d.errors import LimbError
from print3d.geometry.cross_section import angle_at_fraction, perimeter, radius, solve_half_axes
from print3d.geometry.frames import flexion_rotation, rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.limb.bodies import ROW_SPACING_MM, cap_rows, closed_tube, rows_between
from print3d.limb.estimates import FingerMeasures
from print3d.limb.finger_norms import adult_joint_centres
from print3d.limb.spine import Bend, Spine

FingerName = Literal["index", "middle", "ring", "little"]
Segment = Literal["hand", "proximal", "middle", "distal"]
FingerJoint = Literal["mcp", "pip", "dip"]
DISTAL_OF: Mapping[FingerJoint, Segment] = {"mcp": "proximal", "pip": "middle", "dip": "distal"}
SEGMENTS: tuple[Segment, ...] = ("hand", "proximal", "middle", "distal")

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

BLEND_DEPTHS = 0.6
"""Half-length of the skin's bending zone over a joint, in finger depths there; own choice."""

TIP_DORSAL_SHIFT = 0.45
"""Towards the tip the pulp rises more than the nail falls: share of the lost half-depth by which the
section's middle moves dorsally; own choice from the look of a finger."""

EVEN_BEYOND_MM = 5.0
"""Beyond web and nail fold the untapered section stays as it is there, reached without a kink."""

SHOWN_FROM_WEB = 0.45
"""The skin mesh begins at this fraction of the way from the MCP centre to the web: a little of the base shows."""

HAND_DEPTH_RATIO = 1.55
"""Thickness of the hand at the metacarpal heads over PIP depth: 28 mm over 18 mm (Bodyspace, from memory)."""

HAND_FINGERS, HAND_LENGTH_MM = 3.0, 40.0
"""The hand behind the MCP joint as a block: half as wide as three fingers each way, this long; own choice for the sweep."""


@dataclass(frozen=True)
class FingerPose:
    """Joint angles in degrees, flexion positive."""

    mcp_flexion_deg: float = 0.0
    pip_flexion_deg: float = 0.0
    dip_flexion_deg: float = 0.0


@dataclass(frozen=True, eq=False)
class FingerLimb:
    """A posed finger.

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
    pose: FingerPose = FingerPose()
    row_spacing_mm: float = ROW_SPACING_MM

    def posed(self, **angles: float) -> "FingerLimb":
        """Return the same finger with other joint angles (`pip_flexion_deg=...`)."""
        return replace(self, pose=replace(self.pose, **angles))

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

    def skin_points(self, station_mm: Floats, fraction: Floats) -> Floats:
        """Return posed skin points (n, 3) at stations and girth fractions (0 dorsal, 0.25 radial)."""
        half_breadth, half_depth = self.half_axes(station_mm)
        ratio = self._ratio(station_mm)
        angle = angle_at_fraction(fraction, ratio, SECTION_EXPONENT)
        reach = radius(angle, half_breadth, half_depth, SECTION_EXPONENT)
        axis, dorsal = self.spine.at(station_mm)
        height = self.section_middle(station_mm) + reach * np.cos(angle)
        skin = axis + height[:, None] * dorsal
        skin[:, 1] += reach * np.sin(angle)
        return skin

    @cached_property
    def spine(self) -> Spine:
        """The bent axis; the limb frame stays with the proximal phalanx."""
        return _spine_at(self, self.pose)

    @cached_property
    def blends(self) -> tuple[float, float]:
        """Half-lengths (mm) of the bending zones at PIP and DIP."""
        return self.blend_mm("pip"), self.blend_mm("dip")

    def blend_mm(self, joint: Literal["pip", "dip"]) -> float:
        """Return the half-length of the zone over which the skin bends at a joint."""
        _, half_depth = self.half_axes(np.array([self.landmarks[joint]]))
        if joint == "pip":
            room = min(0.55 * self.middle_mm, 0.45 * (self.proximal_mm - self.landmarks["web"]))
        else:
            room = min(0.42 * self.middle_mm, 0.6 * self.distal_mm)
        return float(min(2.0 * BLEND_DEPTHS * half_depth[0], room))

    def segment_transform(self, segment: Segment, pose: FingerPose | None = None) -> Floats:
        """Return limb_from_segment (4, 4): a segment's origin is its proximal joint centre (the hand's: the MCP)."""
        at = self.pose if pose is None else pose
        if segment == "hand":
            return rigid(flexion_rotation(-np.radians(at.mcp_flexion_deg)), np.zeros(3))
        return _spine_at(self, at).segment_frames[SEGMENTS.index(segment) - 1]

    def skin_mesh(self) -> Mesh:
        """Return the posed skin as a closed mesh, from a little proximal of the web to the tip."""
        tip = self.landmarks["tip"]
        stations = np.concatenate(
            [
                rows_between(
                    SHOWN_FROM_WEB * self.landmarks["web"], self.landmarks["nail_fold"], self.row_spacing_mm
                ),
                self._tip_stations()[1:],
            ]
        )
        n_around = self._points_around()
        grid_station, grid_fraction = np.meshgrid(stations, np.arange(n_around) / n_around, indexing="ij")
        rows = self.skin_points(grid_station.ravel(), grid_fraction.ravel()).reshape(
            len(stations), n_around, 3
        )
        axis, dorsal = self.spine.at(np.array([tip]))
        pole = axis[0] + self.section_middle(np.array([tip]))[0] * dorsal[0]
        return closed_tube(rows, rows[0].mean(axis=0), pole)

    def segment_body(self, segment: Segment) -> Mesh:
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
                    self._tip_stations()[1:],
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
        n_around = self._points_around()
        fraction = np.tile(np.arange(n_around) / n_around, len(at))
        station, size = np.repeat(at, n_around), np.repeat(scale, n_around)
        half_breadth, half_depth = self.half_axes(station)
        angle = angle_at_fraction(fraction, self._ratio(station), SECTION_EXPONENT)
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

    def _tip_stations(self) -> Floats:
        """Stations from the nail fold to just before the tip, closer where the end rounds off."""
        start, stop = self.landmarks["nail_fold"], self.landmarks["tip"]
        n = max(8, int(np.ceil(1.6 * (stop - start) / self.row_spacing_mm)))
        return start + (stop - start) * np.sin(np.linspace(0.0, np.pi / 2, n + 1))[:-1]

    def _points_around(self) -> int:
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

    def _ratio(self, station: Floats) -> Floats:
        breadth, depth = self._untapered(station)
        return depth / breadth

    def _tip_taper(self, station: Floats) -> Floats:
        """Scale of the section from the nail fold (1) to the tip (0): flat at first, round at the end."""
        start, stop = self.landmarks["nail_fold"], self.landmarks["tip"]
        t = np.clip((station - start) / (stop - start), 0.0, 1.0)
        return np.sqrt(1.0 - t**3)


@lru_cache(maxsize=64)
def _spine_at(limb: FingerLimb, pose: FingerPose) -> Spine:
    """The axis at another pose; sweeps ask for each pose once per segment."""
    pip, dip = limb.blends
    return Spine(
        [
            Bend(limb.landmarks["pip"], np.radians(pose.pip_flexion_deg), pip),
            Bend(limb.landmarks["dip"], np.radians(pose.dip_flexion_deg), dip),
        ]
    )


def build_finger(finger: FingerName, measures: FingerMeasures, pose: FingerPose | None = None) -> FingerLimb:
    """Make a finger from its measures (measured or estimated).

    Raises LimbError if the lengths leave no place for a segment.
    """
    proximal, middle, distal = (
        measures.proximal_mm.value, measures.middle_mm.value, measures.distal_mm.value
    )  # fmt: skip
    web = measures.web_station_mm.value
    if not 0.0 < web < 0.9 * proximal or min(middle, distal) < 5.0:
        raise LimbError(
            f"{finger} finger: web {web:.1f}, proximal {proximal:.1f}, middle {middle:.1f}, distal {distal:.1f} mm "
            "from the MCP centre leave no finger; check the crease-to-crease lengths"
        )
    dip = proximal + middle
    centres = adult_joint_centres()
    size = web / centres.mcp_proximal_of_web_crease_mm
    landmarks = {
        "web": web,
        "mid_proximal": (web + proximal) / 2,
        "pip_crease": proximal + centres.pip_proximal_of_crease_mm * size,
        "pip": proximal,
        "mid_middle": proximal + middle / 2,
        "dip_crease": dip - centres.dip_distal_of_crease_mm * size,
        "dip": dip,
        "nail_fold": dip + NAIL_FOLD_FRACTION * distal,
        "tip": dip + distal,
    }
    girths = (measures.web_girth_mm, measures.proximal_girth_mm, measures.pip_girth_mm,
              measures.middle_girth_mm, measures.dip_girth_mm, measures.nail_fold_girth_mm)  # fmt: skip
    axes = [
        solve_half_axes(girth.value, ratio, SECTION_EXPONENT)
        for girth, ratio in zip(girths, DEPTH_RATIO.values(), strict=True)
    ]
    breadths, depths = (np.array([float(pair[k]) for pair in axes]) for k in range(2))
    return FingerLimb(
        finger,
        proximal,
        middle,
        distal,
        landmarks,
        breadths,
        depths,
        pose if pose is not None else FingerPose(),
    )
