"""Free joints as hinges, and which bodies turn with each: what a page needs to bend a finger.

Every finger is a chain from the hand to its tip. A body's `chain` names the joints between the hand and it, the one at the hand
first; turned by angles a, b, its points are moved by H1(a) H2(b), each a rotation about a hinge that stands where it was built.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from print3d.checks.finding import Finding, about
from print3d.forms.orthosis import FreeArc, Orthosis, Part, RayView, ray_views
from print3d.geometry.frames import DISTAL, DORSAL
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import Side, axis_for_side, points_for_side
from print3d.geometry.types import Floats
from print3d.limb.joint_id import JointId, SegmentName
from print3d.mechanics.contact import ContactAccuracy, FloatingContact, OtherParts

STEP_DEG = 10.0
"""A loose part is placed at angles this far apart; a page goes straight between them."""


@dataclass(frozen=True)
class Drift:
    """Where a part that is loose across a joint goes as the joint turns.

    It is given as tilt (deg) and shifts (mm) at angles (deg).
    """

    joint: str
    angles: tuple[float, ...]
    tilts: tuple[float, ...]
    along: tuple[float, ...]
    dorsal: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class FreeJoint:
    """A free joint.

    key : name in chains, such as "ring-pip"
    ray : whose joint, or "" where the limb has no other
    centre, axis : (3,) mm and unit vector, limb frame as built; flexion is right-handed about the axis
    built_deg, from_deg, to_deg : flexion as built, and the arc to keep free
    free_to_deg : how far the check of motion found it free
    """

    key: str
    ray: str
    joint: str
    centre: Floats
    axis: Floats
    built_deg: float
    from_deg: float
    to_deg: float
    free_to_deg: float

    def for_side(self, side: Side) -> "FreeJoint":
        """Return the hinge of the asked hand."""
        return replace(self, centre=points_for_side(self.centre, side), axis=axis_for_side(self.axis, side))

    def turn(self, angle_deg: float) -> Floats:
        """Return the transform (4, 4) from as built to an angle."""
        return _rotation(self.centre, self.axis, np.radians(angle_deg - self.built_deg))


def _rotation(centre: Floats, axis: Floats, angle_rad: float) -> Floats:
    """Rotation (4, 4) about an axis through a point (Rodrigues' formula)."""
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn = np.eye(4)
    turn[:3, :3] += np.sin(angle_rad) * cross + (1.0 - np.cos(angle_rad)) * cross @ cross
    turn[:3, 3] = centre - turn[:3, :3] @ centre
    return turn


def hinges(orthosis: Orthosis, findings: Sequence[Finding]) -> list[FreeJoint]:
    """Return every free joint, each ray's from proximal to distal."""
    found = []
    for view in ray_views(orthosis):
        for arc in sorted(view.freed, key=lambda arc: arc.joint):
            at = view.chain.joints[arc.joint].placed(orthosis.limb.place(view.ray))
            found.append(
                FreeJoint(_key(view, arc.joint), "" if view.is_alone else view.ray, arc.joint.joint, at.centre, at.axis, at.angle_deg,
                      min(arc.from_deg, at.angle_deg), arc.to_deg, _free_to(arc, findings))
            )  # fmt: skip
    return found


def _free_to(arc: FreeArc, findings: Sequence[Finding]) -> float:
    """The angle that `checks/motion.py` measured, else the end of the arc."""
    row = "motion.free", about(joint=arc.joint)
    measured = (each.measured for each in findings if each.row == row)
    return float(next(measured, arc.to_deg))


def chain_of(view: RayView, segment: SegmentName) -> tuple[str, ...]:
    """Return the keys of the free joints between a ray's first segment and another."""
    segments = view.chain.segments
    passed = segments[1 : segments.index(segment) + 1]
    free = sorted(arc.joint for arc in view.freed)
    return tuple(_key(view, joint) for joint in free if joint.distal in passed)


def _key(view: RayView, joint: JointId) -> str:
    return joint.joint if view.is_alone else f"{joint.ray}-{joint.joint}"


def segment_bodies(orthosis: Orthosis) -> Iterator[tuple[Mesh, tuple[str, ...]]]:
    """Yield every segment of a ray with free joints as a rigid body where it was built, with its chain."""
    for view in ray_views(orthosis):
        place = orthosis.limb.place(view.ray)
        turned = {arc.joint.proximal for arc in view.freed}
        for segment in view.chain.segments if view.freed else ():
            is_first = segment == view.chain.segments[0]
            if is_first and not (view.is_alone and segment in turned):
                continue
            frame = place @ view.chain.transform(segment)
            yield view.chain.body(segment).moved(frame), chain_of(view, segment)


def part_chain(orthosis: Orthosis, part: Part) -> tuple[str, ...]:
    """Return the joints that carry a part along.

    A loose one hangs on the segment before the joint that it lies across.
    """
    view, *more = ray_views(orthosis)
    if more:
        return ()
    joint = part.floats_across
    return chain_of(view, orthosis.carrier if joint is None else joint.proximal)


def drift_of(orthosis: Orthosis, part: Part) -> Drift | None:
    """Return where a loose part goes over the arc of its joint, as the check of motion places it.

    None is a carried part.
    """
    joint = part.floats_across
    view = ray_views(orthosis)[0]
    arc = next((arc for arc in view.freed if arc.joint == joint), None)
    if joint is None or arc is None:
        return None
    carried = [each.shell.mesh for each in orthosis.parts if each.floats_across != joint]
    contact = FloatingContact(
        view.chain, part.shell.mesh, joint, OtherParts(carried, orthosis.carrier), ContactAccuracy()
    )
    n = max(1, int(np.ceil((arc.to_deg - arc.from_deg) / STEP_DEG)))
    angles = np.linspace(arc.from_deg, arc.to_deg, n + 1)
    placed = np.array([contact.placement_at(float(angle)) for angle in angles])
    tilt, along, dorsal = (tuple(float(each) for each in column) for column in placed.T)
    return Drift(_key(view, joint), tuple(map(float, angles)), tilt, along, dorsal)


def drifted(hinge: FreeJoint, drift: Drift, angle_deg: float) -> Floats:
    """Return the transform (4, 4) of a loose part at an angle of its joint."""
    tilt, along, dorsal = (
        float(np.interp(angle_deg, drift.angles, each)) for each in (drift.tilts, drift.along, drift.dorsal)
    )
    shift = np.eye(4)
    shift[:3, 3] = along * DISTAL + dorsal * DORSAL
    return _rotation(hinge.centre, hinge.axis, np.radians(tilt)) @ shift


def moved(chain: Sequence[str], by_key: dict[str, FreeJoint], angles: dict[str, float]) -> Floats:
    """Return the transform (4, 4) of a body with joints at `angles` (deg, by key); others stay as built."""
    transform = np.eye(4)
    for key in chain:
        transform = transform @ by_key[key].turn(angles.get(key, by_key[key].built_deg))
    return transform
