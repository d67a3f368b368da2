"""How near an orthosis comes to the finger at any angle of a joint.

A part strapped to its carrier segment stays with it. A part held by its shape alone (rings) is let loose in the finger's plane:
at each angle it goes where it is pressed least, found by a few linear programs on the signed distances.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from print3d.forms.orthosis import SLIDE_MM, Orthosis, RayView
from print3d.geometry.frames import apply, flexion_rotation, inverse, rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import NODE_MM, DistanceField, PointCloud, Surface, at
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept
from print3d.limb.joint_id import JointId, SegmentName
from print3d.limb.limb import Angles, Chain, moving_segments
from print3d.mechanics.best_move import Bearings, MoveLimits, best_move

MOST_ROUNDS = 16
"""Most linear programs by which a loose part is placed at one angle; own choice."""
SETTLED_MM = 0.01
"""A part is placed when no point that was left out lies deeper than this below the least gap; own choice."""
LEAST_GAIN = 0.02
"""A round that raises the least gap by less than this share of its step was too bold: the next steps are shorter."""
NEAR_MM = 2.0
"""Points this much farther away than the nearest take no part in a round of placing."""
MOST_CHANGE = 2.4
"""A gap changes by no more than this many steps when tilt and both shifts are a step each."""
BEYOND_MM = 3.0
"""Distances are tabulated this far around a body, where a part may come."""
AROUND_MM = 8.0
"""Parts farther than this beyond the reach of the moving segments are left out: their gap is larger at every angle."""
MOST_NEAR_ROUNDS = 3
"""How often points that a placing left out are let in."""
N_BESIDE = 2
"""The first bodies of a loose part are the two segments beside the joint; the rest are other parts."""
FREE_MM = 0.05
"""A loose part with this much gap all around is free and is moved no further; own choice."""
FIRST_STEP_MM = 1.0
"""Largest shift in a first round; own choice."""
LEAST_STEP_MM = 0.05
"""Largest shift in a last round; own choice."""
LEVER_ARM_MM = 10.0
"""The lever arm at which a tilt counts as a shift; about half of a finger's breadth, own choice."""


@dataclass(frozen=True)
class ContactAccuracy:
    """How carefully a loose part is placed.

    The gap found then is that of all its points, on the surfaces themselves.

    turn_deg : how far the joint turns between two placings: small, so that the part follows
    cell_mm : it is placed by one point in each cell of this size
    node_mm : spacing of the tabulated distances
    """

    turn_deg: float = 5.0
    cell_mm: float = 1.5
    node_mm: float = NODE_MM


@dataclass(frozen=True)
class Touch:
    """What is nearest at one angle.

    gap_mm : the least gap, negative inside the finger or inside another part
    where : the place that has it, on the orthosis as it was built
    between_parts_mm : the least gap between a loose part and the carried ones; where that is more than `NEAR_MM` above
        `gap_mm` it reads as that
    """

    gap_mm: float
    where: tuple[float, float, float]
    between_parts_mm: float = np.inf


class Contact(Protocol):
    """Something that knows the least gap at an angle (deg, flexion positive) of one joint."""

    def touch(self, angle_deg: float, below_mm: float = np.inf) -> Touch:
        """Return the least gap at an angle.

        One that is not below `below_mm` may read as infinite, which is found sooner.
        """


def contact_at(
    view: RayView,
    orthosis: Orthosis,
    joint: JointId,
    accuracy: ContactAccuracy = ContactAccuracy(),  # noqa: B008 (frozen)
) -> Contact:
    """Return how the whole orthosis meets the finger as one joint moves."""
    loose = [part.floats_across == joint for part in orthosis.parts]
    meshes = [part.shell.mesh for part in view.parts]
    carried = [mesh for mesh, is_loose in zip(meshes, loose, strict=True) if not is_loose]
    contacts: list[Contact] = []
    if carried:
        contacts.append(_carried_contact(view, tuple(carried), orthosis.carrier, joint))
    for mesh, is_loose in zip(meshes, loose, strict=True):
        if is_loose:
            contacts.append(
                FloatingContact(view.chain, mesh, joint, OtherParts(carried, orthosis.carrier), accuracy)
            )
    return contacts[0] if len(contacts) == 1 else NearestOf(contacts)


class NearestOf:
    """Several contacts at once."""

    def __init__(self, contacts: Sequence[Contact]) -> None:
        self._contacts = contacts

    def touch(self, angle_deg: float, below_mm: float = np.inf) -> Touch:
        """Return the least gap of any."""
        touches = [contact.touch(angle_deg, below_mm) for contact in self._contacts]
        nearest = min(touches, key=lambda touch: touch.gap_mm)
        return replace(nearest, between_parts_mm=min(touch.between_parts_mm for touch in touches))


class CarriedContact:
    """Parts that stay with their carrier while every segment beyond the joint moves as a rigid body."""

    def __init__(self, limb: Chain, meshes: Sequence[Mesh], carrier: SegmentName, joint: JointId) -> None:
        self._limb, self._carrier, self._joint = limb, carrier, joint
        segments = moving_segments(limb, carrier, joint)
        self._bodies = {segment: segment_surface(limb, segment) for segment in segments}
        self._cloud = PointCloud(self._within_reach(np.vstack([mesh.vertices for mesh in meshes])))

    def touch(self, angle_deg: float, below_mm: float = np.inf) -> Touch:
        """Return the least gap to the moved segments; infinite where that is not below `below_mm`."""
        turned = {self._joint: angle_deg}
        least, place, found = below_mm, np.zeros(3), False
        for segment, body in self._bodies.items():
            segment_from_orthosis = inverse(self._orthosis_from_segment(segment, turned))
            if self._cloud.farther_than(least, body, segment_from_orthosis):
                continue
            distance, nearest = self._cloud.least_signed(body, segment_from_orthosis, least)
            if distance < least:
                least, place, found = distance, nearest, True
        return Touch(least if found else np.inf, at(place))

    def _within_reach(self, points: Floats) -> Floats:
        """Points (k, 3) that the moving segments can come near at some angle; all, if there are none."""
        centre = self._limb.joints[self._joint].centre
        reach = max(
            float(
                np.linalg.norm(
                    apply(self._limb.transform(segment), body.mesh.vertices) - centre, axis=1
                ).max()
            )
            for segment, body in self._bodies.items()
        )
        near = np.linalg.norm(points - centre, axis=1) < reach + AROUND_MM
        return points[near] if near.any() else points

    def _orthosis_from_segment(self, segment: SegmentName, turned: Angles) -> Floats:
        """Placement (4, 4) of a segment with the joint turned, in the frame of the unmoved orthosis."""
        limb, carrier = self._limb, self._carrier
        step = inverse(limb.transform(carrier, turned)) @ limb.transform(segment, turned)
        return np.asarray(limb.transform(carrier) @ step)


@dataclass(frozen=True, eq=False)
class Turned:
    """The joint at one angle.

    frames : each body's own frame from the limb's (4, 4)
    half_turn_rad : half of the turn since the part was built
    """

    frames: Sequence[Floats]
    half_turn_rad: float


@dataclass(frozen=True)
class FieldTable:
    """How distances to a body are tabulated.

    node_mm : spacing of the nodes
    reach_mm : how far from the joint a part may reach
    """

    node_mm: float
    reach_mm: float


@dataclass(frozen=True)
class OtherParts:
    """Other parts, which stay with their carrier; they count as bodies that a loose part may not enter."""

    meshes: Sequence[Mesh]
    carrier: SegmentName


class FloatingContact:
    """A part loose in the finger's plane, across one joint.

    Tilt and two shifts make its least gap as large as it gets.
    """

    def __init__(
        self, limb: Chain, mesh: Mesh, joint: JointId, others: OtherParts, accuracy: ContactAccuracy
    ) -> None:
        self._limb, self._joint, self._accuracy = limb, joint, accuracy
        self._cloud = PointCloud(mesh.vertices)
        self._centre = limb.joints[joint].centre
        beside = (joint.proximal, joint.distal)
        self._segments = [*beside, *[others.carrier] * len(others.meshes)]
        reach = float(np.linalg.norm(mesh.vertices - self._centre, axis=1).max()) + SLIDE_MM
        table = FieldTable(accuracy.node_mm, reach)
        carried = [_carried(other, limb, others.carrier, joint, table) for other in others.meshes]
        self._surfaces = [
            *(segment_surface(limb, segment) for segment in beside),
            *(surface for surface, _ in carried),
        ]
        self._fields = [
            *(_segment_field(limb, segment, joint, table) for segment in beside),
            *(field for _, field in carried),
        ]
        self._placement = np.zeros(3)
        self._built_at_deg = self._angle_deg = limb.joints[joint].angle_deg
        _, first = np.unique(
            np.floor(mesh.vertices / accuracy.cell_mm).astype(np.int64), axis=0, return_index=True
        )
        self._coarse = mesh.vertices[first]

    def touch(self, angle_deg: float, below_mm: float = np.inf) -> Touch:
        """Return the least gap at an angle, the part placed where it is pressed least, whatever `below_mm`.

        The joint is turned there in small steps, so that the part follows it as on a finger.
        """
        n = max(1, int(np.ceil(abs(angle_deg - self._angle_deg) / self._accuracy.turn_deg)))
        for between in np.linspace(self._angle_deg, angle_deg, n + 1)[1:-1]:
            self._settle(self._turned_to(float(between)))
        self._angle_deg, turned = angle_deg, self._turned_to(angle_deg)
        self._settle(turned)
        placing = self._placing(turned, self._placement)
        least, place, others = np.inf, np.zeros(3), np.inf
        bodies = zip(self._surfaces, turned.frames, self._fields, strict=True)
        for number, (surface, frame, field) in enumerate(bodies):
            below = least if number < N_BESIDE else least + NEAR_MM
            distance, nearest = self._cloud.least_signed(surface, frame @ placing, below, field)
            if number >= N_BESIDE:
                others = min(others, distance)
            if distance < least:
                least, place = distance, nearest
        between_parts = min(others, least + NEAR_MM) if len(self._surfaces) > N_BESIDE else np.inf
        return Touch(least, at(place), between_parts)

    def placement_at(self, angle_deg: float) -> Floats:
        """Return tilt (deg), shift along and dorsal shift (mm) of the part at an angle.

        Half of the joint's turn is part of the tilt. It is about the joint's centre, after the shifts along the part's own axes as it was built.
        """
        self.touch(angle_deg)
        turned = self._turned_to(angle_deg)
        tilt_rad = turned.half_turn_rad + self._placement[0] / LEVER_ARM_MM
        return np.array([np.degrees(tilt_rad), self._placement[1], self._placement[2]])

    def bearing_at(self, angle_deg: float) -> Bearings:
        """Return what is near the segments beside the joint, the part placed where it is pressed least."""
        least = self.touch(angle_deg).gap_mm
        turned = self._turned_to(angle_deg)
        gaps = self._values(turned, self._coarse)[:N_BESIDE]
        near = gaps < gaps.min() + NEAR_MM
        wanted = np.zeros((len(self._segments), len(self._coarse)), dtype=bool)
        wanted[:N_BESIDE] = near
        placed = apply(self._placing(turned, self._placement), self._coarse)
        names = [
            name for name, chosen in zip(self._segments, near, strict=False) for _ in range(chosen.sum())
        ]
        points = np.vstack([placed[chosen] for chosen in near])
        return Bearings(least, tuple(names), points, gaps[near], self._slopes(turned, self._coarse, wanted))

    def _settle(self, turned: Turned) -> None:
        """Place the part by its coarse points."""
        cells = _near(self._values(turned, self._coarse))
        for _ in range(MOST_NEAR_ROUNDS):
            least = self._place(turned, self._coarse[cells])
            coarse = self._values(turned, self._coarse)
            missed = np.setdiff1d(_near(coarse), cells)
            if coarse.min() > least - SETTLED_MM or not len(missed):
                break
            cells = np.union1d(cells, missed)

    def _place(self, turned: Turned, points: Floats) -> float:
        """Move the part by linear programs until the least gap of `points` grows no more, and return that gap."""
        here, step = self._values(turned, points), FIRST_STEP_MM
        for _ in range(MOST_ROUNDS):
            if here.min() >= FREE_MM:
                break
            near = here < here.min() + MOST_CHANGE * step
            slide = SLIDE_MM - self._placement[1] * np.array([-1.0, 1.0])
            before = self._placement
            self._placement = before + best_move(
                here[near], self._slopes(turned, points, near), MoveLimits(step, slide, FREE_MM)
            )
            there = self._values(turned, points)
            gained = there.min() - here.min()
            if gained > 0.0:
                here = there
            else:
                self._placement = before
            if gained < LEAST_GAIN * step:
                step /= 3.0
                if step < LEAST_STEP_MM:
                    break
        return float(here.min())

    def _turned_to(self, angle_deg: float) -> Turned:
        at = {self._joint: angle_deg}
        frames = [inverse(self._limb.transform(segment, at)) for segment in self._segments]
        return Turned(frames, float(np.radians(angle_deg - self._built_at_deg) / 2))

    def _placing(self, turned: Turned, placement: Floats) -> Floats:
        """Placement (4, 4) of the part from where it was built.

        Half of the joint's turn and its own tilt, after its shifts.
        """
        turn = flexion_rotation(turned.half_turn_rad + placement[0] / LEVER_ARM_MM)
        shift = np.array([placement[1], 0.0, placement[2]]) - self._centre
        return rigid(turn, turn @ shift + self._centre)

    def _values(self, turned: Turned, points: Floats) -> Floats:
        """Tabulated gaps (bodies, n) of points (n, 3) of the part where it is now."""
        placing = self._placing(turned, self._placement)
        return np.array(
            [
                field.signed(apply(frame @ placing, points))
                for field, frame in zip(self._fields, turned.frames, strict=True)
            ]
        )

    def _slopes(self, turned: Turned, points: Floats, wanted: NDArray[np.bool_]) -> Floats:
        """How the wanted gaps (bodies, n) of points (n, 3) change with the placement (k, 3), body by body."""
        placing = self._placing(turned, self._placement)
        placed, slopes = apply(placing, points), []
        for field, frame, chosen in zip(self._fields, turned.frames, wanted, strict=True):
            lever = placed[chosen] - self._centre
            normal = field.slope(apply(frame, placed[chosen])) @ frame[:3, :3]
            tilt = (normal[:, 0] * lever[:, 2] - normal[:, 2] * lever[:, 0]) / LEVER_ARM_MM
            slopes.append(np.column_stack([tilt, *(normal @ placing[:3, :3])[:, [0, 2]].T]))
        return np.vstack(slopes)


@kept
def _carried_contact(
    view: RayView, meshes: tuple[Mesh, ...], carrier: SegmentName, joint: JointId
) -> CarriedContact:
    """The same for every check: nothing in it changes."""
    return CarriedContact(view.chain, meshes, carrier, joint)


@kept
def segment_surface(limb: Chain, segment: SegmentName) -> Surface:
    """Return a segment's rigid body with its search tree; several checks of one orthosis ask for the same one."""
    return Surface(limb.body(segment))


@kept
def _segment_field(limb: Chain, segment: SegmentName, joint: JointId, table: FieldTable) -> DistanceField:
    from_limb = inverse(limb.transform(segment))
    centre = limb.joints[joint].centre
    return _field(segment_surface(limb, segment), apply(from_limb, centre[None])[0], table)


@kept
def _carried(
    mesh: Mesh, limb: Chain, carrier: SegmentName, joint: JointId, table: FieldTable
) -> tuple[Surface, DistanceField]:
    """A part in its carrier's frame, and its distance field around a joint."""
    to_carrier = inverse(limb.transform(carrier))
    surface = Surface(Mesh(apply(to_carrier, mesh.vertices), mesh.faces))
    centre = limb.joints[joint].centre
    return surface, _field(surface, apply(to_carrier, centre[None])[0], table)


def _field(surface: Surface, centre: Floats, table: FieldTable) -> DistanceField:
    """The distance field of a body around a joint centre (3,) in its own frame."""
    low = np.maximum(surface.mesh.vertices.min(axis=0) - BEYOND_MM, centre - table.reach_mm)
    high = np.minimum(surface.mesh.vertices.max(axis=0) + BEYOND_MM, centre + table.reach_mm)
    return DistanceField(surface, low, high, table.node_mm)


def _near(value: Floats) -> Ints:
    """Which points, of gaps (bodies, n), are not much farther from some body than the nearest of all."""
    return np.flatnonzero((value < value.min() + NEAR_MM).any(axis=0))
