"""Lines carved into a skin: the course of a tendon or of the bones.

A tendon has a bar at each border and a numeral in each zone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.limb.finger import FingerLimb
from print3d.limb.hand import HandLimb

Stroke = list[tuple[float, float]]

RING_MM = 2.6
"""Radius of the ring around a joint's centre; own choice."""
NUMERAL_MM = 5.0
"""Height of a numeral on a finger; own choice."""
NUMERAL_BESIDE_MM = 4.6
"""It stands this far beside the tendon; own choice."""
PALM_NUMERAL_MM = 8.0
"""Height of a numeral in palm and forearm; own choice."""
TUNNEL_ENDS = 0.17
"""Far edge of the carpal tunnel over hand length; from memory."""
PALM_ENDS = 0.40
"""Distal palmar crease over hand length; from memory."""
GROOVE_MM = 0.8
"""Depth of a teaching line; own choice."""
GROOVE_HALF_MM = 0.9
"""Half-breadth of a teaching line: two passes of a 0.4 mm nozzle fit between its sides."""
NUMERALS: Mapping[str, Sequence[Sequence[tuple[float, float]]]] = {
    "I": [((0, 0), (0, 1))],
    "II": [((-0.22, 0), (-0.22, 1)), ((0.22, 0), (0.22, 1))],
    "III": [((-0.42, 0), (-0.42, 1)), ((0, 0), (0, 1)), ((0.42, 0), (0.42, 1))],
    "IV": [((-0.5, 0), (-0.5, 1)), ((-0.05, 1), (0.25, 0)), ((0.25, 0), (0.55, 1))],
    "V": [((-0.3, 1), (0, 0)), ((0, 0), (0.3, 1))],
}
"""Strokes of the zones' Roman numerals in a box of height 1, x to the reader's right, fingertip up."""


@dataclass(frozen=True, eq=False)
class Mark:
    """Strokes in a plane of (station, around) mm.

    strokes : (n, 2, 2) ends of each
    centre_rad : angle around the section from which `around` counts: 0 dorsal, pi/2 radial, pi volar
    """

    strokes: Floats
    centre_rad: float = 0.0
    half_breadth_mm: float = GROOVE_HALF_MM
    depth_mm: float = GROOVE_MM

    def depth(self, station: Floats, around: Floats) -> Floats:
        """Return how deep (n,) the skin is carved at points of the plane."""
        near = np.full(len(station), np.inf)
        for start, stop in self.strokes:
            near = np.minimum(near, _to_segment(station, around, start, stop))
        return self.depth_mm * np.clip((self.half_breadth_mm - near) / 0.35 + 0.5, 0.0, 1.0)


def tendon_on_finger(limb: FingerLimb, *, is_mirrored: bool) -> Mark:
    """Return the flexor tendon along the palm side, with zones II and I.

    Zone II ends at the insertion of the superficial flexor. Zones after the international classification; the border lies at the middle of the middle phalanx (from memory).
    """
    marks = limb.landmarks
    start, border = marks["web"] - 6.0, marks["mid_middle"]
    last = marks["dip"] + 0.25 * limb.distal_mm
    strokes: list[Stroke] = [
        [(start, 0.0), (last, 0.0)],
        [(border, -3.0), (border, 3.0)],
        [(last, -1.8), (last, 1.8)],
    ]
    sign = 1.0 if is_mirrored else -1.0
    strokes += _numeral("II", (marks["mid_proximal"] + 1.0, sign * NUMERAL_BESIDE_MM), sign)
    strokes += _numeral("I", ((border + marks["dip"]) / 2.0 + 4.0, sign * NUMERAL_BESIDE_MM), sign)
    return Mark(np.array(strokes), centre_rad=np.pi)


def skeleton_on_finger(limb: FingerLimb) -> Mark:
    """Return the bones along the radial side: a line, and a ring around each joint centre."""
    marks = limb.landmarks
    joints, ends = [marks["pip"], marks["dip"]], [marks["web"] - 8.0, marks["tip"] - 0.3 * limb.distal_mm]
    strokes: list[Stroke] = []
    for start, stop in zip([ends[0], *joints], [*joints, ends[1]], strict=True):
        first = start + (RING_MM if start in joints else 0.0)
        strokes.append([(first, 0.0), (stop - (RING_MM if stop in joints else 0.0), 0.0)])
    turn = np.linspace(0.0, 2.0 * np.pi, 17)
    for joint in joints:
        ring = np.column_stack([joint + RING_MM * np.cos(turn), RING_MM * np.sin(turn)])
        strokes += [[tuple(a), tuple(b)] for a, b in zip(ring[:-1], ring[1:], strict=True)]
    return Mark(np.array(strokes), centre_rad=np.pi / 2.0)


def tendon_in_palm(hand: HandLimb, finger: FingerName, forearm_mm: float, *, is_mirrored: bool) -> Mark:
    """Return the flexor tendon from forearm to finger with zones V, IV and III.

    Strokes are given in (distal, radial) mm of the hand frame.
    Borders, from memory: the wrist crease, the far edge of the carpal tunnel, and the distal palmar crease.
    """
    knuckle = hand.rays[finger].mcp_centre
    distal = np.array([0.0, TUNNEL_ENDS * hand.hand_length_mm, PALM_ENDS * hand.hand_length_mm])
    ends = [*distal.tolist(), float(knuckle[0]) + 8.0]
    course = [(-forearm_mm, 0.0), *((x, float(knuckle[1] / knuckle[0]) * x) for x in ends)]
    strokes: list[Stroke] = [[low, high] for low, high in zip(course[:-1], course[1:], strict=True)]
    strokes += [[(x, y - 3.5), (x, y + 3.5)] for x, y in course[1:4]]
    sign = -1.0 if is_mirrored else 1.0
    for name, low, high in zip(("V", "IV", "III"), course[:3], course[1:4], strict=True):
        at = (low[0] + high[0]) / 2.0 if name != "V" else max((low[0] + high[0]) / 2.0, -18.0)
        strokes += _numeral(name, (at - 2.0, (low[1] + high[1]) / 2.0 + sign * 7.5), sign, PALM_NUMERAL_MM)
    return Mark(np.array(strokes))


def _numeral(name: str, at: tuple[float, float], sign: float, height: float = NUMERAL_MM) -> list[Stroke]:
    """Strokes of a numeral whose foot is at (distal, around), its right side towards `sign`."""
    return [[(at[0] + height * y, at[1] + sign * height * x) for x, y in stroke] for stroke in NUMERALS[name]]


def _to_segment(x: Floats, y: Floats, start: Floats, stop: Floats) -> Floats:
    """Distance (n,) to a stroke."""
    way = stop - start
    share = np.clip(((x - start[0]) * way[0] + (y - start[1]) * way[1]) / max(way @ way, 1e-12), 0.0, 1.0)
    return np.hypot(x - start[0] - share * way[0], y - start[1] - share * way[1])
