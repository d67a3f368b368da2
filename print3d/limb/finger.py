"""One finger: sections from girths, posed about its joint centres.

Sections are superellipses solved from girth. They stand across the axis through the joint centres, whose
frame is the limb frame of `geometry/frames.py`: origin at the MCP centre, x along the straight proximal phalanx.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from print3d.errors import LimbError
from print3d.geometry.cross_section import angle_at_fraction, radius, solve_half_axes
from print3d.geometry.frames import flexion_rotation, rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.inputs.problems import OPEN, Problem
from print3d.kept import kept
from print3d.language.message import message
from print3d.limb.bodies import closed_tube, rows_between
from print3d.limb.estimates import FingerMeasures
from print3d.limb.finger_norms import adult_joint_centres
from print3d.limb.finger_sections import DEPTH_RATIO, NAIL_FOLD_FRACTION, SECTION_EXPONENT, StraightFinger
from print3d.limb.joint_id import RANGE_DEG, SEGMENTS_OF, JointId, RayName, SegmentName, joints_of
from print3d.limb.limb import Angles, Bools, Chain, LimbJoint, LimbMeasures, Side, SkinBody, TubeBend, WebLine
from print3d.limb.spine import Bend, Spine
from print3d.limb.tube import stations_of
from print3d.limb.unrolled import UnrolledFinger

BLEND_DEPTHS = 0.6
"""Half-length of the skin's bending zone over a joint, in finger depths there; own choice."""

SHOWN_FROM_WEB = 0.45
"""The skin mesh begins at this fraction of the way from the MCP centre to the web: a little of the base shows."""


@dataclass(frozen=True)
class FingerPose:
    """Joint angles in degrees, flexion positive."""

    mcp_flexion_deg: float = 0.0
    pip_flexion_deg: float = 0.0
    dip_flexion_deg: float = 0.0


@dataclass(frozen=True, eq=False)
class FingerLimb(StraightFinger):
    """A posed finger.

    made_from : its measures, measured or estimated; None where it was not made from any
    """

    pose: FingerPose = FingerPose()
    made_from: FingerMeasures | None = None

    def posed(self, **angles: float) -> "FingerLimb":
        """Return the same finger with other joint angles (`pip_flexion_deg=...`)."""
        return replace(self, pose=replace(self.pose, **angles))

    def skin_points(self, station_mm: Floats, fraction: Floats) -> Floats:
        """Return posed skin points (n, 3) at stations and girth fractions (0 dorsal, 0.25 radial)."""
        half_breadth, half_depth = self.half_axes(station_mm)
        ratio = self.ratio(station_mm)
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

    def segment_transform(self, segment: SegmentName, pose: FingerPose | None = None) -> Floats:
        """Return limb_from_segment (4, 4): a segment's origin is its proximal joint centre (the hand's: the MCP)."""
        at = self.pose if pose is None else pose
        if segment == "hand":
            return rigid(flexion_rotation(-np.radians(at.mcp_flexion_deg)), np.zeros(3))
        return _spine_at(self, at).segment_frames[self.segments.index(segment) - 1]

    def skin_mesh(self) -> Mesh:
        """Return the posed skin as a closed mesh, from a little proximal of the web to the tip."""
        tip = self.landmarks["tip"]
        stations = np.concatenate(
            [
                rows_between(
                    SHOWN_FROM_WEB * self.landmarks["web"], self.landmarks["nail_fold"], self.row_spacing_mm
                ),
                self.tip_stations()[1:],
            ]
        )
        n_around = self.points_around()
        grid_station, grid_fraction = np.meshgrid(stations, np.arange(n_around) / n_around, indexing="ij")
        rows = self.skin_points(grid_station.ravel(), grid_fraction.ravel()).reshape(
            len(stations), n_around, 3
        )
        axis, dorsal = self.spine.at(np.array([tip]))
        pole = axis[0] + self.section_middle(np.array([tip]))[0] * dorsal[0]
        return closed_tube(rows, rows[0].mean(axis=0), pole)

    # --- as a limb -----------------------------------------------------------------------------------------------

    @cached_property
    def joints(self) -> Mapping[JointId, LimbJoint]:
        """MCP, PIP and DIP."""
        return {joint: self._joint(joint) for joint in joints_of(self.finger)}

    def _joint(self, joint: JointId) -> LimbJoint:
        marks, name = self.landmarks, joint.joint
        place = self.transform(joint.distal)
        station = np.array([self.station_of(joint)])
        _, half_depth = self.half_axes(np.array([marks["dip" if name == "dip" else "pip"]]))
        return LimbJoint(
            place[:3, 3],
            place[:3, 1],
            self.spine.at(station)[1][0],
            float(getattr(self.pose, f"{name}_flexion_deg")),
            RANGE_DEG[name],
            2.0 * float(half_depth[0]),
            {"pip": self.blends[0], "dip": self.blends[1]}.get(name, marks["web"]),
        )

    @property
    def segments(self) -> tuple[SegmentName, ...]:
        """The hand and three phalanges."""
        return SEGMENTS_OF[self.finger]

    @property
    def by_ray(self) -> Mapping[RayName, Chain]:
        """Itself."""
        return {self.finger: self}

    @property
    def places(self) -> Mapping[str, Floats]:
        """None."""
        return {}

    @property
    def measures(self) -> LimbMeasures:
        """What it was made from."""
        return LimbMeasures(None, {} if self.made_from is None else {self.finger: self.made_from})

    @property
    def tube(self) -> "FingerLimb":
        """Itself."""
        return self

    @property
    def bends(self) -> tuple[TubeBend, ...]:
        """PIP and DIP."""
        marks, pose = self.landmarks, self.pose
        return (
            TubeBend(marks["pip"], self.blends[0], pose.pip_flexion_deg, marks["mid_middle"], self.middle_mm),
            TubeBend(marks["dip"], self.blends[1], pose.dip_flexion_deg, marks["nail_fold"], self.distal_mm),
        )

    def station_of(self, joint: JointId) -> float:
        """Return the station of a joint's centre."""
        return self.landmarks.get(joint.joint, 0.0)

    def place(self, ray: RayName, turned: Angles | None = None) -> Floats:
        """Return limb_from_ray (4, 4): it is its own ray."""
        return np.eye(4)

    def skin_bodies(self) -> tuple[SkinBody, ...]:
        """Return the one body that the posed skin is."""
        return (SkinBody(self.skin_mesh(), self.finger),)

    def sheet(self, side: Side) -> "UnrolledFinger[FingerLimb]":
        """Return one side rolled out flat."""
        return UnrolledFinger(self, 0.0 if side == "dorsal" else 0.5)

    def length_mm(self, segment: SegmentName) -> float:
        """Return the length of a phalanx."""
        return float(getattr(self, f"{segment}_mm"))

    def transform(self, segment: SegmentName, turned: Angles | None = None) -> Floats:
        """Return limb_from_segment (4, 4), with some joints turned; the hand's origin is the MCP centre."""
        turns = {f"{joint.joint}_flexion_deg": angle for joint, angle in (turned or {}).items()}
        return self.segment_transform(segment, replace(self.pose, **turns) if turns else self.pose)

    def beyond(self, joint: JointId, points: Floats) -> Bools:
        """Return which points (n, 3) lie distal of a joint."""
        return np.asarray(stations_of(self, points) > self.station_of(joint))

    def together(self, joints: Sequence[JointId]) -> LimbJoint:
        """Return the only joint there is side by side."""
        (joint,) = joints
        return self.joints[joint]

    def web_line(self, ray: RayName) -> WebLine | None:
        """Return none: a finger alone has no neighbours."""
        return None

    def beside(self, ray: RayName) -> Mapping[str, Mesh]:
        """Return nothing: a finger is alone."""
        return {}


@kept
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
            Problem(
                f"measured.{finger}",
                OPEN,
                message(
                    "refusals.limb.no_finger",
                    web_mm=web,
                    proximal_mm=proximal,
                    middle_mm=middle,
                    distal_mm=distal,
                ),
            )
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
        pose=pose if pose is not None else FingerPose(),
        made_from=measures,
    )
