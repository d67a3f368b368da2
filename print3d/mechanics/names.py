"""Names of what bears on a joint: bones, zones and straps, as ids and as messages."""

from collections.abc import Sequence
from dataclasses import dataclass

from print3d.language.message import Message, message

SEGMENTS = frozenset({"forearm", "hand", "proximal", "middle", "distal"})
"""Bones that are segments of a limb; others are several of them."""


@dataclass(frozen=True)
class ZoneName:
    """What a zone of skin is called.

    id : stays the same when numbers change ("proximal_volar", "strap_1")
    name : in words
    is_strap : whether a strap presses there, not the shell
    """

    id: str
    name: Message
    is_strap: bool = False


def bone_name(bone: str) -> Message:
    """Return the name of a bone, or of several that move as one, by its id ("proximal", "forearm_and_hand")."""
    return message(f"common.segment.{bone}" if bone in SEGMENTS else f"mechanics.bone.{bone}")


def sides_of(bones: Sequence[tuple[str, Message]]) -> tuple[ZoneName, ...]:
    """Return the zones of the shell on the volar and the dorsal side of each bone."""
    return tuple(
        ZoneName(f"{bone}_{side}", message(f"mechanics.side.{side}", bone=name))
        for bone, name in bones
        for side in ("volar", "dorsal")
    )


def straps_apart(straps: Sequence[Message], away_mm: Sequence[float]) -> tuple[ZoneName, ...]:
    """Return the zones of straps; two of one name say how far from the joint they lie."""
    return tuple(
        ZoneName(
            f"strap_{number}",
            name if straps.count(name) == 1 else message("mechanics.strap.away", strap=name, away_mm=away),
            is_strap=True,
        )
        for number, (name, away) in enumerate(zip(straps, away_mm, strict=True), start=1)
    )
