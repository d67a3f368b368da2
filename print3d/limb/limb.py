"""What a limb is to the rest of the program.

It has joints by id, segments, skin, sheets that are rolled out flat, and rigid bodies that turn:

    limb.joints[JointId("middle", "pip")]      centre, axis, angle ...
    limb.by_ray["middle"]                      that finger alone, a chain of segments in its own frame
    limb.place("middle")                       that frame in the limb's
    chain.body("distal"), chain.transform()    a segment as a rigid body, and where it is at other angles

A new limb is one file with these members. Nobody outside this room asks which class a limb is of: what a limb lacks is None or
empty.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from print3d.errors import NotMeasurableError
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.language.message import message
from print3d.limb.estimates import Estimate, FingerMeasures
from print3d.limb.hand_estimates import HandMeasures
from print3d.limb.joint_id import JointId, RayName, SegmentName
from print3d.limb.spine import Spine

Bools = NDArray[np.bool_]
Side = Literal["dorsal", "volar"]
Angles = Mapping[JointId, float]
"""Joints that are turned, each to an angle in degrees; all others stay as they are."""


@dataclass(frozen=True, eq=False)
class LimbJoint:
    """A joint of a posed limb.

    centre : (3,) mm
    axis : (3,) unit; flexion, and ulnar deviation, turn what lies beyond right-handed about it
    dorsal : (3,) unit, out of the back at the joint
    angle_deg : at which it is posed
    range_deg : least and most angle of normal motion
    depth_mm : how deep the limb is there; at a knuckle, how deep its finger is at the next joint
    blend_mm : the skin bends over this much to either side
    """

    centre: Floats
    axis: Floats
    dorsal: Floats
    angle_deg: float
    range_deg: tuple[float, float]
    depth_mm: float
    blend_mm: float

    def placed(self, frame: Floats) -> "LimbJoint":
        """Return the joint in the frame (4, 4) that its own is placed in."""
        turn = frame[:3, :3]
        centre = turn @ self.centre + frame[:3, 3]
        return replace(self, centre=centre, axis=turn @ self.axis, dorsal=turn @ self.dorsal)


@dataclass(frozen=True)
class TubeBend:
    """A joint over which a tube bends, and the segment beyond it.

    That segment has to pass the joint when something is slid on.

    station_mm, blend_mm : place of its centre, and half-length of the zone over which the skin bends
    angle_deg : flexion
    girth_at_mm : station at which the segment beyond is taped
    beyond_mm : length of that segment
    """

    station_mm: float
    blend_mm: float
    angle_deg: float
    girth_at_mm: float
    beyond_mm: float


class Tube(Protocol):
    """A limb as sections along one bent axis, by station (mm along the straight axis): a finger, a thumb."""

    @property
    def landmarks(self) -> Mapping[str, float]:
        """Stations by name, the tip among them."""

    @property
    def spine(self) -> Spine:
        """The bent axis."""

    @property
    def exponent(self) -> float:
        """Exponent of the sections, which are superellipses; 2 is an ellipse."""

    @property
    def bends(self) -> tuple[TubeBend, ...]:
        """The joints over which it bends, proximal to distal."""

    def station_of(self, joint: JointId) -> float:
        """Return the station of a joint's centre."""

    def half_axes(self, station_mm: Floats) -> tuple[Floats, Floats]:
        """Return half-breadth and half-depth (n,) of the sections at stations (n,)."""

    def girth_mm(self, station_mm: Floats) -> Floats:
        """Return the girth (n,) that a tape reads across the axis at stations (n,)."""

    def section_middle(self, station_mm: Floats) -> Floats:
        """Return how far dorsal of the axis the middle of each section lies (n,)."""

    def skin_points(self, station_mm: Floats, fraction: Floats) -> Floats:
        """Return posed skin points (n, 3) at stations and girth fractions (0 dorsal, 0.25 radial)."""


class Sheet(Protocol):
    """One side of the skin rolled out flat: pattern coordinates along and around."""

    @property
    def reference_girth_mm(self) -> float:
        """The girth that maps onto the pattern plane without stretch."""

    @property
    def tip_along_mm(self) -> float:
        """The place along of the first fingertip, or where the sheet ends before it."""

    def points(self, along_mm: Floats, around_mm: Floats) -> Floats:
        """Return posed skin points (n, 3) at pattern coordinates."""


@dataclass(frozen=True, eq=False)
class SkinBody:
    """One closed body of a limb's skin.

    ray : whose it is, or None for what stays when the rays move
    """

    mesh: Mesh
    ray: RayName | None


@dataclass(frozen=True)
class WebLine:
    """The line of the webs through a ray, in its own frame.

    station_mm : where it crosses the ray's axis
    radial, ulnar : distal over radial of the line on either side
    """

    station_mm: float
    radial: float
    ulnar: float


@dataclass(frozen=True, eq=False)
class LimbMeasures:
    """What a limb was made from.

    hand : of hand and forearm, None where the limb has none
    """

    hand: HandMeasures | None = None
    fingers: Mapping[FingerName, FingerMeasures] = field(default_factory=dict)

    def estimated(self) -> dict[str, dict[str, Estimate]]:
        """Return what nobody measured: of the hand, or of the only finger (""), and of each of several fingers."""
        found: dict[str, dict[str, Estimate]] = {}
        if self.hand is not None:
            found[""] = self.hand.estimated()
        is_alone = self.hand is None and len(self.fingers) == 1
        found.update({"" if is_alone else name: each.estimated() for name, each in self.fingers.items()})
        return found


class Limb(Protocol):
    """A posed limb."""

    def __hash__(self) -> int:
        """Return a number of its own: what is found out about a limb is kept with it."""

    @property
    def joints(self) -> Mapping[JointId, LimbJoint]:
        """Every joint."""

    @property
    def by_ray(self) -> Mapping[RayName, "Chain"]:
        """Each ray alone, as a chain of segments in its own frame; a limb of one ray is its own."""

    @property
    def places(self) -> Mapping[str, Floats]:
        """Landmarks by name, points (k, 3): bony places, the ends of a web."""

    @property
    def measures(self) -> LimbMeasures:
        """What it was made from."""

    @property
    def tube(self) -> Tube | None:
        """The limb as sections along one axis; None where it is no such thing."""

    def place(self, ray: RayName, turned: Angles | None = None) -> Floats:
        """Return limb_from_ray (4, 4), with some joints turned."""

    def skin_bodies(self) -> tuple[SkinBody, ...]:
        """Return the closed bodies that the posed skin is made of; they may run into each other."""

    def skin_mesh(self) -> Mesh:
        """Return the posed skin as one mesh."""

    def sheet(self, side: Side) -> Sheet | None:
        """Return one side rolled out flat; None where that is not known."""

    def beyond(self, joint: JointId, points: Floats) -> Bools:
        """Return which points (n, 3) lie distal of a joint."""

    def together(self, joints: Sequence[JointId]) -> LimbJoint:
        """Return joints that lie side by side as one hinge; one alone is itself."""

    def web_line(self, ray: RayName) -> WebLine | None:
        """Return the line of the webs through a ray; None where there are none."""

    def beside(self, ray: RayName) -> Mapping[str, Mesh]:
        """Return a ray that lies beside the limb as closed bodies, by pose; empty where there is none."""


class Chain(Limb, Protocol):
    """A limb of one ray: segments in a row that turn about its joints as rigid bodies."""

    @property
    def segments(self) -> tuple[SegmentName, ...]:
        """The segments, proximal to distal."""

    def body(self, segment: SegmentName) -> Mesh:
        """Return a segment as a closed rigid body in its own frame."""

    def length_mm(self, segment: SegmentName) -> float:
        """Return the length of a segment, from its joint to the next or to the tip."""

    def transform(self, segment: SegmentName, turned: Angles | None = None) -> Floats:
        """Return limb_from_segment (4, 4), with some joints turned; a segment's origin is its joint's centre."""


def moving_segments(limb: Chain, carrier: SegmentName, joint: JointId) -> tuple[SegmentName, ...]:
    """Return every segment on the side of a joint away from the carrier, the one at the joint first."""
    segments = limb.segments
    beyond = segments.index(joint.distal)
    return segments[beyond:] if segments.index(carrier) < beyond else segments[:beyond][::-1]


def tube_of(limb: Limb) -> Tube:
    """Return the limb as sections along one axis. Raises NotMeasurableError if it is no such thing."""
    if limb.tube is None:
        raise NotMeasurableError(message("common.lacks.tube"))
    return limb.tube


def sheet_of(limb: Limb, side: Side) -> Sheet:
    """Return one side of a limb rolled out flat. Raises NotMeasurableError if that is not known."""
    sheet = limb.sheet(side)
    if sheet is None:
        raise NotMeasurableError(message(f"common.lacks.{side}_sheet"))
    return sheet


def palmar_creases_of(limb: Limb) -> Mapping[FingerName, Estimate]:
    """Return where the distal palmar crease lies. Raises NotMeasurableError if the limb has no palm."""
    if limb.measures.hand is None:
        raise NotMeasurableError(message("common.lacks.palm"))
    return limb.measures.hand.palmar_creases


def chain_of(limb: Limb, ray: RayName) -> Chain:
    """Return one ray of a limb. Raises NotMeasurableError if it has none of the name."""
    if ray not in limb.by_ray:
        raise NotMeasurableError(message("common.lacks.ray", ray=message(f"common.ray.{ray}")))
    return limb.by_ray[ray]


def landmark_of(tube: Tube, name: str) -> float:
    """Return the station of a landmark. Raises NotMeasurableError if the tube has none of the name."""
    if name not in tube.landmarks:
        raise NotMeasurableError(
            message("common.lacks.landmark", landmark=message(f"common.landmark.{name}"))
        )
    return tube.landmarks[name]


def web_name(radial: RayName, ulnar: RayName) -> str:
    """Return the name of the web between two rays among a limb's places."""
    return f"{radial}-{ulnar} web"
