"""Where a yoke band runs: how obliquely it crosses each finger, and its edges.

The webs lie on an oblique line, and so does the band; on every finger its edges lie between web and PIP.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from scipy.interpolate import PchipInterpolator

from print3d.errors import ShapingError
from print3d.forms.yoke_band import FingerCrossing, YokeBand
from print3d.geometry.frames import apply
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.inputs.problems import Problem
from print3d.language.message import message
from print3d.limb.finger import FingerLimb
from print3d.limb.four_fingers import FourFingers
from print3d.shell.curves import rounded

LEAST_WIDTH_MM = 3.5
"""As narrow as a slender finger ring; narrower cuts in. Own choice."""
SLOPE_SHARES = (1.0, 0.8, 0.6, 0.4, 0.2, 0.0)
"""Shares of the natural slope that are tried: the full one is the smoothest, a lesser one may leave a wider band."""
NARROWER_MM = 0.5
"""A smoother band may be this much narrower."""
SIDE_TURN = 0.2
"""About where a band meets and leaves a finger."""
ACROSS_TURN = 0.16
"""A link lies across a finger up to this turn; own choice."""
LINK_SHARE = 0.45
"""It does so up to nearly half of its length; own choice."""
LEAST_STEP_MM = 0.3
"""Edges are set at no two places nearer than this; own choice."""
WIDEST_TURN = 0.25
"""A finger is widest a quarter of its girth from the middle of its back."""
DEEPER_MM = 0.5
"""A link runs a little deeper than the band on the finger beside it, and the PIP is wider: this much more is left free; own choice."""
BESIDE_WEB_MM = 0.8
"""At a finger's side the band is nearer to the web itself; it stays this much farther away. Own choice."""
END_ROUNDING_MM = 4.0
"""Rounding of the band's ends, or half of its width where it is narrower; own choice."""
CORNER_MM = 1.6
"""Rounding of all other corners of the outline; own choice."""
SHIFT_MM = 4.0
"""The band's middle keeps this near to the middle of the room on every finger."""
SAMPLES = 360
"""Points of either edge, about half a millimetre apart; own choice."""


@dataclass(frozen=True)
class BandLimits:
    """Where the band may lie on one finger.

    low_mm : station of its proximal edge at the earliest, on the finger's middle line
    high_dorsal_mm, high_crease_mm : stations of its distal edge at the latest anywhere, and on the palm side because of the crease
    pip_flexion_deg : how far the PIP must be free to flex
    outside_mm : how far the band's outer face lies outside the skin
    compression_mm : how far the skin yields to a flexed finger
    """

    limb: FingerLimb
    is_over: bool
    low_mm: float
    high_dorsal_mm: float
    high_crease_mm: float
    pip_flexion_deg: float
    outside_mm: float
    compression_mm: float
    asked_width_mm: float

    @cached_property
    def high_mm(self) -> float:
        """The latest station of the distal edge on the finger's middle line."""
        return float(self.highest(np.array([0.0 if self.is_over else 0.5]))[0])

    @property
    def middle_mm(self) -> float:
        """Station of the band's middle."""
        return (self.low_mm + self.high_mm) / 2

    def highest(self, fraction: Floats) -> Floats:
        """Return the latest stations (n,) of the distal edge at girth fractions.

        On the palm side the middle phalanx comes to meet the edge with skin that lies as far below its axis as the skin
        under the edge: (depth - outside cos t) / sin t from the PIP, for a flexion t of 90 degrees or more (plane geometry).
        """
        pip = np.full(len(fraction), self.limb.landmarks["pip"])
        depth = -self.limb.skin_points(pip, np.mod(fraction, 1.0))[:, 2]
        turn = np.radians(max(self.pip_flexion_deg, 90.0))
        reach = (
            (depth - (depth + self.outside_mm) * np.cos(turn)) / np.sin(turn)
            - self.compression_mm
            + DEEPER_MM
        )
        palm = np.minimum(self.high_crease_mm, pip - reach)
        return np.minimum(self.high_dorsal_mm, np.where(depth > 0.0, palm, np.inf))


def best_slopes(
    hand: FourFingers, crossings: Sequence[FingerCrossing], limits: Sequence[BandLimits]
) -> list[FingerCrossing]:
    """Return the passes with the slope at which the band crosses each finger.

    passes : ulnar to radial, level
    """
    natural = _natural_slopes(crossings)
    tried = []
    for share in SLOPE_SHARES:
        sloped = [
            replace(each, slope=share * float(slope)) for each, slope in zip(crossings, natural, strict=True)
        ]
        turns = np.array([-SIDE_TURN, 0.0, SIDE_TURN])
        widths = [
            np.subtract(*edge_limits(hand, each, own, turns)[::-1]).clip(max=own.asked_width_mm)
            for each, own in zip(sloped, limits, strict=True)
        ]
        tried.append((float(np.min(widths)), sloped))
    widest = max(width for width, _ in tried)
    return next(sloped for width, sloped in tried if width >= widest - NARROWER_MM)


def _natural_slopes(crossings: Sequence[FingerCrossing]) -> Floats:
    """Distal over radial (n,) of the way to the fingers on either side, in each finger's own frame."""
    places = []
    for each in crossings:
        fraction = np.array([0.0 if each.is_over else 0.5])
        skin = each.ray.limb.skin_points(np.array([each.station_mm]), fraction)
        places.append(apply(each.ray.hand_from_finger(), skin)[0])
    slopes = []
    for number, each in enumerate(crossings):
        axes = each.ray.hand_from_finger()[:3, :2]
        ways = [
            places[other] - places[number] for other in (number - 1, number + 1) if 0 <= other < len(places)
        ]
        slopes.append(float(np.mean([(way @ axes[:, 0]) / (way @ axes[:, 1]) for way in ways])))
    return np.array(slopes)


def edge_limits(
    hand: FourFingers, each: FingerCrossing, limits: BandLimits, turns: Floats
) -> tuple[Floats, Floats]:
    """Return the least and the largest `along` (n,) of the band at turns (n,) on one finger."""
    lateral = each.lateral_mm(turns)
    radial, ulnar = hand.web_slopes(each.ray.limb.finger)
    web = np.where(lateral > 0.0, radial, ulnar) * lateral
    high = limits.highest(each.fraction(turns))
    shift = each.station_mm + each.slope * lateral
    beside_web = BESIDE_WEB_MM * (np.abs(turns) >= SIDE_TURN)
    return limits.low_mm + web + beside_web - shift, high - shift


def band_outline(
    hand: FourFingers, band: YokeBand, crossings: Sequence[FingerCrossing], limits: Sequence[BandLimits]
) -> shapely.Polygon:
    """Return the band's outline in the pattern plane (along, around), its ends round.

    Raises ShapingError where a finger leaves too little room.
    """
    around, low, high = [], [], []
    for number, (each, own) in enumerate(zip(crossings, limits, strict=True)):
        turns, places = _nodes(band, number, each.girth_mm())
        lowest, highest = _evened(turns, *edge_limits(hand, each, own, turns))
        refuse_narrow(each.ray.limb.finger, own.asked_width_mm, float((highest - lowest).min()))
        half = np.minimum(highest - lowest, own.asked_width_mm) / 2
        middle = np.clip(np.clip(0.0, lowest + half, highest - half), -SHIFT_MM, SHIFT_MM)
        around.append(places)
        low.append(middle - half)
        high.append(middle + half)
    at = band.length_mm * (1.0 - np.cos(np.linspace(0.0, np.pi, SAMPLES))) / 2
    edges = [PchipInterpolator(np.concatenate(around), np.concatenate(edge))(at) for edge in (low, high)]
    middle, half = (edges[0] + edges[1]) / 2, (edges[1] - edges[0]) / 2
    half *= _end_share(at, band.length_mm, min(END_ROUNDING_MM, float(half[[0, -1]].min())))
    ring = np.vstack([np.column_stack([middle + half, at]), np.column_stack([middle - half, at])[-2:0:-1]])
    return rounded(shapely.Polygon(ring), min(CORNER_MM, 0.45 * float(2 * np.median(half))))


def _nodes(band: YokeBand, number: int, girth: float) -> tuple[Floats, Floats]:
    """Turns on one finger at which the edges are set, and their places around, (n,) each.

    Where the band comes to the finger and goes, in between, beside the end on an outer finger, and on a link as far as it lies
    across the finger.
    """
    (start, stop), (first, last) = band.arcs_mm[number], band.turns[number]
    turns, places = [first, (first + last) / 2, last], [start, (start + stop) / 2, stop]
    for end, sign, here in ((first, -1.0, start), (last, 1.0, stop)):
        beside = number + int(sign)
        if 0 <= beside < len(band.arcs_mm):
            there = band.arcs_mm[beside, 0 if sign > 0 else 1]
            beyond = min((ACROSS_TURN - sign * end) * girth, LINK_SHARE * abs(there - here))
        else:
            beyond = -abs(abs(end) - SIDE_TURN) * girth
        if abs(beyond) > LEAST_STEP_MM:
            turns.append(end + sign * beyond / girth)
            places.append(here + sign * beyond)
    order = np.argsort(places)
    return np.array(turns)[order], np.array(places)[order]


def _evened(turns: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """The limits (n,) with an outer finger's whole side as narrow as its narrowest place.

    The edges then run smoothly to the end.
    """
    low, high = low.copy(), high.copy()
    for side in (turns <= -SIDE_TURN, turns >= SIDE_TURN):
        if side.any():
            low[side], high[side] = low[side].max(), high[side].min()
    return low, high


def _end_share(at: Floats, length: float, rounding: float) -> Floats:
    """Share (n,) of the half-width: 1 in the middle, falling to 0 on a quarter circle at either end."""
    to_end = np.clip(np.minimum(at, length - at) / rounding, 0.0, 1.0)
    return np.sqrt(1.0 - (1.0 - to_end) ** 2)


def refuse_narrow(finger: FingerName, asked_mm: float, free_mm: float) -> None:
    """Raise ShapingError where a finger leaves no room for a band."""
    if free_mm >= LEAST_WIDTH_MM:
        return
    wanted = message(
        "refusals.shape.band_room",
        finger=message(f"common.finger.{finger}"),
        key=f"measured.{finger}.web_crease_to_pip_crease_mm",
        free_mm=max(free_mm, 0.0),
        least_mm=LEAST_WIDTH_MM,
    )
    raise ShapingError(Problem("orthosis.band_width_mm", asked_mm, wanted))
