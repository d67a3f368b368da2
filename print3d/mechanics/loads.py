"""What pulls at a joint that an orthosis holds, at rest and in effort.

At rest is all day; in effort, now and then, the finger works against the orthosis.

A tendon's tension times its distance from the joint is the moment that the orthosis must take. At rest muscles keep a little tension;
a stiff joint is pulled as hard as its therapist chose; a wrist carries the hand. Tensions and distances are own choices beside
the figures named here; a case overrules them by `orthosis.end_force_n` or `orthosis.joint_torque_nmm`.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from print3d.inputs.case import Case
from print3d.inputs.measured import FingerName
from print3d.limb.finger import FingerJoint, FingerLimb
from print3d.limb.four_fingers import FourFingers
from print3d.limb.hand import HandLimb
from print3d.mechanics.three_point import force_of_grams, hand_weight

Tends = Literal["flexion", "extension"]

REST_N = 0.5
"""Tension of a long tendon at rest: half of the least that was measured, see below."""
EFFORT_N = 5.0
"""Tension of a long tendon when a finger works gently against its orthosis. Own choice between measured figures: flexors
moved a finger from rest without force (Nikanjam et al. 2007, Hum Mov Sci 26:1, abstract) and bore 1 to 6 N while a wrist was moved for the
patient (Schuind et al. 1992, J Hand Surg Am 17:291, abstract): at rest half of the least. While fingers moved freely they bore 1.3 to
8.5 N on average (Kursa et al. 2006, J Orthop Res 24:763, abstract) and up to 35 N (Schuind)."""
TENDONS_MM: dict[tuple[FingerJoint, Tends], tuple[float, ...]] = {
    ("dip", "flexion"): (5.0,),
    ("pip", "flexion"): (8.0, 7.0),
    ("mcp", "flexion"): (10.0, 11.0),
    ("dip", "extension"): (3.0,),
    ("pip", "extension"): (5.0,),
    ("mcp", "extension"): (9.0,),
}
"""Distance of each long tendon from a joint (deep and superficial flexor; extensor), of a finger as deep as below; from memory."""
USUAL_DEPTH_MM: dict[FingerJoint, float] = {"dip": 15.5, "pip": 19.0, "mcp": 19.0}
"""Depth of that finger at the joint (at the MCP: at the PIP): a man's middle finger (Bodyspace, from memory). Distances grow with it, muscles with its square."""
STIFF_G = 200.0
"""Pull on a PIP that lacks extension: the upper limit, above which skin suffers (Punsola-Izard et al. 2023, J Clin Med 12:2855)."""
STIFF_WEAR = (8.0, "8 to 12 h a day under such a force (Prosser 1996), so that skin rests in between")
"""Planned wear under that pull: the two belong together. 200 g day and night is what skin does not bear; who wants more hours names a
gentler force, and a finding says which one would hold."""
TORQUE_KEY = "orthosis.joint_torque_nmm"
SWUNG = 2.0
"""An arm that is swung loads the wrist this many times as the hanging hand; own choice."""
WEAR_HOURS = {
    "pip_extension": (24.0, "day and night for a closed boutonniere; common practice, no single source"),
    "mallet": (24.0, "day and night for 6 to 8 weeks (Brigham and Women's Hospital protocol, 2020)"),
    "mallet_with_pip_block": (24.0, "as for the mallet orthosis"),
    "figure_of_eight": (16.0, "by day, off at night; common practice, no single source"),
    "dorsal_blocking": (24.0, "day and night while a flexor heals; common practice, no single source"),
    "relative_motion": (24.0, "day and night while an extensor heals; common practice, no single source"),
}
DROPPED_WEAR = (8.0, "on and off by day: a PIP that drops pulls on its ring all the time; own choice")
"""Of a ring that stops flexion. One that stops extension is pulled at only when the finger straightens."""
UNKNOWN_WEAR = (24.0, "day and night unless said otherwise; own choice")


@dataclass(frozen=True)
class Pull:
    """What a case says about its load.

    end_force_n : at the far end of what is held (of each finger, where there are several), or None
    moment_n_mm : about the joint, or None
    is_stiff : whether the PIP was measured short of straight
    wear_hours : planned, a day
    wear_source : who planned it
    """

    end_force_n: float | None = None
    moment_n_mm: float | None = None
    is_stiff: bool = False
    wear_hours: float = 24.0
    wear_source: str = UNKNOWN_WEAR[1]

    @property
    def chosen_end_n(self) -> float | None:
        """Force at the far end that somebody chose; None where muscles make it.

        The therapist chose it, or this program for a stiff PIP.
        """
        if self.end_force_n is None and self.moment_n_mm is None and self.is_stiff:
            return force_of_grams(STIFF_G)
        return self.end_force_n


@dataclass(frozen=True)
class Load:
    """One load on a joint: a moment, or a force at the end that makes it.

    what : in words
    source : where its size comes from
    """

    what: str
    source: str
    moment_n_mm: float | None = None
    end_force_n: float | None = None


def pull_of_case(case: Case) -> Pull:
    """Return what a case says about its load."""
    options = case.orthosis
    deficit = case.measured.motion_deg(case.header.finger, "pip_passive_extension_deficit_deg")
    is_stiff = deficit is not None and deficit > 0.0
    stretches = is_stiff and options.kind == "pip_extension"
    usual, source = STIFF_WEAR if stretches else WEAR_HOURS.get(options.kind, UNKNOWN_WEAR)
    if getattr(options, "blocks", None) == "flexion":
        usual, source = DROPPED_WEAR
    asked = options.wear_hours_per_day
    return Pull(
        options.end_force_n,
        options.joint_torque_nmm,
        is_stiff,
        usual if asked is None else asked,
        source if asked is None else "orthosis.wear_hours_per_day",
    )


def at_rest(pull: Pull, limb: FingerLimb | FourFingers | HandLimb, joint: str, tends: Tends) -> Load:
    """Return what rests on the orthosis all day."""
    if joint == "wrist":
        return _hanging(limb, 1.0, "with hanging hand")
    n_fingers = len(_fingers(limb, joint))
    if pull.end_force_n is not None:
        return Load("at rest", "orthosis.end_force_n", end_force_n=n_fingers * pull.end_force_n)
    if pull.moment_n_mm is not None:
        return Load("at rest", TORQUE_KEY, moment_n_mm=n_fingers * pull.moment_n_mm)
    if pull.is_stiff and joint == "PIP" and tends == "flexion":
        source = (
            f"{STIFF_G:g} g, the upper limit for a stiff PIP (Punsola-Izard et al. 2023, J Clin Med 12:2855)"
        )
        return Load("at rest", source, end_force_n=force_of_grams(STIFF_G))
    return _tendons(limb, joint, tends, REST_N, "at rest")


def in_effort(limb: FingerLimb | FourFingers | HandLimb, joint: str, tends: Tends) -> Load:
    """Return what the orthosis must stand now and then."""
    if joint == "wrist":
        return _hanging(limb, SWUNG, "with swung hand")
    return _tendons(limb, joint, tends, EFFORT_N, "in effort")


def _hanging(limb: FingerLimb | FourFingers | HandLimb, times: float, what: str) -> Load:
    length = limb.hand_length_mm if isinstance(limb, HandLimb) else 190.0
    _, moment = hand_weight(length)
    return Load(
        what,
        f"{times:g} x weight of a hand {length:.0f} mm long (de Leva 1996, from memory)",
        moment_n_mm=times * moment,
    )


def _tendons(
    limb: FingerLimb | FourFingers | HandLimb, joint: str, tends: Tends, tension: float, what: str
) -> Load:
    name = _joint_of(joint)
    arms = TENDONS_MM[name, tends]
    moment = tension * sum(arms) * sum(_depth_share(finger, name) ** 3 for finger in _fingers(limb, joint))
    listed = " and ".join(f"{arm:g}" for arm in arms)
    source = f"{tension:g} N in each long tendon {listed} mm from the joint of a man's finger, less in a smaller one (own choice)"
    return Load(what, source, moment_n_mm=moment)


def _joint_of(words: str) -> FingerJoint:
    names: tuple[FingerJoint, ...] = ("mcp", "pip", "dip")
    for name in names:
        if words.lower().endswith(name):
            return name
    raise ValueError(f"{words!r} names no finger joint")


def _fingers(limb: FingerLimb | FourFingers | HandLimb, joint: str) -> list[FingerLimb]:
    """Every finger that pulls: all of a hand, the one that is named, or the only one."""
    if isinstance(limb, FingerLimb):
        return [limb]
    if isinstance(limb, HandLimb):
        return [ray.limb for ray in limb.rays.values()]
    named: FingerName = joint.split()[0]  # type: ignore[assignment]
    return [limb.rays[named].limb]


def _depth_share(finger: FingerLimb, joint: FingerJoint) -> float:
    """How deep a finger is at the joint against the usual one."""
    at_joint = finger.landmarks["dip" if joint == "dip" else "pip"]
    _, half_depth = finger.half_axes(np.array([at_joint]))
    return 2.0 * float(half_depth[0]) / USUAL_DEPTH_MM[joint]
