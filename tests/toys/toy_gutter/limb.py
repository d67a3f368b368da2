"""A toy limb with the members of the protocol and no others: a tapered elliptic tube that bends at one joint."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from print3d.geometry.cross_section import angle_at_fraction, perimeter, radius
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.limb.bodies import cap_rows, closed_tube
from print3d.limb.joint_id import RANGE_DEG, JointId, RayName, SegmentName
from print3d.limb.limb import (
    Angles,
    Bools,
    LimbJoint,
    LimbMeasures,
    Sheet,
    Side,
    SkinBody,
    Tube,
    TubeBend,
    WebLine,
)
from print3d.limb.spine import Bend, Spine
from print3d.limb.tube import stations_of

JOINT_MM, ROUND_FROM_MM, TIP_MM = 38.0, 58.0, 70.0
BREADTH_MM, SLOPE, DEPTH_SHARE = 10.0, 0.04, 0.85
BLEND_MM, ROW_MM, AROUND = 9.0, 0.8, 72


@dataclass(frozen=True, eq=False)
class ToySheet:
    """One side rolled out: along is the station, around the length at the joint's girth."""

    limb: "ToyLimb"
    middle: float
    tip_along_mm: float = ROUND_FROM_MM

    @property
    def reference_girth_mm(self) -> float:
        """The girth at the joint."""
        return float(self.limb.girth_mm(np.array([JOINT_MM]))[0])

    def points(self, along_mm: Floats, around_mm: Floats) -> Floats:
        """Return posed skin points (n, 3) at pattern coordinates."""
        return self.limb.skin_points(along_mm, np.mod(self.middle + around_mm / self.reference_girth_mm, 1.0))


@dataclass(frozen=True, eq=False)
class ToyLimb:
    """The tube.

    joint : the id that its joint goes by
    knows : what it can tell: "tube", "sheet"
    """

    joint: JointId
    angle_deg: float = 0.0
    knows: frozenset[str] = frozenset({"tube", "sheet"})

    # --- as a tube

    landmarks = {
        "joint": JOINT_MM,
        "tip": TIP_MM,
        "mid_proximal": 0.5 * JOINT_MM,
        "mid_middle": 0.5 * JOINT_MM,
    }
    exponent = 2.0

    @cached_property
    def spine(self) -> Spine:
        """The bent axis."""
        return self._spine(self.angle_deg)

    def _spine(self, angle_deg: float) -> Spine:
        return Spine([Bend(JOINT_MM, float(np.radians(angle_deg)), BLEND_MM)])

    @property
    def bends(self) -> tuple[TubeBend, ...]:
        """The one joint."""
        return (TubeBend(JOINT_MM, BLEND_MM, self.angle_deg, ROUND_FROM_MM, TIP_MM - JOINT_MM),)

    def station_of(self, joint: JointId) -> float:
        """Return the station of the joint."""
        return JOINT_MM

    def half_axes(self, station_mm: Floats) -> tuple[Floats, Floats]:
        """Return half-breadth and half-depth (n,)."""
        t = np.clip((station_mm - ROUND_FROM_MM) / (TIP_MM - ROUND_FROM_MM), 0.0, 1.0)
        breadth = (BREADTH_MM - SLOPE * station_mm) * np.sqrt(1.0 - t**3)
        return breadth, DEPTH_SHARE * breadth

    def girth_mm(self, station_mm: Floats) -> Floats:
        """Return the girth (n,)."""
        return np.asarray(perimeter(*self.half_axes(station_mm), 2.0))

    def section_middle(self, station_mm: Floats) -> Floats:
        """Return none: sections lie about the axis."""
        return np.zeros_like(station_mm)

    def skin_points(self, station_mm: Floats, fraction: Floats) -> Floats:
        """Return posed skin points (n, 3)."""
        breadth, depth = self.half_axes(station_mm)
        angle = angle_at_fraction(fraction, np.full_like(station_mm, DEPTH_SHARE), 2.0)
        reach = radius(angle, breadth, depth, 2.0)
        axis, dorsal = self.spine.at(station_mm)
        skin = axis + (reach * np.cos(angle))[:, None] * dorsal
        skin[:, 1] += reach * np.sin(angle)
        return np.asarray(skin)

    # --- as a limb

    @property
    def joints(self) -> Mapping[JointId, LimbJoint]:
        """The one joint."""
        frame = self.spine.segment_frames[1]
        up = self.spine.at(np.array([JOINT_MM]))[1][0]
        depth = 2.0 * float(self.half_axes(np.array([JOINT_MM]))[1][0])
        at = LimbJoint(
            frame[:3, 3], frame[:3, 1], up, self.angle_deg, RANGE_DEG[self.joint.joint], depth, BLEND_MM
        )
        return {self.joint: at}

    @property
    def segments(self) -> tuple[SegmentName, ...]:
        """One on either side."""
        return (self.joint.proximal, self.joint.distal)

    @property
    def by_ray(self) -> Mapping[RayName, "ToyLimb"]:
        """Itself."""
        return {self.joint.ray: self}

    @property
    def places(self) -> Mapping[str, Floats]:
        """None."""
        return {}

    @property
    def measures(self) -> LimbMeasures:
        """It was made from none."""
        return LimbMeasures()

    @property
    def tube(self) -> Tube | None:
        """Itself, if it knows."""
        return self if "tube" in self.knows else None

    def place(self, ray: RayName, turned: Angles | None = None) -> Floats:
        """Return limb_from_ray (4, 4)."""
        return np.eye(4)

    def skin_bodies(self) -> tuple[SkinBody, ...]:
        """Return the one body."""
        return (SkinBody(self.skin_mesh(), self.joint.ray),)

    def skin_mesh(self) -> Mesh:
        """Return the posed skin."""
        stations = np.append(np.arange(0.0, TIP_MM - 0.5, ROW_MM), TIP_MM - 0.2)
        rows = self._rows(stations)
        tip, _ = self.spine.at(np.array([TIP_MM]))
        return closed_tube(rows, rows[0].mean(axis=0), tip[0])

    def _rows(self, stations: Floats) -> Floats:
        each = np.repeat(stations, AROUND), np.tile(np.arange(AROUND) / AROUND, len(stations))
        return self.skin_points(*each).reshape(len(stations), AROUND, 3)

    def sheet(self, side: Side) -> Sheet | None:
        """Return one side rolled out flat, if it knows."""
        return ToySheet(self, 0.0 if side == "dorsal" else 0.5) if "sheet" in self.knows else None

    def body(self, segment: SegmentName) -> Mesh:
        """Return a segment as a closed rigid body, rounded about the joint."""
        straight = ToyLimb(self.joint)
        is_distal = segment == self.joint.distal
        stations = (
            np.append(np.arange(JOINT_MM, TIP_MM - 0.5, ROW_MM), TIP_MM - 0.2)
            if is_distal
            else np.arange(0.0, JOINT_MM, ROW_MM)
        )
        rows = straight._rows(stations)
        at_joint = rows[0 if is_distal else -1]
        middle = at_joint.mean(axis=0)
        reach = float(np.ptp(at_joint[:, 2])) / 2.0
        ahead, scale = cap_rows(reach)
        way = np.array([-1.0 if is_distal else 1.0, 0.0, 0.0])
        cap = middle + scale[:, None, None] * (at_joint - middle) + ahead[:, None, None] * way
        if is_distal:
            body = closed_tube(
                np.concatenate([cap[::-1], rows]), middle + reach * way, np.array([TIP_MM, 0.0, 0.0])
            )
            return Mesh(body.vertices - [JOINT_MM, 0.0, 0.0], body.faces)
        return closed_tube(np.concatenate([rows, cap]), rows[0].mean(axis=0), middle + reach * way)

    def length_mm(self, segment: SegmentName) -> float:
        """Return the length of a segment."""
        return TIP_MM - JOINT_MM if segment == self.joint.distal else JOINT_MM

    def transform(self, segment: SegmentName, turned: Angles | None = None) -> Floats:
        """Return limb_from_segment (4, 4)."""
        frames = self._spine((turned or {}).get(self.joint, self.angle_deg)).segment_frames
        return frames[1 if segment == self.joint.distal else 0]

    def beyond(self, joint: JointId, points: Floats) -> Bools:
        """Return which points (n, 3) lie distal of the joint."""
        return np.asarray(stations_of(self, points) > JOINT_MM)

    def together(self, joints: Sequence[JointId]) -> LimbJoint:
        """Return the joint."""
        return self.joints[joints[0]]

    def web_line(self, ray: RayName) -> WebLine | None:
        """Return none."""
        return None

    def beside(self, ray: RayName) -> Mapping[str, Mesh]:
        """Return nothing."""
        return {}
