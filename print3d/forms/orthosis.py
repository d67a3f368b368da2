"""What every kind returns: the finished parts, the limb they sit on, and what they hold, stop and free."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from print3d.geometry.frames import inverse
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept
from print3d.language.message import Message, message
from print3d.limb.joint_id import JointId, RayName, SegmentName
from print3d.limb.limb import Chain, Limb, Side
from print3d.shell.definition import ShellDefinition
from print3d.shell.mesh import ShellMesh

Direction = Literal["extension", "flexion"]

SLIDE_MM = 2.0
"""So far a part that floats across a joint slides along the finger: its bar sits in the crease, and skin holds it. Without a
limit it would slip down the taper before it stops anything. Own choice."""


@dataclass(frozen=True)
class FreeArc:
    """A joint that must stay free, and the arc it is swept through (flexion positive)."""

    joint: JointId
    from_deg: float
    to_deg: float


@dataclass(frozen=True)
class Stop:
    """A joint that is blocked one way from an angle on, and free the other way (flexion positive).

    let_through_deg : how far beyond that angle the planned clearance lets the joint go until it is stopped
    """

    joint: JointId
    blocked: Direction
    at_deg: float
    let_through_deg: float = 0.0

    @property
    def planned_deg(self) -> float:
        """The flexion at which the joint is planned to stand still."""
        return self.at_deg + (self.let_through_deg if self.blocked == "flexion" else -self.let_through_deg)


@dataclass(frozen=True)
class AngleDifference:
    """One joint is held more extended (negative: more flexed) than those beside it."""

    joint: JointId
    neighbours: tuple[JointId, ...]
    more_extended_deg: float


@dataclass(frozen=True)
class Cover:
    """What the shell covers, and what it stays clear of.

    tips : rays whose tip it shields, as it reaches past them on the back
    forearm_share : of the forearm's length; 0 where the wrist stays free, None where nothing is asked
    clear_of : rays beside the limb that need their room
    """

    tips: tuple[RayName, ...] = ()
    forearm_share: float | None = None
    clear_of: tuple[RayName, ...] = ()


@dataclass(frozen=True)
class PlacedStrap:
    """A strap that a part has slots for.

    place : id of where it lies; its words are `straps.place.<id>`
    """

    place: str
    width_mm: float


@dataclass(frozen=True, eq=False)
class Part:
    """One printed body.

    name : its id; its words are `common.part.<id>`
    planned_gap_mm : (n,) clearance planned between skin and `skin_vertices`
    skin_vertices : (n,) vertices of the mesh that lie towards the skin; for most kinds the whole inner face
    rings : centre lines (m, 2) in the pattern plane, each once around, of the closed rings that a wrap-around part is made of
    floats_across : the joint across which the part is held by its shape alone: it shifts on the finger until it bears; None is
        strapped to the carrier
    stiffened_along : between which pattern places along ridges stiffen the part
    straps : those that its slots are for, in the order of the pattern, two slots each
    side : of the limb that the pattern was rolled out from; None where it was no one side
    flares_proximally : whether its proximal end lies on hand or forearm and turns up as the trade makes it
    """

    name: str
    definition: ShellDefinition
    shell: ShellMesh
    planned_gap_mm: Floats
    skin_vertices: Ints
    rings: tuple[Floats, ...] = ()
    floats_across: JointId | None = None
    stiffened_along: tuple[float, float] | None = None
    straps: tuple[PlacedStrap, ...] = ()
    side: Side | None = None
    flares_proximally: bool = False

    @property
    def slot_straps_mm(self) -> tuple[float, ...]:
        """Width of the strap that each slot of the pattern is for, in their order."""
        return tuple(strap.width_mm for strap in self.straps for _ in range(2))


@dataclass(frozen=True, eq=False)
class Orthosis:
    """A finished orthosis on its limb.

    carrier : the segment the orthosis moves with when a free joint moves
    held : joint -> angle (degrees) at which it is held
    freed : joints that stay free, each with the arc that is swept
    stops : joints that are blocked one way
    differences : angles held against each other
    laps : names of two parts that lie over each other, inner and outer, held by screws through their "opening" holes, which
        both patterns have in the same order
    cover : what it reaches over
    """

    kind: str
    limb: Limb
    parts: tuple[Part, ...]
    carrier: SegmentName
    held: Mapping[JointId, float]
    freed: tuple[FreeArc, ...]
    stops: tuple[Stop, ...] = ()
    differences: tuple[AngleDifference, ...] = ()
    laps: tuple[tuple[str, str], ...] = ()
    cover: Cover = Cover()


@dataclass(frozen=True, eq=False)
class RayView:
    """An orthosis as one ray of its limb sees it: everything in that ray's own frame.

    is_alone : whether the limb has no other ray
    """

    ray: RayName
    is_alone: bool
    chain: Chain
    parts: tuple[Part, ...]
    held: Mapping[JointId, float]
    freed: tuple[FreeArc, ...]
    stops: tuple[Stop, ...]

    def name_of(self, joint: JointId) -> Message:
        """Return a joint's name: without the ray where there is no other."""
        return joint.alone if self.is_alone else joint.message


@kept
def ray_views(orthosis: Orthosis) -> tuple[RayView, ...]:
    """Return the orthosis as the rays of its limb see it.

    Those are rays of which it holds, frees or stops a joint, and an only ray always.
    """
    is_alone = len(orthosis.limb.by_ray) == 1
    views = (_seen_by(orthosis, ray, is_alone=is_alone) for ray in orthosis.limb.by_ray)
    return tuple(view for view in views if is_alone or view.held or view.freed or view.stops)


def _moved(part: Part, frame: Floats) -> Part:
    return replace(part, shell=replace(part.shell, mesh=part.shell.mesh.moved(frame)))


def _seen_by(orthosis: Orthosis, ray: RayName, *, is_alone: bool) -> RayView:
    chain = orthosis.limb.by_ray[ray]
    parts = orthosis.parts
    if chain is not orthosis.limb:
        back = inverse(orthosis.limb.place(ray))
        parts = tuple(_moved(part, back) for part in parts)
    return RayView(
        ray,
        is_alone,
        chain,
        parts,
        {joint: angle for joint, angle in orthosis.held.items() if joint.ray == ray},
        tuple(arc for arc in orthosis.freed if arc.joint.ray == ray),
        tuple(stop for stop in orthosis.stops if stop.joint.ray == ray),
    )


def part_name(part: str) -> Message:
    """Return the name of a part by its id."""
    return message(f"common.part.{part}")
