"""A hand as a field: palm, fingers and thumb grown together.

There are webs between the fingers, creases in the palm and nails on the fingers.

Back and girths are those of the limb; what a dorsal orthosis does not touch (thumb, webs, ball of the thumb, hollow of the palm) is
shaped here, from memory of what a hand looks like.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.spatial import KDTree

from print3d.geometry.frames import apply, flexion_rotation, inverse, rigid
from print3d.geometry.nearest import DistanceField, Surface
from print3d.geometry.smooth_step import smooth_step
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS, FingerName
from print3d.limb.finger import FingerLimb, FingerPose
from print3d.limb.hand import HandLimb
from print3d.limb.hand_rays import ROOT_SHARE
from print3d.training.finger_form import FingerForm
from print3d.training.level_set import intersection, union
from print3d.training.marks import Mark

NODE_MM = 3.0
"""Nodes of the table of distances to palm and forearm, which have no radius below 8 mm."""
ROOM_MM = 13.0
"""A finger is evaluated only this near its box; elsewhere the way to the box stands for it."""
BESIDE_FILLET_MM = 0.8
"""Fillet between neighbouring fingers; own choice."""
BASE_FILLET_MM = 3.0
"""Fillet between fingers and palm; own choice."""
THUMB_FILLET_MM = 9.0
"""Fillet of the thumb with the palm; own choice."""
LEAST_FILLET_MM = 0.15
"""No fillet is narrower, so that fields stay smooth; own choice."""
BESIDE_UNTIL = 1.2
"""Up to this share of the way from MCP centre to web neighbouring fingers are joined by the larger fillet."""
FILLET_FROM = 0.75
"""Share of the way from MCP centre to web from which the fillet at a finger's base grows: before, finger and palm have the same skin
and a fillet would thicken it."""
FILLET_UNTIL = 1.15
"""Share of that way at which the fillet is full; own choice."""
FINGER_FROM = -0.1
"""A finger's own body begins this share of the way from MCP centre to web, inside the palm; own choice."""
ROUNDED_START_MM = 6.0
"""Rounding of its beginning; own choice."""
WEB_RADIUS_MM = 3.6
"""Radius of the bar that makes a web; own choice."""
WEB_BEFORE_MM = 4.5
"""A web's bar lies this far proximal of its edge; own choice."""
WEB_VOLAR_MM = 4.0
"""The web between thumb and index finger lies this far towards the palm; own choice."""
THUMB_HALF_BREADTHS = (0.165, 0.145, 0.142, 0.122, 0.136, 0.130)
"""At web, mid metacarpal, MCP, mid phalanx, IP and nail fold, over hand breadth; after the thumb of `limb/hand_thumb.py`, with a waist
between the joints, from memory."""
THUMB_DEPTH_RATIO = (1.05, 1.0, 0.95, 0.92, 0.80, 0.70)
"""Depth over breadth at the same places; from memory."""
THUMB_NAIL_TO = (-0.3, 0.90, 0.30)
"""Where the back of the thumb faces at rest, hand frame: to the side and up; from memory."""
THUMB_FROM = 0.35
"""The thumb's own body begins at this share of the way from its base to its web; own choice."""
THUMB_BENDS_DEG = (12.0, 10.0)
"""Flexion of MCP and IP at rest; from memory."""
CREASES = {
    "distal palmar": ((0.385, -0.50), (0.405, -0.30), (0.415, -0.08), (0.455, 0.10)),
    "proximal palmar": ((0.395, 0.50), (0.37, 0.25), (0.325, 0.00), (0.285, -0.30)),
    "thenar": ((0.392, 0.47), (0.33, 0.22), (0.22, 0.06), (0.11, 0.0), (0.03, 0.03)),
    "wrist": ((0.0, -0.36), (-0.006, 0.0), (0.0, 0.36)),
    "wrist, second": ((-0.026, -0.32), (-0.031, 0.0), (-0.026, 0.32)),
}
"""Distal over hand length and radial over hand breadth of points on the palm's creases; from memory."""
CREASE_MM = 0.9
"""Depth of the palm's creases; own choice."""
CREASE_WIDTH_MM = 0.6
"""Standard deviation of their profile; own choice."""
HOLLOW_MM = 3.0
"""Depth of the hollow of the palm; own choice."""


@dataclass(frozen=True, eq=False)
class HandForm:
    """The field of a hand with its forearm in the hand frame.

    forearm_mm : how much of the forearm is there
    marks : of one finger or another, further grooves
    palm_mark : grooves in palm and forearm, strokes in (distal, radial) mm
    relief : depth of the fingers' creases over the usual one
    """

    limb: HandLimb
    forearm_mm: float
    marks: Mapping[FingerName, tuple[Mark, ...]] = field(default_factory=dict)
    palm_mark: Mark | None = None
    has_details: bool = True
    relief: float = 1.0

    def distance(self, points: Floats) -> Floats:
        """Return about the distance (n,) mm of points (n, 3) to the skin, negative inside."""
        palm = self._palm_table.signed(points)
        palm = union(palm, self._hypothenar(points), 6.0)
        if self.has_details:
            palm = palm + self._palm_details(points)
        fingers, fillet = np.full(len(points), np.inf), np.full(len(points), BASE_FILLET_MM)
        for form, place, box in self._fingers:
            finger, way = _boxed(form, place, box, points)
            nearer = finger < fingers
            grown = smooth_step((way - FILLET_FROM) / (FILLET_UNTIL - FILLET_FROM))
            fillet[nearer] = (LEAST_FILLET_MM + BASE_FILLET_MM * grown)[nearer]
            beside = BESIDE_FILLET_MM + BASE_FILLET_MM * smooth_step((BESIDE_UNTIL - way) / 0.4)
            fingers = union(fingers, finger, beside)
        hand = union(palm, fingers, fillet)
        hand = union(hand, self._webs(points), 4.0)
        form, place, box = self._thumb
        thumb = union(_boxed(form, place, box, points)[0], self._first_web(points), THUMB_FILLET_MM)
        hand = union(hand, union(thumb, self._thenar(points), 12.0), THUMB_FILLET_MM)
        return intersection(hand, -self.forearm_mm - self._along_forearm(points), 1.0)

    def _along_forearm(self, points: Floats) -> Floats:
        """How far distal of the wrist (n,) points lie along the forearm."""
        return apply(inverse(self.hand_from_forearm()), points)[:, 0]

    def hand_from_forearm(self) -> Floats:
        """Return the placement (4, 4) of the forearm, whose x runs distally."""
        return rigid(flexion_rotation(-np.radians(self.limb.wrist_flexion_deg)), np.zeros(3))

    def box(self) -> tuple[Floats, Floats]:
        """Return low and high corners (3,) that hold all of the body."""
        skin = self.limb.skin_mesh().vertices
        kept = self._along_forearm(skin) > -self.forearm_mm - 2.0
        _, place, ends = self._thumb
        corners = np.stack(np.meshgrid(*ends.T, indexing="ij"), axis=-1).reshape(-1, 3)
        body = np.vstack([skin[kept], apply(inverse(place), corners)])
        return body.min(axis=0) - 8.0, body.max(axis=0) + 8.0

    @cached_property
    def _palm_table(self) -> DistanceField:
        low, high = self.box()
        return DistanceField(Surface(self.limb.trunk), low - 2.0, high + 2.0, NODE_MM)

    @cached_property
    def _fingers(self) -> list[tuple[FingerForm, Floats, Floats]]:
        found = []
        for (name, ray), (half_breadth, half_depth) in zip(
            self.limb.rays.items(), self.limb.head[:, 2:], strict=True
        ):
            head = ROOT_SHARE * float(half_breadth), ROOT_SHARE * float(half_depth)
            form = FingerForm(
                ray.limb, self.marks.get(name, ()), self.has_details, head=head, relief=self.relief
            )
            skin = ray.limb.skin_mesh().vertices
            found.append(
                (form, inverse(ray.hand_from_finger()), _box_of(np.vstack([skin, skin - [15.0, 0.0, 0.0]])))
            )
        return found

    @cached_property
    def _thumb(self) -> tuple[FingerForm, Floats, Floats]:
        limb = thumb_limb(self.limb)
        frame = self._thumb_frame()
        return (
            FingerForm(limb, (), self.has_details, has_base_crease=False),
            inverse(frame),
            _box_of(limb.skin_mesh().vertices),
        )

    def _thumb_frame(self) -> Floats:
        centres = self.limb.thumb.centres("at_rest")
        along = centres[1] - centres[0]
        along /= np.linalg.norm(along)
        dorsal = np.array(THUMB_NAIL_TO) - (np.array(THUMB_NAIL_TO) @ along) * along
        dorsal /= np.linalg.norm(dorsal)
        return rigid(np.column_stack([along, np.cross(dorsal, along), dorsal]), centres[0])

    def _webs(self, points: Floats) -> Floats:
        """Skin between neighbouring fingers: a rounded bar a little before the crease at their bases."""
        value = np.full(len(points), np.inf)
        for first, second in zip(FINGERS[:-1], FINGERS[1:], strict=True):
            ends = []
            for name in (first, second):
                ray = self.limb.rays[name]
                own = np.array([[ray.web_mm - WEB_BEFORE_MM, 0.0, 0.0]])
                ends.append(apply(ray.hand_from_finger(), own)[0])
            value = np.minimum(value, _capsule(points, ends[0], ends[1], WEB_RADIUS_MM))
        return value

    def _first_web(self, points: Floats) -> Floats:
        """Skin and muscle between the metacarpals of thumb and index finger."""
        centres = self.limb.thumb.centres("at_rest")
        knuckle = self.limb.rays["index"].mcp_centre
        root = np.array([0.08 * self.limb.hand_length_mm, 0.12 * self.limb.hand_breadth_mm, -WEB_VOLAR_MM])
        knuckle = knuckle - [0.0, 0.0, WEB_VOLAR_MM]
        value = np.full(len(points), np.inf)
        for share, radius in ((0.35, 9.0), (0.55, 8.0), (0.75, 6.5)):
            start = centres[0] + share * (centres[1] - centres[0])
            stop = root + (share + 0.1) * (knuckle - root)
            value = union(value, _capsule(points, start, stop, radius), 8.0)
        return value

    def _thenar(self, points: Floats) -> Floats:
        """The ball of the thumb, growing from the wrist."""
        length, breadth = self.limb.hand_length_mm, self.limb.hand_breadth_mm
        start = np.array([0.03 * length, 0.14 * breadth, -0.06 * breadth])
        stop = np.array([0.20 * length, 0.28 * breadth, -0.19 * breadth])
        return _cone(points, start, stop, (0.10 * breadth, 0.16 * breadth))

    def _hypothenar(self, points: Floats) -> Floats:
        """The ball of the little finger."""
        length, breadth = self.limb.hand_length_mm, self.limb.hand_breadth_mm
        start = np.array([0.10 * length, -0.24 * breadth, -0.10 * breadth])
        stop = np.array([0.30 * length, -0.33 * breadth, -0.10 * breadth])
        return _capsule(points, start, stop, 0.135 * breadth)

    def _palm_details(self, points: Floats) -> Floats:
        """How much (n,) the palm is carved: hollow and creases."""
        length, breadth = self.limb.hand_length_mm, self.limb.hand_breadth_mm
        flat = points[:, :2] / [length, breadth]
        volar = smooth_step((-points[:, 2] - 2.0) / 8.0)
        hollow = np.exp(-0.5 * (((flat[:, 0] - 0.27) / 0.09) ** 2 + ((flat[:, 1] + 0.02) / 0.13) ** 2))
        carved = HOLLOW_MM * hollow
        if self.palm_mark is not None:
            carved = carved + self.palm_mark.depth(points[:, 0], points[:, 1])
        distance, _ = self._crease_tree.query(points[:, :2], distance_upper_bound=4.0)
        groove = CREASE_MM * np.exp(-0.5 * (np.minimum(distance, 9.0) / CREASE_WIDTH_MM) ** 2)
        return volar * (carved + groove)

    @cached_property
    def _crease_tree(self) -> KDTree:
        size = np.array([self.limb.hand_length_mm, self.limb.hand_breadth_mm])
        lines = []
        for corners in CREASES.values():
            at = np.linspace(0.0, 1.0, len(corners))
            lines.append(CubicSpline(at, np.array(corners) * size)(np.linspace(0.0, 1.0, 400)))
        return KDTree(np.vstack(lines))


def thumb_limb(hand: HandLimb) -> FingerLimb:
    """Return the thumb as a finger of its own frame: its MCP and IP stand in for PIP and DIP."""
    lengths = np.linalg.norm(np.diff(hand.thumb.centres("at_rest"), axis=0), axis=1)
    metacarpal, proximal, distal = (float(each) for each in lengths)
    second = metacarpal + proximal
    marks = {
        "web": 0.55 * metacarpal, "mid_proximal": 0.78 * metacarpal, "pip_crease": metacarpal + 1.0,
        "pip": metacarpal, "mid_middle": metacarpal + 0.5 * proximal, "dip_crease": second - 2.0,
        "dip": second, "nail_fold": second + 0.44 * distal, "tip": second + distal,
    }  # fmt: skip
    breadths = np.array(THUMB_HALF_BREADTHS) * hand.hand_breadth_mm
    bends = dict(zip(("pip_flexion_deg", "dip_flexion_deg"), THUMB_BENDS_DEG, strict=True))
    return FingerLimb(
        "index", metacarpal, proximal, distal, marks, breadths,
        breadths * np.array(THUMB_DEPTH_RATIO), pose=replace(FingerPose(), **bends),
    )  # fmt: skip


def _box_of(vertices: Floats) -> Floats:
    return np.array([vertices.min(axis=0), vertices.max(axis=0)])


def _boxed(form: FingerForm, place: Floats, box: Floats, points: Floats) -> tuple[Floats, Floats]:
    """A finger's field at points of the hand frame, and how far along it they lie, 1 at the web.

    Far from the finger the field is only a bound from below.
    """
    own = apply(place, points)
    outside = np.linalg.norm(np.maximum(np.maximum(box[0] - own, own - box[1]), 0.0), axis=1)
    value = outside.copy()
    near = outside < ROOM_MM
    inside = form.distance(own[near])
    begin = (FINGER_FROM if form.head is not None else THUMB_FROM) * form.limb.landmarks["web"]
    value[near] = intersection(inside, begin - own[near, 0], ROUNDED_START_MM)
    return value, own[:, 0] / form.limb.landmarks["web"]


def _cone(points: Floats, start: Floats, stop: Floats, radii: tuple[float, float]) -> Floats:
    """About the distance (n,) to a bar whose rounded ends have two radii."""
    way = stop - start
    share = np.clip((points - start) @ way / (way @ way), 0.0, 1.0)
    radius = radii[0] + share * (radii[1] - radii[0])
    return np.asarray(np.linalg.norm(points - start - share[:, None] * way, axis=1) - radius)


def _capsule(points: Floats, start: Floats, stop: Floats, radius: float) -> Floats:
    """Distance (n,) to a rounded bar."""
    way = stop - start
    share = np.clip((points - start) @ way / (way @ way), 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - start - share[:, None] * way, axis=1) - radius)
