"""What each pose is: joint angles, the name on the stand, and the orthosis that answers it.

The angles hold where a case names none. The direction of each deformity is its definition; the angles are typical ones, from memory.
"""

from dataclasses import dataclass

from print3d.inputs.measured import FINGERS, FingerName
from print3d.inputs.model_case import ModelOptions, PoseName
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandPose


@dataclass(frozen=True)
class Pose:
    """A pose.

    label : letters on the stand where the case asks for none
    angles_deg : of MCP, PIP and DIP, flexion positive
    is_of_hand : whether all four fingers take it
    are_fingers_together : whether fingers lie side by side even where a model would fan them
    """

    label: str
    angles_deg: tuple[float, float, float]
    is_of_hand: bool = False
    are_fingers_together: bool = False


POSES: dict[PoseName, Pose] = {
    "neutral": Pose("Neutral", (8.0, 12.0, 6.0), is_of_hand=True),
    "mallet": Pose("Mallet finger", (0.0, -5.0, 30.0)),
    "swan_neck": Pose("Swan neck", (15.0, -25.0, 35.0)),
    "boutonniere": Pose("Boutonniere", (-5.0, 45.0, -15.0)),
    "flexor_repair": Pose("Flexor repair", (50.0, 0.0, 0.0), is_of_hand=True, are_fingers_together=True),
}
"""Mallet DIP 30 (15 to 60); swan neck PIP -25 (-10 to -50), DIP 35 (20 to 60), MCP 15 (0 to 30); boutonniere PIP 45 (20 to 80), DIP -15
(0 to -30), MCP -5 (-15 to 0): typical, from memory. Dorsal block: MCP 50 (30 to 70), IP 0 (ranges of published regimens). Neutral: from
memory."""

REST_DEG = (10.0, 15.0, 8.0)
"""The other fingers of a hand in which one is deformed; from memory."""
FAN_DEG: dict[FingerName, float] = {"index": 7.0, "middle": 1.0, "ring": -5.0, "little": -12.0}
"""Spread of the fingers of a hand at rest, so that they are printed apart; own choice."""


def finger_pose(options: ModelOptions) -> FingerPose:
    """Return the angles of the case's finger: those given, else the pose's own."""
    own = dict(zip(("mcp", "pip", "dip"), POSES[options.pose].angles_deg, strict=True))
    return FingerPose(
        **{f"{joint}_flexion_deg": _angle(options, joint, angle) for joint, angle in own.items()}
    )


def hand_pose(options: ModelOptions, finger: FingerName) -> HandPose:
    """Return the angles of a hand: all fingers take a hand's pose, one alone takes a finger's."""
    posed, rest = finger_pose(options), FingerPose(*REST_DEG)
    everybody = POSES[options.pose].is_of_hand
    wrist = _angle(options, "wrist", 0.0)
    return HandPose(wrist, {name: posed if everybody or name == finger else rest for name in FINGERS})


def _angle(options: ModelOptions, joint: str, own: float) -> float:
    back = "extension" if joint == "wrist" else "hyperextension"
    bent: float | None = getattr(options, f"{joint}_flexion_deg")
    beyond: float | None = getattr(options, f"{joint}_{back}_deg")
    if bent is not None:
        return bent
    return own if beyond is None else -beyond
