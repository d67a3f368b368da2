"""Joints by id: which ray, and which joint of it. Every table keyed by joints reads these.

    wrist     forearm | flexion, deviation | hand
    finger    hand | mcp | proximal | pip | middle | dip | distal
    thumb     hand | cmc | metacarpal | mp | proximal | ip | distal

A ray has as many joints as its row of `JOINTS_OF` says, from proximal to distal, and one segment beyond each.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import total_ordering
from typing import Literal, get_args

from print3d.inputs.measured import FINGERS
from print3d.language.message import Message, message

RayName = Literal["wrist", "thumb", "index", "middle", "ring", "little"]
JointName = Literal["flexion", "deviation", "cmc", "mcp", "mp", "pip", "ip", "dip"]
SegmentName = Literal["forearm", "hand", "metacarpal", "proximal", "middle", "distal"]

RAYS: tuple[RayName, ...] = get_args(RayName)
JOINTS_OF: Mapping[RayName, tuple[JointName, ...]] = {
    "wrist": ("flexion", "deviation"),
    "thumb": ("cmc", "mp", "ip"),
    **dict.fromkeys(FINGERS, ("mcp", "pip", "dip")),
}
"""The joints of each ray, proximal to distal."""
SEGMENTS_OF: Mapping[RayName, tuple[SegmentName, ...]] = {
    "wrist": ("forearm", "hand", "hand"),
    "thumb": ("hand", "metacarpal", "proximal", "distal"),
    **dict.fromkeys(FINGERS, ("hand", "proximal", "middle", "distal")),
}
"""The segments of each ray: the one it starts from, and the one beyond each joint. The wrist turns the hand about two axes."""

RANGE_DEG: Mapping[JointName, tuple[float, float]] = {
    "flexion": (-70.0, 75.0),
    "deviation": (-20.0, 35.0),
    "cmc": (-20.0, 15.0),
    "mcp": (-45.0, 90.0),
    "mp": (-10.0, 55.0),
    "pip": (0.0, 100.0),
    "ip": (-15.0, 80.0),
    "dip": (0.0, 80.0),
}
"""Normal active motion, least and most angle; flexion and ulnar deviation positive (flexion of MCP, PIP and DIP: Eaton, Electronic
Textbook of Hand Surgery, normal range table; the rest from memory)."""


@total_ordering
@dataclass(frozen=True)
class JointId:
    """One joint; in order of the rays from wrist to little finger, and of the joints from proximal to distal.

    Raises ValueError if the ray has no such joint.
    """

    ray: RayName
    joint: JointName

    def __post_init__(self) -> None:
        if self.joint not in JOINTS_OF.get(self.ray, ()):
            raise _no_joint(f"{self.ray}.{self.joint}")

    def __str__(self) -> str:
        return f"{self.ray}.{self.joint}"

    def __lt__(self, other: "JointId") -> bool:
        return self._place < other._place

    @property
    def _place(self) -> tuple[int, int]:
        return RAYS.index(self.ray), JOINTS_OF[self.ray].index(self.joint)

    @property
    def distal(self) -> SegmentName:
        """The segment beyond the joint."""
        return SEGMENTS_OF[self.ray][self._place[1] + 1]

    @property
    def proximal(self) -> SegmentName:
        """The segment on the near side of the joint."""
        return SEGMENTS_OF[self.ray][0 if self.ray == "wrist" else self._place[1]]

    @property
    def alone(self) -> Message:
        """Name of the joint where its ray needs no saying: "PIP", "wrist"."""
        return message(f"common.joint.{self.word}")

    @property
    def word(self) -> str:
        """Key of its name in tables of words: the wrist's two axes say whose they are."""
        return f"wrist_{self.joint}" if self.ray == "wrist" else self.joint

    @property
    def message(self) -> Message:
        """Name of the joint with its ray: "middle PIP", "thumb IP", "wrist"."""
        if self.ray == "wrist":
            return self.alone
        return message("common.joint_of_ray", ray=message(f"common.ray.{self.ray}"), joint=self.alone)

    def among(self, rays: int) -> Message:
        """Return the joint's name on a limb with this number of rays: alone on the only one."""
        return self.alone if rays == 1 else self.message


ALL_JOINTS = tuple(JointId(ray, joint) for ray in RAYS for joint in JOINTS_OF[ray])


def parse_joint(words: str) -> JointId:
    """Return the joint of an id such as "middle.pip". Raises ValueError if there is none."""
    for each in ALL_JOINTS:
        if str(each) == words:
            return each
    raise _no_joint(words)


def joints_of(ray: RayName) -> tuple[JointId, ...]:
    """Return the joints of one ray, proximal to distal."""
    return tuple(JointId(ray, joint) for joint in JOINTS_OF[ray])


def _no_joint(words: str) -> ValueError:
    known = ", ".join(f"{ray}.{joint}" for ray, joints in JOINTS_OF.items() for joint in joints)
    return ValueError(f"{words!r} is no joint; there are {known}")
