"""Joints that move on a finger an orthosis was not built for: free, or stopped where.

A part strapped to its segment is followed by the points that come nearest at some angle. One that is loose goes where it is pressed
least: at its best place a few points carry each other, with weights that add up to nothing but the least gap, and those tell how that
gap changes with the finger whatever the part does.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import linprog

from print3d.forms.orthosis import FreeArc, Orthosis, Part, Stop
from print3d.geometry.frames import apply, inverse
from print3d.geometry.types import Floats
from print3d.limb.finger import FingerLimb
from print3d.limb.joint_id import JointId, SegmentName
from print3d.limb.limb import moving_segments
from print3d.limb.skin_gap import segment_gap
from print3d.mechanics.contact import ContactAccuracy, FloatingContact, OtherParts
from print3d.mechanics.worn import Aspect, Question, Worn

ARC_STEP_DEG = 10.0
"""Step in which a free joint is looked at; that of its check."""
MOST_POINTS = 700
"""Points of a part among which those near the moving segments are looked for; own choice."""
NEAR_MM = 3.0
"""At each angle points are followed that are no more than this farther away than the nearest; own choice."""
MOST_NEAR = 25
"""Most of them at one angle; own choice."""
FAR_MM = 4.0
"""A joint with this much room is free on every finger."""
LEAST_WEIGHT = 1e-6
"""A point that carries less does not bear."""
LEAST_CLOSING = 1e-3
"""A gap that closes by less mm a degree stops nothing."""
LOOSE = ContactAccuracy(turn_deg=30.0, cell_mm=2.0)
"""How carefully a loose part is placed: its points are then measured by formula."""


@dataclass(frozen=True, eq=False)
class Near:
    """Points of a part near one segment with the joint at one angle.

    angles : (n,) of the joint at each point
    """

    part: int
    joint: JointId
    carrier: SegmentName
    segment: SegmentName
    angles: Floats
    points: Floats

    def gaps(self, worn: Worn) -> Floats:
        """Return the gaps (n,) on a finger."""
        return self.between(worn.finger, apply(worn.placed[self.part][0], self.points)) - worn.off_print_mm

    def on_built(self, limb: FingerLimb, off_deg: float) -> Floats:
        """Return the gaps (n,) on the finger it was built for, the joint turned further by `off_deg`."""
        return self.between(limb, self.points, off_deg)

    def between(self, limb: FingerLimb, placed: Floats, off_deg: float = 0.0) -> Floats:
        """Return the gaps (n,) of placed points (n, 3) to a finger's segment."""
        gaps = np.empty(len(placed))
        for angle in np.unique(self.angles):
            chosen = self.angles == angle
            frame = _segment_from_orthosis(limb, self, float(angle) + off_deg)
            gaps[chosen] = segment_gap(limb, self.segment, apply(frame, placed[chosen]))
        return gaps


def _segment_from_orthosis(limb: FingerLimb, near: Near, angle_deg: float) -> Floats:
    turned = {near.joint: angle_deg}
    step = inverse(limb.transform(near.carrier, turned)) @ limb.transform(near.segment, turned)
    return inverse(limb.transform(near.carrier) @ step)


@dataclass(frozen=True, eq=False)
class StaysFree:
    """A joint moves through its arc without being pressed further than soft tissue yields."""

    near: tuple[Near, ...]
    yields_mm: float
    what: Aspect = "free"

    def numbers(self, worn: Worn) -> Floats:
        """Return the gaps of all points that come near."""
        return np.concatenate([each.gaps(worn) for each in self.near])

    def margin(self, numbers: Floats) -> Floats:
        """Return the least gap beyond what yields."""
        return np.asarray(numbers.min(axis=1) + self.yields_mm)


@dataclass(frozen=True, eq=False)
class Stops:
    """A joint is stopped by a part strapped to its segment, near the planned angle.

    slope : (n,) of each gap in mm a degree towards the stop
    """

    near: tuple[Near, ...]
    slope: Floats
    yields_mm: float
    within_deg: float
    what: Aspect = "angle"

    def numbers(self, worn: Worn) -> Floats:
        """Return the gaps at the planned angle."""
        return np.concatenate([each.gaps(worn) for each in self.near])

    def margin(self, numbers: Floats) -> Floats:
        """Return what is left to the limit: the first point that is pressed in stops the joint."""
        closing = self.slope < -LEAST_CLOSING
        beyond = ((numbers + self.yields_mm) / -np.where(closing, self.slope, -1.0))[:, closing]
        return np.asarray(self.within_deg - np.abs(beyond.min(axis=1)))


@dataclass(frozen=True, eq=False)
class Bearing:
    """The points by which a loose part bears at one angle.

    built_for : the finger, on which its least gap there is `gap_mm`
    segments, points, weights : what it bears on, where (n, 3) in the limb's frame, and by how much (n,)
    """

    built_for: FingerLimb
    joint: JointId
    angle_deg: float
    gap_mm: float
    segments: tuple[SegmentName, ...]
    points: Floats
    weights: Floats

    def gap_on(self, worn: Worn) -> float:
        """Return the least gap on a finger."""
        return self.gap_mm + self._formula(worn.finger) - self._on_built - worn.off_print_mm

    @cached_property
    def _on_built(self) -> float:
        return self._formula(self.built_for)

    def _formula(self, finger: FingerLimb) -> float:
        """The weighted gap on a finger, the part where it was about the joint's centre."""
        shifted = self.points - self.built_for.joints[self.joint].centre + finger.joints[self.joint].centre
        turned, total = {self.joint: self.angle_deg}, 0.0
        for segment in dict.fromkeys(self.segments):
            chosen = np.array([each == segment for each in self.segments])
            placed = apply(inverse(finger.transform(segment, turned)), shifted[chosen])
            total += float(self.weights[chosen] @ segment_gap(finger, segment, placed))
        return total


@dataclass(frozen=True, eq=False)
class LooseStaysFree:
    """A joint moves through its arc with a loose part on it."""

    bearings: tuple[Bearing, ...]
    yields_mm: float
    what: Aspect = "free"

    def numbers(self, worn: Worn) -> Floats:
        """Return the least gap at some angles."""
        return np.array([each.gap_on(worn) for each in self.bearings])

    def margin(self, numbers: Floats) -> Floats:
        """Return the least of them beyond what yields."""
        return np.asarray(numbers.min(axis=1) + self.yields_mm)


@dataclass(frozen=True, eq=False)
class LooseStops:
    """A joint is stopped by a loose part near the planned angle.

    bearings : short of that angle, at it, and beyond
    """

    bearings: tuple[Bearing, ...]
    yields_mm: float
    within_deg: float
    what: Aspect = "angle"

    def numbers(self, worn: Worn) -> Floats:
        """Return the least gap at each."""
        return np.array([each.gap_on(worn) for each in self.bearings])

    def margin(self, numbers: Floats) -> Floats:
        """Return what is left to the limit: from angle to angle the gap is a straight line."""
        short, here, beyond = (numbers + self.yields_mm).T
        step = abs(self.bearings[1].angle_deg - self.bearings[0].angle_deg)
        closing = np.where(here > 0.0, here - beyond, short - here) / step
        return np.asarray(self.within_deg - np.abs(here) / np.maximum(closing, LEAST_CLOSING))


def near_arc(orthosis: Orthosis, limb: FingerLimb, arc: FreeArc) -> tuple[Near, ...]:
    """Return the points of carried parts that come near while a joint moves, if any do."""
    steps = max(1, int(np.ceil((arc.to_deg - arc.from_deg) / ARC_STEP_DEG)))
    angles = np.linspace(arc.from_deg, arc.to_deg, steps + 1)
    return tuple(_near(orthosis, limb, arc.joint, angles))


def near_stop(orthosis: Orthosis, limb: FingerLimb, stop: Stop) -> tuple[Near, ...]:
    """Return the points of carried parts that are near when a joint is stopped."""
    return tuple(_near(orthosis, limb, stop.joint, np.array([stop.planned_deg])))


def _near(orthosis: Orthosis, limb: FingerLimb, joint: JointId, angles: Floats) -> Iterator[Near]:
    for number, part in enumerate(orthosis.parts):
        if part.floats_across == joint:
            continue
        vertices = part.shell.mesh.vertices
        points = vertices[:: max(1, len(vertices) // MOST_POINTS)]
        for segment in moving_segments(limb, orthosis.carrier, joint):
            if segment == "hand":
                continue
            found, at = list[Floats](), list[Floats]()
            for angle in angles:
                whole = Near(number, joint, orthosis.carrier, segment, np.full(len(points), angle), points)
                frame = _segment_from_orthosis(limb, whole, float(angle))
                gaps = segment_gap(limb, segment, apply(frame, points))
                if gaps.min() > FAR_MM:
                    continue
                nearest = np.argsort(gaps)[:MOST_NEAR]
                nearest = nearest[gaps[nearest] < gaps.min() + NEAR_MM]
                found.append(points[nearest])
                at.append(np.full(len(nearest), angle))
            if found:
                yield Near(number, joint, orthosis.carrier, segment, np.concatenate(at), np.vstack(found))


def loose_bearings(
    orthosis: Orthosis, limb: FingerLimb, part: Part, joint: JointId, angles: Sequence[float]
) -> list[Bearing]:
    """Return how a loose part bears at some angles, in the order in which they are reached."""
    carried = [each.shell.mesh for each in orthosis.parts if each.floats_across != joint]
    contact = FloatingContact(limb, part.shell.mesh, joint, OtherParts(carried, orthosis.carrier), LOOSE)
    return [_bearing(contact, limb, joint, angle) for angle in angles]


def _bearing(contact: FloatingContact, limb: FingerLimb, joint: JointId, angle_deg: float) -> Bearing:
    """Weights by the dual of the placing's own linear program: gaps that no tilt and no shift raises together."""
    at = contact.bearing_at(angle_deg)
    n = len(at.gaps)
    balance = np.vstack([at.slopes.T, np.ones(n)])
    wanted = np.array([0.0, 0.0, 0.0, 1.0])
    found = linprog(at.gaps, A_eq=balance, b_eq=wanted, bounds=(0.0, None), method="highs")
    weights = found.x if found.success else np.eye(n)[int(np.argmin(at.gaps))]
    used = weights > LEAST_WEIGHT
    names = tuple(name for name, is_used in zip(at.segments, used, strict=True) if is_used)
    return Bearing(limb, joint, angle_deg, at.least_mm, names, at.points[used], weights[used])


@dataclass(frozen=True)
class Yields:
    """How much soft tissue yields while a joint moves, and where it is stopped."""

    motion_mm: float
    stop_mm: float


def moving_questions(
    orthosis: Orthosis, limb: FingerLimb, yields: Yields, within_deg: float
) -> list[Question]:
    """Return what is asked of every free arc and every stop."""
    arcs = [each for arc in orthosis.freed for each in _of_arc(orthosis, limb, arc, yields.motion_mm)]
    allowed = yields.stop_mm, within_deg
    return [*arcs, *(each for stop in orthosis.stops for each in _of_stop(orthosis, limb, stop, allowed))]


def _loose_parts(orthosis: Orthosis, joint: JointId) -> list[Part]:
    return [part for part in orthosis.parts if part.floats_across == joint]


def _of_arc(orthosis: Orthosis, limb: FingerLimb, arc: FreeArc, yields_mm: float) -> Iterator[Question]:
    near = near_arc(orthosis, limb, arc)
    if near:
        yield StaysFree(near, yields_mm)
    for part in _loose_parts(orthosis, arc.joint):
        angles = [(arc.from_deg + arc.to_deg) / 2.0, arc.to_deg]
        yield LooseStaysFree(tuple(loose_bearings(orthosis, limb, part, arc.joint, angles)), yields_mm)


def _of_stop(
    orthosis: Orthosis, limb: FingerLimb, stop: Stop, allowed: tuple[float, float]
) -> Iterator[Question]:
    way = allowed[1] if stop.blocked == "flexion" else -allowed[1]
    loose = _loose_parts(orthosis, stop.joint)
    for part in loose:
        angles = [stop.planned_deg + share * way for share in (-1.0, 0.0, 1.0)]
        yield LooseStops(tuple(loose_bearings(orthosis, limb, part, stop.joint, angles)), *allowed)
    if not loose:
        near = near_stop(orthosis, limb, stop)
        slope = [(each.on_built(limb, way) - each.on_built(limb, 0.0)) / abs(way) for each in near]
        if near:
            yield Stops(near, np.concatenate(slope), *allowed)
