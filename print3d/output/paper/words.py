"""The words of one case in its language.

They say what it is called, its parts, what it is made of, what it holds.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from print3d.forms.orthosis import FreeArc, Orthosis, Stop
from print3d.inputs.measured import FINGERS
from print3d.language.catalogue import Language, catalogue, text
from print3d.limb.joint_id import JointId, RayName

NO_ANGLE_DEG = 0.05
"""An angle below this is none on a sheet, which shows whole degrees."""


@dataclass(frozen=True)
class Words:
    """Names in one language.

    A name that the catalogue does not know, such as a clinic's own material, stays as it is.
    """

    language: Language

    def __call__(self, key: str, **values: object) -> str:
        """Return a text of the catalogue."""
        return text(key, self.language, **values)

    def named(self, topic: str, name: str, otherwise: str | None = None) -> str:
        """Return the word for a name of a topic ("part", "material", ...)."""
        key = f"common.{topic}.{name.lower().replace(' ', '_')}"
        return text(key, self.language) if key in catalogue(self.language) else otherwise or name

    def listed(self, items: Sequence[str]) -> str:
        """Return items as one phrase: a, b and c."""
        if len(items) < 2:
            return "".join(items)
        return self("sheets.wear.and", first=", ".join(items[:-1]), last=items[-1])


@dataclass(frozen=True)
class JointGroup:
    """What is the same in several fingers of a hand.

    joint : in one of them
    fingers : whose joint it is; empty where the limb has one ray, or where it is so in all four fingers
    """

    joint: JointId
    fingers: tuple[RayName, ...]
    arc: FreeArc | None = None
    stop: Stop | None = None

    def name(self, words: Words, *, plain: bool = False) -> str:
        """Return the joint, with its fingers; plain for the wearer."""
        joint = (
            words(f"sheets.wear.joint.{self.joint.word}") if plain else words.named("joint", self.joint.word)
        )
        if not self.fingers:
            return joint
        fingers = words.listed([words.named("finger", finger) for finger in self.fingers])
        return words("sheets.wear.of_finger", joint=joint, finger=fingers)


def free_joints(orthosis: Orthosis) -> list[JointGroup]:
    """Return the free arcs, those that are the same in several fingers as one."""
    groups: dict[tuple[str, float, float], list[FreeArc]] = {}
    for arc in orthosis.freed:
        groups.setdefault((arc.joint.joint, arc.from_deg, arc.to_deg), []).append(arc)
    return [JointGroup(found[0].joint, _rays(orthosis, found), arc=found[0]) for found in groups.values()]


def stopped_joints(orthosis: Orthosis) -> list[JointGroup]:
    """Return the stops, those that are the same in several fingers as one."""
    groups: dict[tuple[str, str, float], list[Stop]] = {}
    for stop in orthosis.stops:
        groups.setdefault((stop.joint.joint, stop.blocked, stop.at_deg), []).append(stop)
    return [JointGroup(found[0].joint, _rays(orthosis, found), stop=found[0]) for found in groups.values()]


def held_joints(orthosis: Orthosis) -> list[tuple[JointId, float]]:
    """Return the joints that are held, each with its angle in degrees.

    A wrist that does not deviate is left out.
    """
    return [
        (joint, angle)
        for joint, angle in orthosis.held.items()
        if joint.joint != "deviation" or abs(angle) > NO_ANGLE_DEG
    ]


def _rays(orthosis: Orthosis, found: Sequence[FreeArc | Stop]) -> tuple[RayName, ...]:
    """Whose joints they are; nobody's where that needs no saying."""
    rays = tuple(each.joint.ray for each in found)
    return () if len(orthosis.limb.by_ray) == 1 or len(rays) == len(FINGERS) else rays
