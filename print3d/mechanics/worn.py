"""What an orthosis does on a finger it was not built for, quickly: no finger is meshed.

    Worn        one finger with the orthosis on it: where each part goes, and its gaps to the skin, by formula
    Question    one thing asked of it: numbers that change nearly evenly with the finger, and what they must be

`linear_model` turns questions into straight lines in what is not known. A study measures every finger on meshes instead
(`studies/fit.py`); a test holds the two together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, Protocol, get_args

import numpy as np

from print3d.errors import LimbError
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.frames import apply
from print3d.geometry.nearest import skin_surface
from print3d.geometry.types import Floats, Ints
from print3d.limb.finger import FingerLimb
from print3d.limb.joint_id import JointId
from print3d.limb.limb import Tube
from print3d.limb.skin_gap import skin_gap
from print3d.limb.tube import stations_of
from print3d.limb.uncertainty import FingerUnknowns
from print3d.mechanics.beams import opening_strain
from print3d.mechanics.passing import (
    GIRTH_SPACING_MM,
    closed_length,
    largest_beyond,
    measure_narrowest,
    measure_rings,
)
from print3d.mechanics.placement import crease_placement, gaps_and_slopes, reference_joint, tilted
from print3d.mechanics.shell_sections import Side, measure_sections, measure_wall, passing_widths

MOST_POINTS = 300
"""Points of a part's skin side that are followed; own choice."""
LEAST_POINTS = 5
"""Fewer of them beside a joint show nothing; own choice."""
TURN_DEG = 1.0
"""A joint is turned by this to see how gaps beside it change."""


@dataclass(frozen=True, eq=False)
class OnSkin:
    """One part's skin side on the finger it was built for.

    points, planned : (n, 3) spread over it, and their planned gaps (n,)
    off_formula : (n,) by how much the gap on the mesh exceeds the formula's
    settle : (2, n) tilt and dorsal shift by gaps that are off their plan
    """

    part: Part
    points: Floats
    planned: Floats
    off_formula: Floats
    settle: Floats


def on_skin(part: Part, limb: FingerLimb) -> OnSkin:
    """Look at a part on the finger it was built for."""
    every = max(1, len(part.skin_vertices) // MOST_POINTS)
    points = part.shell.mesh.vertices[part.skin_vertices[::every]]
    planned = part.planned_gap_mm[::every]
    gap, slope = gaps_and_slopes(points, skin_surface(limb), limb.segment_transform("middle")[:3, 3])
    settle = np.asarray(np.linalg.pinv(slope), dtype=float)
    return OnSkin(part, points, planned, gap - skin_gap(limb, points), settle)


@dataclass(frozen=True, eq=False)
class Worn:
    """An orthosis on a finger.

    off_print_mm : how far the printed surface lies outside the planned one
    """

    orthosis: Orthosis
    sides: tuple[OnSkin, ...]
    built_for: FingerLimb
    finger: FingerLimb
    off_print_mm: float

    @cached_property
    def placed(self) -> tuple[tuple[Floats, Floats], ...]:
        """Placement (4, 4) of each part, and its gaps (n,)."""
        by_crease = crease_placement(reference_joint(self.orthosis), self.built_for, self.finger)
        pivot = self.finger.segment_transform("middle")[:3, 3]
        return tuple(self._settled(side, by_crease, pivot) for side in self.sides)

    def _settled(self, side: OnSkin, by_crease: Floats, pivot: Floats) -> tuple[Floats, Floats]:
        place = side.settle @ (side.planned - self._gap(side, by_crease))
        placement = tilted(place, pivot) @ by_crease
        return placement, self._gap(side, placement)

    def _gap(self, side: OnSkin, placement: Floats) -> Floats:
        return skin_gap(self.finger, apply(placement, side.points)) + side.off_formula - self.off_print_mm


Aspect = Literal["goes_on", "stays_on", "angle", "free", "presses"]
ASPECTS: tuple[Aspect, ...] = get_args(Aspect)
"""What a fit is asked about."""


class Question(Protocol):
    """One thing asked of a fit."""

    @property
    def what(self) -> Aspect:
        """What it is about."""

    def numbers(self, worn: Worn) -> Floats:
        """Return what it hangs on (m,)."""

    def margin(self, numbers: Floats) -> Floats:
        """Return how far inside its limit it is (n,), of numbers (n, m); below zero it fails."""


@dataclass(frozen=True)
class PressesNowhere:
    """No point of a part is pressed into the skin further than that yields."""

    part: int
    yields_mm: float
    what: Aspect = "presses"

    def numbers(self, worn: Worn) -> Floats:
        """Return its gaps."""
        return worn.placed[self.part][1]

    def margin(self, numbers: Floats) -> Floats:
        """Return the least gap beyond what skin yields."""
        return np.asarray(numbers.min(axis=1) + self.yields_mm)


@dataclass(frozen=True)
class NotTooLoose:
    """The mean gap of a part, flares and reliefs taken off."""

    part: int
    loosest_mm: float
    what: Aspect = "stays_on"

    def numbers(self, worn: Worn) -> Floats:
        """Return it."""
        planned = worn.sides[self.part].planned
        return np.array([(worn.placed[self.part][1] - planned).mean() + planned.min()])

    def margin(self, numbers: Floats) -> Floats:
        """Return what is left to the loosest."""
        return np.asarray(self.loosest_mm - numbers[:, 0])


@dataclass(frozen=True, eq=False)
class HeldAngle:
    """The angle at which the segments beside a joint fit a part best, against the asked one.

    proximal, distal : which points lie beside the joint
    slope : how the gaps of the distal ones change with the angle, in mm a degree
    """

    part: int
    proximal: Ints
    distal: Ints
    slope: Floats
    within_deg: float
    what: Aspect = "angle"

    def numbers(self, worn: Worn) -> Floats:
        """Return the angle beyond the asked one: a line of least squares through the gaps."""
        off = worn.placed[self.part][1] - worn.sides[self.part].planned
        beyond = off[self.distal] - off[self.proximal].mean()
        return np.array([-float(self.slope @ beyond) / float(self.slope @ self.slope)])

    def margin(self, numbers: Floats) -> Floats:
        """Return what is left to the limit."""
        return np.asarray(self.within_deg - np.abs(numbers[:, 0]))


@dataclass(frozen=True, eq=False)
class GoesIn:
    """A finger goes into an open shell: laid on, slid on, or the shell sprung open as it bears.

    where : (n, 3) between the lips of each section; heights : (n,) how far those stand beyond its middle
    found : (2, n) mouth and girth of each section
    strain : (n,) of the wall for each mm that its lips are sprung apart
    """

    part: int
    mouth: Side
    where: Floats
    heights: Floats
    found: Floats
    strain: Floats
    donning_mm: float
    most_strain: float
    what: Aspect = "goes_on"

    def numbers(self, worn: Worn) -> Floats:
        """Return what is missing of mouths and of girths (2 n,)."""
        finger, placement = worn.finger, worn.placed[self.part][0]
        at, _ = _in_section(finger, apply(placement, self.where))
        height = self.heights + self._raised(finger, placement) - self._raised(worn.built_for, np.eye(4))
        laid = (
            passing_widths(finger, self.mouth, at, height)
            - self.found[0]
            + 2.0 * (worn.off_print_mm - self.donning_mm)
        )
        slid = (
            passing_girths(finger, at) - self.found[1] + 2.0 * np.pi * (worn.off_print_mm - self.donning_mm)
        )
        return np.concatenate([laid, slid])

    def margin(self, numbers: Floats) -> Floats:
        """Return the strain that is left in the easier way."""
        laid, slid = np.split(np.maximum(numbers, 0.0), 2, axis=1)
        narrow = laid > 0.0
        ways = np.stack([(laid * self.strain).max(axis=1), (slid * narrow * self.strain).max(axis=1)])
        return np.asarray(self.most_strain - ways.min(axis=0))

    def _raised(self, finger: FingerLimb, placement: Floats) -> Floats:
        _, height = _in_section(finger, apply(placement, self.where))
        return height * {"dorsal": 1.0, "volar": -1.0}.get(self.mouth, 0.0)


@dataclass(frozen=True, eq=False)
class GoesThrough:
    """A finger goes through a closed ring, its girth and its narrower width."""

    part: int
    line: Floats
    donning_mm: float
    what: Aspect = "goes_on"

    def numbers(self, worn: Worn) -> Floats:
        """Return what is left of girth and width (2,)."""
        stations = stations_of(worn.finger, apply(worn.placed[self.part][0], self.line))
        girth, width = largest_beyond(worn.finger, float(stations.min()))
        spare = self.donning_mm - worn.off_print_mm
        return np.array([
            closed_length(self.line) - girth + 2.0 * np.pi * spare,
            measure_narrowest(self.line) - width + 2.0 * spare,
        ])  # fmt: skip

    def margin(self, numbers: Floats) -> Floats:
        """Return the lesser of both."""
        return np.asarray(numbers.min(axis=1))


def goes_in(number: int, part: Part, limb: FingerLimb, donning_mm: float, most_strain: float) -> list[GoesIn]:
    """Return the question of an open shell; none where it has no section from lip to lip."""
    mouth, sections = measure_sections(part, limb)
    if not sections:
        return []
    wall = measure_wall(part)
    strain = [
        opening_strain(each.radius_mm + wall / 2.0, wall, each.half_angle_rad, 1.0) for each in sections
    ]
    rows = np.array([(each.lip_height_mm, each.mouth_mm, each.girth_mm, *each.where) for each in sections])
    found = rows[:, 1:3].T
    return [GoesIn(number, mouth, rows[:, 3:], rows[:, 0], found, np.array(strain), donning_mm, most_strain)]


def goes_through(number: int, part: Part, donning_mm: float) -> list[GoesThrough]:
    """Return the questions of a closed part, one for each ring."""
    return [GoesThrough(number, line, donning_mm) for line in measure_rings(part)]


def held_angle(
    sides: Sequence[OnSkin], limb: FingerLimb, joint: JointId, within_deg: float
) -> list[HeldAngle]:
    """Return the question of a held joint, asked of the part that has most points on both sides of it.

    There is none where too few points show how the segments lie, which is a finding of its own.
    """
    centre, zone = limb.station_of(joint), limb.joints[joint].blend_mm
    beside = []
    for side in sides:
        stations = stations_of(limb, side.points)
        beside.append((np.flatnonzero(stations < centre - zone), np.flatnonzero(stations > centre + zone)))
    number = max(range(len(sides)), key=lambda each: min(map(len, beside[each])))
    proximal, distal = beside[number]
    if min(len(proximal), len(distal)) < LEAST_POINTS:
        return []
    turned = limb.posed(**{f"{joint.joint}_flexion_deg": limb.joints[joint].angle_deg + TURN_DEG})
    beyond = sides[number].points[distal]
    slope = (skin_gap(turned, beyond) - skin_gap(limb, beyond)) / TURN_DEG
    return [HeldAngle(number, proximal, distal, slope, within_deg)]


def passing_girths(tube: Tube, stations: Floats) -> Floats:
    """Return the girth (n,) that goes through a shell at each station, as `passing_girth` has it."""
    tip = tube.landmarks["tip"] - GIRTH_SPACING_MM
    along = np.linspace(min(float(stations.min()), tip), tip, 120)
    beyond = np.maximum.accumulate(tube.girth_mm(along)[::-1])[::-1]
    needed = np.interp(stations, along, beyond)
    for bend in tube.bends:
        swept = bend.beyond_mm * abs(np.radians(bend.angle_deg)) / 4.0
        girth = float(tube.girth_mm(np.array([bend.girth_at_mm]))[0]) + swept
        needed = np.where(
            np.abs(stations - bend.station_mm) < bend.blend_mm, np.maximum(needed, girth), needed
        )
    return np.asarray(needed)


def _in_section(finger: FingerLimb, points: Floats) -> tuple[Floats, Floats]:
    """Station (n,) of points, and how far dorsal of the middle of the section there they lie (n,)."""
    station = stations_of(finger, points)
    axis, dorsal = finger.spine.at(station)
    return station, np.einsum("ij,ij->i", points - axis, dorsal) - finger.section_middle(station)


@dataclass(frozen=True, eq=False)
class LinearModel:
    """Questions as straight lines in what is not known.

    at : of each question its numbers (m,) on the finger of the case; slopes : (k, m) for each mm of each source
    """

    questions: tuple[Question, ...]
    at: tuple[Floats, ...]
    slopes: tuple[Floats, ...]

    def margins(self, deviations: Floats) -> Floats:
        """Return the margin (n, f) of each question for deviations (n, k) mm."""
        found = [
            question.margin(here + deviations @ slope)
            for question, here, slope in zip(self.questions, self.at, self.slopes, strict=True)
        ]
        return np.column_stack(found)


def linear_model(
    orthosis: Orthosis,
    limb: FingerLimb,
    unknowns: FingerUnknowns,
    sides: tuple[OnSkin, ...],
    questions: Sequence[Question],
) -> LinearModel:
    """Ask everything on the finger of the case, and on one that is an SD off for each source."""

    def asked(deviation: Floats) -> list[Floats]:
        finger = unknowns.true_finger(deviation, limb.pose)
        worn = Worn(orthosis, sides, limb, finger, unknowns.print_offset_mm(deviation))
        return [each.numbers(worn) for each in questions]

    here = asked(np.zeros(len(unknowns.sources)))
    slopes = [np.zeros((len(unknowns.sources), len(numbers))) for numbers in here]
    for row, step in enumerate(np.diag(unknowns.sd_mm)):
        try:
            there, length = asked(step), step[row]
        except LimbError:  # no finger is that much larger, or smaller, than this one
            there, length = asked(-step), -step[row]
        for slope, before, after in zip(slopes, here, there, strict=True):
            slope[row] = (after - before) / length
    return LinearModel(tuple(questions), tuple(here), tuple(slopes))
