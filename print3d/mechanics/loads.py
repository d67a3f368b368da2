"""What pulls at a joint that an orthosis holds, at rest and in effort.

At rest is all day; in effort, now and then, the finger works against the orthosis.

A tendon's tension times its distance from the joint is the moment that the orthosis must take. At rest muscles keep a little tension;
a stiff joint is pulled as hard as its therapist chose; a wrist carries the hand. Tensions and distances are own choices beside
the figures named here; a case overrules them by `orthosis.end_force_n` or `orthosis.joint_torque_nmm`.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from print3d.inputs.case import Case
from print3d.inputs.options import MOST_PULL_G
from print3d.kinds.registry import KINDS
from print3d.language.message import Message, message
from print3d.limb.joint_id import JointId, JointName
from print3d.limb.limb import Limb
from print3d.mechanics.three_point import force_of_grams, hand_weight

Tends = Literal["flexion", "extension"]
LoadName = Literal["at_rest", "in_effort", "hanging_hand", "swung_hand"]

REST_N = 0.5
"""Tension of a long tendon at rest, see below."""
EFFORT_N = 8.5
"""Tension of a long tendon when a finger works against its orthosis: the largest mean of flexors while fingers moved freely, 1.3 to 8.5 N
(Kursa et al. 2006, J Orthop Res 24:763, abstract). At rest half of the least that was measured while a wrist was moved for the patient,
1 to 6 N (Schuind et al. 1992, J Hand Surg Am 17:291, abstract), as flexors move a finger from rest without force (Nikanjam et al. 2007,
Hum Mov Sci 26:1, abstract)."""
MOST_EFFORT_N = 35.0
"""Largest tension of a flexor in unresisted motion (Schuind et al. 1992, abstract: 3.5 kgf): what it would do to the orthosis is watched."""
TENDONS_MM: Mapping[tuple[JointName, Tends], tuple[float, ...]] = {
    ("dip", "flexion"): (5.0,),
    ("pip", "flexion"): (8.0, 7.0),
    ("mcp", "flexion"): (10.0, 11.0),
    ("dip", "extension"): (3.0,),
    ("pip", "extension"): (5.0,),
    ("mcp", "extension"): (9.0,),
}
"""Distance of each long tendon from a joint (deep and superficial flexor; extensor), of a finger as deep as below; from memory."""
USUAL_DEPTH_MM: Mapping[JointName, float] = {"dip": 15.5, "pip": 19.0, "mcp": 19.0}
"""Depth of that finger at the joint (at the MCP: at the PIP): a man's middle finger (Bodyspace, from memory). Distances grow with it, muscles with its square."""
TORQUE_KEY = "orthosis.joint_torque_nmm"
ASKED_TORQUE = message("sources.option", option=TORQUE_KEY)
TENSION: Mapping[LoadName, Message] = {
    "at_rest": message("sources.load.at_rest"),
    "in_effort": message("sources.load.in_effort"),
}
"""Where the tension of tendons comes from."""
WRIST = JointId("wrist", "flexion")
SWUNG = 2.0
"""An arm that is swung loads the wrist this many times as the hanging hand; own choice."""


@dataclass(frozen=True)
class Pull:
    """What a case says about its load.

    end_force_n : at the far end of what is held (of each finger, where there are several), or None
    moment_n_mm : about the joint, or None
    is_stiff : whether the PIP was measured short of straight
    wear_hours : planned, a day
    wear_source : who planned it
    hours_at_once : how long the skin is pressed in one piece
    """

    end_force_n: float | None = None
    moment_n_mm: float | None = None
    is_stiff: bool = False
    wear_hours: float = 24.0
    wear_source: Message = message("sources.wear.unknown")
    hours_at_once: float = 24.0

    @property
    def chosen_end_n(self) -> float | None:
        """Force at the far end that somebody chose; None where muscles make it.

        The therapist chose it, or this program for a stiff PIP.
        """
        if self.end_force_n is None and self.moment_n_mm is None and self.is_stiff:
            return force_of_grams(MOST_PULL_G)
        return self.end_force_n


@dataclass(frozen=True)
class Load:
    """One load on a joint: a moment, or a force at the end that makes it.

    what : its id
    source : where its size comes from
    """

    what: LoadName
    source: Message
    moment_n_mm: float | None = None
    end_force_n: float | None = None

    @property
    def name(self) -> Message:
        """What it is called."""
        return message(f"common.load.{self.what}")


def pull_of_case(case: Case) -> Pull:
    """Return what a case says about its load."""
    options = case.orthosis
    deficit = case.measured.motion_deg(case.header.finger, "pip_passive_extension_deficit_deg")
    is_stiff = deficit is not None and deficit > 0.0
    usual = KINDS[options.kind].wear(case)
    asked = options.wear_hours_per_day
    hours = usual.hours_per_day if asked is None else asked
    return Pull(
        options.end_force_n,
        options.joint_torque_nmm,
        is_stiff,
        hours,
        usual.source if asked is None else message("sources.option", option="orthosis.wear_hours_per_day"),
        min(hours, options.wear_hours_at_once or hours),
    )


def spells_of(case: Case) -> Iterator[Message]:
    """Yield what to write down where a day's wear is broken up: skin bears the orthosis in such spells alone."""
    pull = pull_of_case(case)
    if pull.hours_at_once < pull.wear_hours:
        yield message("mechanics.spells", at_once=pull.hours_at_once, hours=pull.wear_hours)


def at_rest(pull: Pull, limb: Limb, joints: Sequence[JointId], tends: Tends) -> Load | None:
    """Return what rests on the orthosis all day at a joint, or at several side by side.

    None where nothing is known of it.
    """
    if joints[0] == WRIST:
        return _hanging(limb, 1.0, "hanging_hand")
    if pull.end_force_n is not None:
        source = message("sources.option", option="orthosis.end_force_n")
        return Load("at_rest", source, end_force_n=len(joints) * pull.end_force_n)
    if pull.moment_n_mm is not None:
        return Load("at_rest", ASKED_TORQUE, moment_n_mm=len(joints) * pull.moment_n_mm)
    if pull.is_stiff and joints[0].joint == "pip" and tends == "flexion":
        source = message("sources.load.stiff_pip", grams=MOST_PULL_G)
        return Load("at_rest", source, end_force_n=force_of_grams(MOST_PULL_G))
    return _tendons(limb, joints, tends, REST_N, "at_rest")


def in_effort(limb: Limb, joints: Sequence[JointId], tends: Tends) -> Load | None:
    """Return what the orthosis must stand now and then; None where nothing is known of it."""
    if joints[0] == WRIST:
        return _hanging(limb, SWUNG, "swung_hand")
    return _tendons(limb, joints, tends, EFFORT_N, "in_effort")


def strongest_times(load: Load) -> float:
    """Return how many times as hard as in effort tendons pulled at most; 1 where none pull."""
    is_of_tendons = load.what in TENSION
    return MOST_EFFORT_N / EFFORT_N if is_of_tendons else 1.0


def _hanging(limb: Limb, times: float, what: LoadName) -> Load | None:
    measures = limb.measures.hand
    if measures is None:
        return None
    length = measures.hand["hand_length_mm"].value
    _, moment = hand_weight(length)
    source = message("sources.load.hand_weight", times=times, length_mm=length)
    return Load(what, source, moment_n_mm=times * moment)


def _tendons(
    limb: Limb, joints: Sequence[JointId], tends: Tends, tension: float, what: LoadName
) -> Load | None:
    name = joints[0].joint
    arms = TENDONS_MM.get((name, tends))
    if arms is None:
        return None
    shares = [limb.joints[joint].depth_mm / USUAL_DEPTH_MM[name] for joint in joints]
    moment = tension * sum(arms) * sum(share**3 for share in shares)
    return Load(what, _tendons_source(what, tension, *arms), moment_n_mm=moment)


def _tendons_source(
    what: LoadName, tension_n: float, deep_mm: float, superficial_mm: float | None = None
) -> Message:
    tension = TENSION[what]
    if superficial_mm is None:
        return message("sources.load.tendon", tension_n=tension_n, tension=tension, arm_mm=deep_mm)
    return message(
        "sources.load.tendons",
        tension_n=tension_n,
        tension=tension,
        deep_mm=deep_mm,
        superficial_mm=superficial_mm,
    )
