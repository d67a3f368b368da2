"""Forearm, hand and four fingers, posed at the wrist and at every finger joint.

The frame is the hand's of `geometry/frames.py`: origin at the wrist crease's middle, x along the hand, so that a bent wrist turns the
forearm. Girths are primary: the sections return them.
"""

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.optimize import brentq

from print3d.errors import LimbError
from print3d.geometry.frames import RADIAL
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.nearest import skin_surface
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS, FingerName
from print3d.inputs.problems import Problem
from print3d.language.message import message
from print3d.limb.bodies import cap_rows, closed_tube
from print3d.limb.finger import FingerPose
from print3d.limb.finger_sections import SECTION_EXPONENT
from print3d.limb.forearm import Forearm
from print3d.limb.four_fingers import FourFingers, Ray, build_four_fingers
from print3d.limb.hand_estimates import HandMeasures, styloid_distance_mm
from print3d.limb.hand_fold import Fold, Sway
from print3d.limb.hand_rays import Knuckles, RayOvals, mean_turn_rad, side_by_side
from print3d.limb.hand_section import Ovals, around_all, directions
from print3d.limb.hand_skin import GroupSkin
from print3d.limb.hand_thumb import POSES as THUMB_POSES
from print3d.limb.hand_thumb import Thumb
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.limb.hand_wrist import hand_from_forearm, wrist_body, wrist_joints
from print3d.limb.joint_id import JointId, RayName, SegmentName
from print3d.limb.limb import Angles, Bools, Chain, LimbJoint, LimbMeasures, Side, SkinBody, WebLine
from print3d.limb.norms import table

LEAST_HEAD_BREADTH_MM = 4.0
"""Half-breadth of a metacarpal head below which the measures cannot be true; own choice."""
DEPTH_OVER_BREADTH = (0.3, 2.5)
"""Half-depth over half-breadth of the section of one metacarpal head, tried to meet the girth; own choice."""
ROW_MM = 1.6
"""Spacing of the rows of the limb's mesh on forearm and hand: facets lie within 0.02 mm of the skin."""
AROUND_MM = 1.6
"""Spacing of its points around, for the same."""
SWAY_SHARE = 1.1
"""The wrist bends sideways over this many of its half-breadths to either side of the crease; so the skin inside a bend of 20 degrees
keeps at least two thirds of its length; own choice."""
SHOWN_TO_WEB = 0.7
"""The hand's body ends this share of the way from knuckle to web; own choice."""
PALM_ENDS_MM = 4.0
"""Its palm runs straight from this far before the fold; own choice."""
ROUNDED_MM = 8.0
"""Rounding of its end; own choice."""


@dataclass(frozen=True)
class HandPose:
    """Joint angles in degrees: flexion positive, ulnar deviation positive, this seen on the back of the hand."""

    wrist_flexion_deg: float
    fingers: Mapping[FingerName, FingerPose]
    wrist_ulnar_deviation_deg: float = 0.0


@dataclass(frozen=True, eq=False)
class HandLimb:
    """A posed hand with its forearm.

    fingers : side by side, each posed
    hand_length_mm, hand_breadth_mm : as measured
    head : (4, 4) per ray, index to little: radial place, height, half-breadth and half-depth of its metacarpal head
    wrist_tape_mm : how far proximal of the wrist crease the styloids, and the wrist's girth, lie
    made_from : its measures, measured or estimated
    """

    fingers: FourFingers
    forearm: Forearm
    hand_length_mm: float
    hand_breadth_mm: float
    head: Floats
    wrist_tape_mm: float
    wrist_flexion_deg: float
    wrist_ulnar_deviation_deg: float
    made_from: HandMeasures | None = None

    @property
    def rays(self) -> Mapping[FingerName, Ray]:
        """The fingers, radial to ulnar."""
        return self.fingers.rays

    @cached_property
    def skin(self) -> GroupSkin:
        """The one smooth skin over everything, for draping."""
        knuckles, turn = knuckles_of(self.fingers), mean_turn_rad(self.rays)
        ovals = tuple(
            RayOvals(name, ray, turn, head)
            for (name, ray), head in zip(self.rays.items(), self.head, strict=True)
        )
        half_breadth, half_depth = self.forearm.sections(np.array([self.wrist_tape_mm]))[:2, 0]
        return GroupSkin(
            self.forearm,
            ovals,
            knuckles,
            Fold(np.radians(self.wrist_flexion_deg), float(half_depth)),
            Fold(turn, float(self.head[:, 3].mean())),
            Sway(np.radians(self.wrist_ulnar_deviation_deg), SWAY_SHARE * float(half_breadth)),
            float(knuckles.centres[:, 0].mean()),
            self.wrist_tape_mm,
        )

    @cached_property
    def forearm_direction(self) -> Floats:
        """Unit vector (3,) along the forearm, distally."""
        flexion, deviation = np.radians([self.wrist_flexion_deg, self.wrist_ulnar_deviation_deg])
        level = np.cos(flexion)
        return np.array([level * np.cos(deviation), level * np.sin(deviation), np.sin(flexion)])

    @cached_property
    def bony_points(self) -> Mapping[str, tuple[float, float]]:
        """Station along the back and girth fraction of the ulnar styloid and of the metacarpal heads, by name."""
        styloid = self.skin.wrist_side_station(-self.wrist_tape_mm)
        points = {"ulnar styloid": (styloid, -float(table("forearm")["styloid"]["girth_share_ulnar"]))}
        for name, ray in self.rays.items():
            station = self.skin.station_of(name, 0.0)
            points[f"{name} metacarpal head"] = (station, self.fraction_at(station, float(ray.mcp_centre[1])))
        return points

    def fraction_at(self, station_mm: float, radial_mm: float) -> float:
        """Return the girth fraction, on the back, at which the skin lies at a radial place."""
        fractions = np.linspace(-0.25, 0.25, 401)
        radial = self.skin.points(np.full(401, station_mm), fractions)[:, 1]
        return float(np.interp(radial_mm, radial, fractions))

    def skin_bodies(self) -> tuple[SkinBody, ...]:
        """Return the posed skins of fingers, of their roots, of forearm with hand, and of the thumb."""
        still = (*(ray.root() for ray in self.skin.rays), self.trunk, self.thumb.body("at_rest"))
        return (*self.fingers.skin_bodies(), *(SkinBody(each, None) for each in still))

    def skin_mesh(self) -> Mesh:
        """Return the posed skin: closed bodies that run into each other."""
        return joined([each.mesh for each in self.skin_bodies()])

    @property
    def thumb(self) -> Thumb:
        """The thumb, as large as the hand lets expect."""
        return Thumb(self.hand_length_mm, self.hand_breadth_mm)

    def gap_mm(self, points: Floats) -> Floats:
        """Return the distance (n,) of points (n, 3) to the nearest skin, negative inside."""
        return skin_surface(self).signed(points)

    @cached_property
    def trunk(self) -> Mesh:
        """Forearm and hand as one body that ends inside the fingers.

        Over the fold of the palm the skin runs straight.
        """
        skin, fraction = self.skin, self._fractions()
        begin = skin.ends_mm[0]
        end = min(
            skin.station_of(ray.name, SHOWN_TO_WEB * ray.ray.limb.landmarks["web"]) for ray in skin.rays
        )
        n_rows = int(np.ceil((end - begin) / ROW_MM))
        stations = np.linspace(begin, end, n_rows)
        rows = self._rows(stations, fraction)
        on_palm = (0.5 - 0.5 * np.cos(2.0 * np.pi * fraction)) ** 2
        heads = [skin.station_of(ray.name, 0.0) for ray in skin.rays]
        first = int(np.searchsorted(stations, min(heads) - skin.knuckle.reach_mm - PALM_ENDS_MM))
        t = ((stations[first:] - stations[first]) / (end - stations[first]))[:, None, None]
        straight = (1.0 - t) * rows[first] + t * rows[-1]
        rows[first:] += on_palm[:, None] * (straight - rows[first:])
        forward = np.array([np.cos(skin.knuckle.turn_rad), 0.0, -np.sin(skin.knuckle.turn_rad)])
        middle = rows[-1].mean(axis=0)
        ahead, scale = cap_rows(ROUNDED_MM)
        cap = middle + scale[:, None, None] * (rows[-1] - middle) + ahead[:, None, None] * forward
        rows = np.concatenate([rows, cap])
        return closed_tube(rows, rows[0].mean(axis=0), middle + ROUNDED_MM * forward)

    # --- as a limb, and as the chain of forearm and hand ----------------------------------------------------------

    @cached_property
    def joints(self) -> Mapping[JointId, LimbJoint]:
        """The wrist's two axes, and the joints of every finger."""
        return {**wrist_joints(self), **self.fingers.joints}

    @property
    def segments(self) -> tuple[SegmentName, ...]:
        """Forearm and hand, which the wrist joins."""
        return ("forearm", "hand")

    @property
    def by_ray(self) -> Mapping[RayName, Chain]:
        """Every finger, and the wrist: itself."""
        return {**self.fingers.by_ray, "wrist": self}

    @property
    def places(self) -> Mapping[str, Floats]:
        """Bony points and webs."""
        bony = {
            name: self.skin.points(np.array([station]), np.array([fraction]))
            for name, (station, fraction) in self.bony_points.items()
        }
        return {**bony, **self.fingers.places}

    @property
    def measures(self) -> LimbMeasures:
        """What it was made from."""
        return LimbMeasures(self.made_from, self.fingers.measures.fingers)

    @property
    def tube(self) -> None:
        """None: there are several."""

    def place(self, ray: RayName, turned: Angles | None = None) -> Floats:
        """Return limb_from_ray (4, 4), with some joints turned."""
        return np.eye(4) if ray == "wrist" else self.fingers.place(ray, turned)

    def sheet(self, side: Side) -> "UnrolledHand[HandLimb] | None":
        """Return the back rolled out flat; the palm is not known so well."""
        return self._back if side == "dorsal" else None

    @cached_property
    def _back(self) -> "UnrolledHand[HandLimb]":
        _ = self.skin  # worked out once for both
        return UnrolledHand(copy(self))  # of a twin: what a limb keeps must not hold the limb

    def body(self, segment: SegmentName) -> Mesh:
        """Return forearm or hand as a closed rigid body in its own frame, the hand with fingers and thumb."""
        return wrist_body(self, segment)

    def length_mm(self, segment: SegmentName) -> float:
        """Return the length of forearm or hand."""
        return self.forearm.length_mm if segment == "forearm" else self.hand_length_mm

    def transform(self, segment: SegmentName, turned: Angles | None = None) -> Floats:
        """Return limb_from_segment (4, 4), with the wrist turned; the hand keeps the limb's frame."""
        return np.eye(4) if segment == "hand" else hand_from_forearm(self, turned or {})

    def beyond(self, joint: JointId, points: Floats) -> Bools:
        """Return which points (n, 3) lie distal of a joint.

        At the wrist that is of its crease, at the MCP joints of the line of the knuckles.
        """
        if joint.ray == "wrist":
            return np.asarray(points[:, 0] > 0.0)
        if joint.joint != "mcp":
            return self.fingers.beyond(joint, points)
        centres = np.array([ray.mcp_centre for ray in self.rays.values()])
        order = np.argsort(centres[:, 1])
        return np.asarray(points[:, 0] > np.interp(points[:, 1], *centres[order][:, [1, 0]].T))

    def together(self, joints: Sequence[JointId]) -> LimbJoint:
        """Return knuckles as one hinge across the hand; one joint alone is itself."""
        found = [self.joints[joint] for joint in joints]
        if len(found) == 1:
            return found[0]
        angle = float(np.mean([each.angle_deg for each in found]))
        half = np.radians(angle) / 2.0
        return replace(
            found[0],
            centre=np.array([each.centre for each in found]).mean(axis=0),
            axis=RADIAL,
            dorsal=np.array([np.sin(half), 0.0, np.cos(half)]),
            angle_deg=angle,
        )

    def web_line(self, ray: RayName) -> WebLine | None:
        """Return the line of the webs through a finger."""
        return self.fingers.web_line(ray)

    def beside(self, ray: RayName) -> Mapping[str, Mesh]:
        """Return the thumb at rest and abducted."""
        return {pose: self.thumb.body(pose) for pose in THUMB_POSES} if ray == "thumb" else {}

    def _rows(self, stations: Floats, fraction: Floats) -> Floats:
        """Skin points (s, f, 3) at all stations (s,) and girth fractions (f,)."""
        each = np.repeat(stations, len(fraction)), np.tile(fraction, len(stations))
        return self.skin.points(*each).reshape(len(stations), len(fraction), 3)

    def _fractions(self) -> Floats:
        """Girth fractions about `AROUND_MM` apart at the widest place."""
        widest = float(self.skin.girth_of_back_mm(np.linspace(self.skin.ends_mm[0], 0.0, 50)).max())
        n_around = 4 * int(np.ceil(widest / AROUND_MM / 4))
        return np.arange(n_around) / n_around


def build_hand(measures: HandMeasures, pose: HandPose) -> HandLimb:
    """Make a hand with its forearm from its measures (measured or estimated).

    Raises LimbError if the measures leave no place for a segment, or if girth and breadth of the hand do not go together.
    """
    hand = {key: each.value for key, each in measures.hand.items()}
    fingers = build_four_fingers(measures.fingers, measures.hand)
    for name in FINGERS:
        fingers = fingers.posed(name, **vars(pose.fingers[name]))
    fingers = side_by_side(fingers)
    girths = {place: each.value for place, each in measures.forearm_girths_mm.items()}
    return HandLimb(
        fingers,
        Forearm(hand["forearm_length_mm"], girths),
        hand["hand_length_mm"],
        hand["hand_breadth_mm"],
        _heads(knuckles_of(fingers), hand["hand_breadth_mm"], hand["hand_girth_mm"]),
        styloid_distance_mm(measures.hand),
        pose.wrist_flexion_deg,
        pose.wrist_ulnar_deviation_deg,
        measures,
    )


def knuckles_of(fingers: FourFingers) -> Knuckles:
    """Return the line through the MCP centres."""
    return Knuckles(np.array([ray.mcp_centre for ray in fingers.rays.values()]))


def _heads(knuckles: Knuckles, breadth: float, girth: float) -> Floats:
    """Sections (4, 4) of the metacarpal heads: as broad together as the hand, and as deep as its girth asks."""
    centres = knuckles.centres
    half_breadth = (breadth - np.ptp(centres[:, 1])) / 2.0
    if half_breadth < LEAST_HEAD_BREADTH_MM:
        raise LimbError(Problem("measured.hand_breadth_mm", breadth, message("refusals.limb.narrow_hand")))

    def too_large(half_depth: float) -> float:
        return _girth_around(centres, half_breadth, half_depth) - girth

    low, high = (ratio * half_breadth for ratio in DEPTH_OVER_BREADTH)
    if too_large(low) > 0.0 or too_large(high) < 0.0:
        least, most = too_large(low) + girth, too_large(high) + girth
        wanted = message("refusals.limb.hand_girth", breadth_mm=breadth, least=least, most=most)
        raise LimbError(Problem("measured.hand_girth_mm", girth, wanted))
    half_depth = brentq(too_large, low, high, xtol=1e-6)
    sizes = np.tile([half_breadth, half_depth], (4, 1))
    return np.column_stack([centres[:, 1], np.zeros(4), sizes])


def _girth_around(centres: Floats, half_breadth: float, half_depth: float) -> float:
    """Girth of a tape around all metacarpal heads."""
    one, none = np.ones(4), np.zeros(4)
    ovals = Ovals(
        centres[:, 1], centres[:, 2], half_breadth * one, half_depth * one, SECTION_EXPONENT * one, none
    )
    points = around_all(ovals, directions())[1]
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def girth_around_heads(knuckles: Knuckles, head: Floats) -> float:
    """Return the girth that a tape reads around metacarpal heads of sections (4, 4), as in `HandLimb.head`."""
    return _girth_around(knuckles.centres, float(head[0, 2]), float(head[0, 3]))
