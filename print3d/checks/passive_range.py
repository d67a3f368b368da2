"""How far each joint goes by hand, and what is found of an angle that it is kept at."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from print3d.checks.finding import Finding, Limit, Place, about
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS
from print3d.inputs.rules import MEASURING_ERROR_DEG, PAST_PASSIVE
from print3d.language.message import Values, message
from print3d.limb.joint_id import JointId, JointName

End = Literal["least", "most"]
ENDS: Mapping[tuple[JointName, End], tuple[str, float]] = {
    ("mcp", "most"): ("mcp_max_flexion_deg", 1.0),
    ("pip", "least"): ("pip_passive_extension_deficit_deg", 1.0),
    ("pip", "most"): ("pip_max_flexion_deg", 1.0),
    ("dip", "least"): ("dip_passive_hyperextension_deg", -1.0),
    ("dip", "most"): ("dip_max_flexion_deg", 1.0),
}
"""Measured angle at each end of a joint's passive range, and its sign as flexion."""
FITTED_DEG = 0.1
"""Error of a fitted angle: 0.07 at worst over all fingers, forms and angles tried. All that is added to a limit of the joint or its skin."""


@dataclass(frozen=True)
class KeptAngle:
    """What an orthosis keeps a joint at.

    key : of the finding
    flexion_deg : as measured on the finished mesh
    ends : of the passive range that it can force the joint past
    """

    key: str
    joint: JointId
    flexion_deg: float
    ends: tuple[End, ...]
    words: Values
    where: Place | None


@dataclass(frozen=True)
class PassiveRange:
    """Ends of the passive ranges as measured, in flexion; `is_lifted` if the prescriber allows to go past them."""

    ends: Mapping[tuple[JointId, End], Limit]
    is_lifted: bool = False

    def findings(self, angle: KeptAngle) -> Iterator[Finding]:
        """Yield whether an angle stays inside, by the nearer measured end, if one was measured."""
        known = [(end, self.ends[angle.joint, end]) for end in angle.ends if (angle.joint, end) in self.ends]
        if known:
            yield min((self._finding(angle, *each) for each in known), key=lambda each: each.margin)

    def _finding(self, angle: KeptAngle, end: End, limit: Limit) -> Finding:
        """An angle within the goniometer's error of the end is watched; past it, it fails unless that was allowed."""
        inwards = 1.0 if end == "least" else -1.0
        value, source = limit.value - inwards * FITTED_DEG, limit.source
        watch = limit.value + inwards * MEASURING_ERROR_DEG
        if self.is_lifted and inwards * (angle.flexion_deg - value) < 0.0:
            value, source = (
                angle.flexion_deg,
                message("sources.passive_lifted", limit=source, override=PAST_PASSIVE),
            )
        return Finding(
            angle.key,
            angle.flexion_deg,
            value,
            "deg",
            "at least" if end == "least" else "at most",
            source,
            about(joint=angle.joint, of="passive"),
            angle.words,
            watch=watch,
            where=angle.where,
        )


def passive_range(case: Case) -> PassiveRange:
    """Return what was measured of every finger."""
    ends = {}
    for finger in FINGERS:
        for (joint, end), (key, sign) in ENDS.items():
            angle = case.measured.motion_deg(finger, key)
            if angle is not None:
                source = message(
                    "sources.passive", key=f"measured.{finger}.{key}", error_deg=MEASURING_ERROR_DEG
                )
                ends[JointId(finger, joint), end] = Limit(sign * angle, source)
    return PassiveRange(ends, case.allows(PAST_PASSIVE))
