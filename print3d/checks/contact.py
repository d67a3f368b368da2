"""How near an orthosis comes to the finger at any angle of a joint: a helper of the checks of motion and of stops.

A part strapped to its carrier segment stays with it. A part held by its shape alone (rings) is let loose in the finger's plane:
at each angle it goes where it is pressed least, found by a few linear programs on the signed distances.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from print3d.checks.nearest import PointCloud, Surface, at
from print3d.geometry.frames import apply, flexion_rotation, inverse
from print3d.geometry.mesh import Mesh
from print3d.limb.finger import DISTAL_OF, SEGMENTS, FingerJoint, FingerLimb, FingerPose, Segment
from print3d.orthoses.built import SLIDE_MM, FingerView, Orthosis

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_ROUNDS, FINE_ROUNDS = 16, 3
LEAST_GAIN = 0.004
"""A round that raises the least gap by less than this share of its step was too bold: the next steps are shorter."""
SETTLED_MM = 0.01
NEAR_MM = 2.0
"""Points this much farther away than the nearest take no part in a round of placing."""
MOST_NEAR = 30
CELL_MM = 1.5
MOST_NEAR_ROUNDS = 3
N_BESIDE = 2
"""Of the bodies of a loose part, so many are the segments beside the joint; the rest are other parts."""
FREE_MM = 0.05
"""A loose part with this much gap all around is free and is moved no further."""
FIRST_STEP_MM, LEAST_STEP_MM, LEVER_MM = 1.5, 0.05, 10.0
"""Largest shift in a first and in a last round, and the lever at which a tilt counts as a shift."""


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

    def touch(self, angle_deg: float) -> Touch:
        """Return the least gap at an angle."""


def contact_at(view: FingerView, orthosis: Orthosis, joint: FingerJoint) -> Contact:
    """Return how the whole orthosis meets the finger as one joint moves."""
    loose = [part.floats_across == joint for part in orthosis.parts]
    carried = [mesh for mesh, is_loose in zip(view.meshes, loose, strict=True) if not is_loose]
    contacts: list[Contact] = []
    if carried:
        contacts.append(CarriedContact(view.limb, carried, orthosis.carrier, joint))
    for mesh, is_loose in zip(view.meshes, loose, strict=True):
        if is_loose:
            contacts.append(FloatingContact(view.limb, mesh, joint, carried, orthosis.carrier))
    return contacts[0] if len(contacts) == 1 else NearestOf(contacts)


class NearestOf:
    """Several contacts at once."""

    def __init__(self, contacts: Sequence[Contact]) -> None:
        self._contacts = contacts

    def touch(self, angle_deg: float) -> Touch:
        """Return the least gap of any."""
        touches = [contact.touch(angle_deg) for contact in self._contacts]
        nearest = min(touches, key=lambda touch: touch.gap_mm)
        return replace(nearest, between_parts_mm=min(touch.between_parts_mm for touch in touches))


class CarriedContact:
    """Parts that stay with their carrier while every segment beyond the joint moves as a rigid body."""

    def __init__(
        self, limb: FingerLimb, meshes: Sequence[Mesh], carrier: Segment, joint: FingerJoint
    ) -> None:
        self._limb, self._carrier, self._joint = limb, carrier, joint
        segments = moving_segments(carrier, joint)
        self._bodies = {segment: Surface(limb.segment_body(segment)) for segment in segments}
        self._cloud = PointCloud(np.vstack([mesh.vertices for mesh in meshes]))

    def touch(self, angle_deg: float) -> Touch:
        """Return the least gap to the moved segments."""
        pose = replace(self._limb.pose, **{f"{self._joint}_flexion_deg": angle_deg})
        least, place = np.inf, np.zeros(3)
        for segment, body in self._bodies.items():
            segment_from_orthosis = inverse(self._orthosis_from_segment(segment, pose))
            if self._cloud.farther_than(least, body, segment_from_orthosis):
                continue
            distance, nearest = self._cloud.least_signed(body, segment_from_orthosis)
            if distance < least:
                least, place = distance, nearest
        return Touch(least, at(place))

    def _orthosis_from_segment(self, segment: Segment, pose: FingerPose) -> Floats:
        """Placement (4, 4) of a segment at a pose, in the frame of the unmoved orthosis."""
        limb, carrier = self._limb, self._carrier
        step = inverse(limb.segment_transform(carrier, pose)) @ limb.segment_transform(segment, pose)
        return np.asarray(limb.segment_transform(carrier) @ step)


def moving_segments(carrier: Segment, joint: FingerJoint) -> tuple[Segment, ...]:
    """Return every segment on the side of a joint away from the carrier, the one at the joint first."""
    beyond = SEGMENTS.index(DISTAL_OF[joint])
    return SEGMENTS[beyond:] if SEGMENTS.index(carrier) < beyond else SEGMENTS[:beyond][::-1]


@dataclass(frozen=True, eq=False)
class Gaps:
    """Signed distances of points to bodies, and how they change with the part's placement.

    value : (bodies, n) mm
    slope : (bodies, n, 3) per mm of tilt at `LEVER_MM`, of shift along and of shift dorsally
    """

    value: Floats
    slope: Floats

    @property
    def least(self) -> float:
        """The least of all."""
        return float(self.value.min())

    def near(self) -> Ints:
        """The points that are among the nearest to some body, and not much farther than the nearest of all."""
        chosen = [
            np.argsort(row)[:MOST_NEAR][np.sort(row)[:MOST_NEAR] < self.least + NEAR_MM] for row in self.value
        ]
        return np.unique(np.concatenate(chosen))

    def best_move(self, step_mm: float, slide_mm: Floats) -> Floats:
        """Return the placement change (3,) that would raise the least gap most if the slopes held.

        Each is at most `step_mm`; along the finger there are `slide_mm` (2,) left to go proximally and distally.
        """
        near = self.value < self.least + NEAR_MM
        value, slope = self.value[near], self.slope[near]
        found = linprog(
            np.array([0.0, 0.0, 0.0, -1.0]),
            A_ub=np.column_stack([-slope, np.ones(len(value))]),
            b_ub=value,
            bounds=[
                (-step_mm, step_mm),
                (-min(step_mm, slide_mm[0]), min(step_mm, slide_mm[1])),
                (-step_mm, step_mm),
                (None, FREE_MM),
            ],
        )
        return np.asarray(found.x[:3])


class FloatingContact:
    """A part loose in the finger's plane, across one joint: tilt and two shifts make its least gap as large as it gets.

    carried : other parts, which stay with `carrier`; they count as bodies that the loose part may not enter
    """

    def __init__(
        self, limb: FingerLimb, mesh: Mesh, joint: FingerJoint, carried: Sequence[Mesh], carrier: Segment
    ) -> None:
        self._limb, self._joint, self._points = limb, joint, mesh.vertices
        distal = DISTAL_OF[joint]
        self._centre = limb.segment_transform(distal)[:3, 3]
        bodies = {segment: limb.segment_body(segment) for segment in (_before(distal), distal)}
        to_carrier = inverse(limb.segment_transform(carrier))
        self._segments = [*bodies, *[carrier] * len(carried)]
        others = [Mesh(apply(to_carrier, other.vertices), other.faces) for other in carried]
        self._surfaces = [Surface(body) for body in (*bodies.values(), *others)]
        self._placement = np.zeros(3)
        self._cell_of = _cells(self._points)
        _, first = np.unique(self._cell_of, return_index=True)
        self._coarse = self._points[first]

    def touch(self, angle_deg: float) -> Touch:
        """Return the least gap at an angle, the part placed where it is pressed least."""
        pose = replace(self._limb.pose, **{f"{self._joint}_flexion_deg": angle_deg})
        half_turn = np.radians(angle_deg - getattr(self._limb.pose, f"{self._joint}_flexion_deg")) / 2
        frames = [inverse(self._limb.segment_transform(segment, pose)) for segment in self._segments]

        def gaps(placement: Floats, points: Floats) -> Gaps:
            return self._gaps(frames, half_turn, placement, points)

        cells = gaps(self._placement, self._coarse).near()
        for _ in range(MOST_NEAR_ROUNDS):
            least = self._place(gaps, self._coarse[cells], MOST_ROUNDS)
            coarse = gaps(self._placement, self._coarse)
            missed = np.setdiff1d(coarse.near(), cells)
            if coarse.least > least - SETTLED_MM or not len(missed):
                break
            cells = np.union1d(cells, missed)
        members = self._points[np.flatnonzero(np.isin(self._cell_of, cells))]
        fine = members[gaps(self._placement, members).near()]
        self._place(gaps, fine, FINE_ROUNDS)
        found = gaps(self._placement, fine)
        between = min(found.value[N_BESIDE:].min(initial=np.inf), found.least + NEAR_MM)
        return Touch(found.least, at(fine[int(np.argmin(found.value.min(axis=0)))]), float(between))

    def _place(self, gaps: Callable[[Floats, Floats], Gaps], points: Floats, rounds: int) -> float:
        """Move the part by linear programs until the least gap of `points` grows no more, and return that gap."""
        here, step = gaps(self._placement, points), FIRST_STEP_MM
        for _ in range(rounds):
            if here.least >= FREE_MM:
                break
            trial = self._placement + here.best_move(
                step, SLIDE_MM - self._placement[1] * np.array([-1.0, 1.0])
            )
            there = gaps(trial, points)
            gained = there.least - here.least
            if gained > 0.0:
                self._placement, here = trial, there
            if gained < LEAST_GAIN * step:
                step /= 3.0
                if step < LEAST_STEP_MM:
                    break
        return here.least

    def _gaps(self, frames: Sequence[Floats], half_turn: float, placement: Floats, points: Floats) -> Gaps:
        """Gaps of points (n, 3), which follow half of the joint's turn and then the placement."""
        turn = flexion_rotation(half_turn + placement[0] / LEVER_MM)
        turned = (points - self._centre + np.array([placement[1], 0.0, placement[2]])) @ turn.T
        placed = turned + self._centre
        value, slope = [], []
        for surface, frame in zip(self._surfaces, frames, strict=True):
            gap, normal = surface.signed_with_normals(apply(frame, placed))
            normal = normal @ frame[:3, :3]
            tilt = (normal[:, 0] * turned[:, 2] - normal[:, 2] * turned[:, 0]) / LEVER_MM
            value.append(gap)
            slope.append(np.column_stack([tilt, *(normal @ turn)[:, [0, 2]].T]))
        return Gaps(np.array(value), np.array(slope))


def _cells(points: Floats) -> Ints:
    """Number (n,) the cells of an even grid that the points lie in."""
    _, numbers = np.unique(np.floor(points / CELL_MM).astype(np.int64), axis=0, return_inverse=True)
    return numbers.ravel()


def _before(segment: Segment) -> Segment:
    return SEGMENTS[SEGMENTS.index(segment) - 1]
