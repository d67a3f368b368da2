"""The words of one case in its language: what it is called, its parts, what it is made of, what it holds."""

from collections.abc import Sequence
from dataclasses import dataclass

from print3d.forms.orthosis import FreeArc, Orthosis, Stop
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS, FingerName
from print3d.kinds.dorsal_blocking.kind import KIND, shell_form
from print3d.language.catalogue import Language, catalogue, text
from print3d.language.phrases import Topic, phrase
from print3d.limb.hand import HandLimb


@dataclass(frozen=True)
class Words:
    """Names in one language; a name that the catalogue does not know, such as a clinic's own material, stays as it is."""

    language: Language

    def __call__(self, key: str, **values: object) -> str:
        """Return a text of the catalogue."""
        return text(key, self.language, **values)

    def named(self, topic: str, name: str, otherwise: str | None = None) -> str:
        """Return the word for a name of a topic ("part", "material", ...)."""
        key = f"common.{topic}.{name.lower().replace(' ', '_')}"
        return text(key, self.language) if key in catalogue(self.language) else otherwise or name

    def said(self, sentence: str, topic: Topic) -> str:
        """Return a sentence that an estimate or a remark made in English."""
        return phrase(sentence, topic, self.language)

    def listed(self, items: Sequence[str]) -> str:
        """Return items as one phrase: a, b and c."""
        if len(items) < 2:
            return "".join(items)
        return self("sheets.wear.and", first=", ".join(items[:-1]), last=items[-1])


@dataclass(frozen=True)
class JointGroup:
    """What is the same in several fingers of a hand.

    fingers : whose joint it is; empty where the limb has one finger, or where it is so in all four
    """

    joint: str
    fingers: tuple[FingerName, ...]
    arc: FreeArc | None = None
    stop: Stop | None = None

    def name(self, words: Words, *, plain: bool = False) -> str:
        """Return the joint, with its fingers; plain for the wearer."""
        joint = words(f"sheets.wear.joint.{self.joint}") if plain else words.named("joint", self.joint)
        if not self.fingers:
            return joint
        fingers = words.listed([words.named("finger", finger) for finger in self.fingers])
        return words("sheets.wear.of_finger", joint=joint, finger=fingers)


def free_joints(orthosis: Orthosis) -> list[JointGroup]:
    """Return the free arcs, those that are the same in several fingers as one."""
    groups: dict[tuple[str, float, float], list[FreeArc]] = {}
    for arc in orthosis.freed:
        groups.setdefault((arc.joint, arc.from_deg, arc.to_deg), []).append(arc)
    return [JointGroup(key[0], _fingers(found), arc=found[0]) for key, found in groups.items()]


def stopped_joints(orthosis: Orthosis) -> list[JointGroup]:
    """Return the stops, those that are the same in several fingers as one."""
    groups: dict[tuple[str, str, float], list[Stop]] = {}
    for stop in orthosis.stops:
        groups.setdefault((stop.joint, stop.blocked, stop.at_deg), []).append(stop)
    return [JointGroup(key[0], _fingers(found), stop=found[0]) for key, found in groups.items()]


def held_joints(orthosis: Orthosis, case: Case) -> list[tuple[str, float]]:
    """Return the joints that are held, each with its flexion in degrees: those of the finger, and the wrist of a forearm shell."""
    held: list[tuple[str, float]] = list(orthosis.held.items())
    if isinstance(orthosis.limb, HandLimb) and shell_form(case, KIND.own(case)) == "forearm":
        held.insert(0, ("wrist", orthosis.limb.wrist_flexion_deg))
    return held


def _fingers(found: Sequence[FreeArc | Stop]) -> tuple[FingerName, ...]:
    names = tuple(each.finger for each in found if each.finger is not None)
    return () if len(names) == len(FINGERS) else names
