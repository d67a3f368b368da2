"""What every kind returns: the finished parts, the limb they sit on, and what they hold, stop and free."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from print3d.geometry.frames import apply, inverse
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats, Ints
from print3d.inputs.measured import FingerName
from print3d.kept import kept
from print3d.language.message import Message, message
from print3d.limb.finger import FingerJoint, FingerLimb
from print3d.limb.four_fingers import FourFingers
from print3d.limb.hand import HandLimb
from print3d.limb.joint_id import SegmentName
from print3d.shell.definition import ShellDefinition
from print3d.shell.mesh import ShellMesh

SLIDE_MM = 2.0
"""So far a part that floats across a joint slides along the finger: its bar sits in the crease, and skin holds it. Without a
limit it would slip down the taper before it stops anything. Own choice."""


@dataclass(frozen=True)
class FreeArc:
    """A joint that must stay free, and the arc it is swept through (flexion positive).

    finger : whose joint, where the limb has several fingers; None is the only one
    """

    joint: FingerJoint
    from_deg: float
    to_deg: float
    finger: FingerName | None = None


@dataclass(frozen=True)
class Stop:
    """A joint that is blocked one way from an angle on, and free the other way (flexion positive).

    let_through_deg : how far beyond that angle the planned clearance lets the joint go until it is stopped
    """

    joint: FingerJoint
    blocked: Literal["extension", "flexion"]
    at_deg: float
    finger: FingerName | None = None
    let_through_deg: float = 0.0

    @property
    def planned_deg(self) -> float:
        """The flexion at which the joint is planned to stand still."""
        return self.at_deg + (self.let_through_deg if self.blocked == "flexion" else -self.let_through_deg)


@dataclass(frozen=True)
class AngleDifference:
    """One finger's MCP is held more extended (negative: more flexed) than those of its neighbours."""

    finger: FingerName
    neighbours: tuple[FingerName, ...]
    more_extended_deg: float


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
    slot_straps_mm : width of the strap that each slot of the pattern is for, in their order
    """

    name: str
    definition: ShellDefinition
    shell: ShellMesh
    planned_gap_mm: Floats
    skin_vertices: Ints
    rings: tuple[Floats, ...] = ()
    floats_across: FingerJoint | None = None
    stiffened_along: tuple[float, float] | None = None
    slot_straps_mm: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Orthosis:
    """A finished orthosis on its limb.

    carrier : the segment the orthosis moves with when a free joint moves
    held : joint of the limb's only finger -> flexion (degrees) at which it is held
    freed : joints that stay free, each with the arc that is swept
    stops : joints that are blocked one way
    differences : MCP angles held against each other
    laps : names of two parts that lie over each other, inner and outer, held by screws through their "opening" holes, which
        both patterns have in the same order
    """

    kind: str
    limb: FingerLimb | FourFingers | HandLimb
    parts: tuple[Part, ...]
    carrier: SegmentName
    held: Mapping[FingerJoint, float]
    freed: tuple[FreeArc, ...]
    stops: tuple[Stop, ...] = ()
    differences: tuple[AngleDifference, ...] = ()
    laps: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, eq=False)
class FingerView:
    """An orthosis as one finger sees it: everything in that finger's own frame.

    name : the finger, or "" where the limb is a single finger
    meshes : the parts
    """

    name: FingerName | Literal[""]
    limb: FingerLimb
    meshes: tuple[Mesh, ...]
    freed: tuple[FreeArc, ...]
    stops: tuple[Stop, ...]


@kept
def finger_views(orthosis: Orthosis) -> tuple[FingerView, ...]:
    """Return the orthosis as each of its limb's fingers sees it."""
    limb = orthosis.limb
    if isinstance(limb, FingerLimb):
        meshes = tuple(part.shell.mesh for part in orthosis.parts)
        return (FingerView("", limb, meshes, orthosis.freed, orthosis.stops),)
    views = []
    for name, ray in limb.rays.items():
        back = inverse(ray.hand_from_finger())
        meshes = tuple(
            replace(part.shell.mesh, vertices=apply(back, part.shell.mesh.vertices))
            for part in orthosis.parts
        )
        freed = tuple(arc for arc in orthosis.freed if arc.finger == name)
        stops = tuple(stop for stop in orthosis.stops if stop.finger == name)
        views.append(FingerView(name, ray.limb, meshes, freed, stops))
    return tuple(views)


def part_name(part: str) -> Message:
    """Return the name of a part by its id."""
    return message(f"common.part.{part}")
