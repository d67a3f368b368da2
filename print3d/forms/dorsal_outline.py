"""Where a dorsal shell over forearm, hand and fingers ends, in the pattern plane."""

import numpy as np
import shapely
from scipy.interpolate import PchipInterpolator

from print3d.inputs.measured import FINGERS, FingerName
from print3d.limb.hand import HandLimb
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.shell.curves import rounded

TROUGH_SHARE = 0.25
"""To either side of the back: half of the girth; common practice, no single source."""
ADULT_HAND_MM = 187.0
"""Hand length to which the radial edge below belongs; other hands scale it."""
THUMB_TRIM = ((-34.0, 0.25), (-12.0, 0.215), (12.0, 0.17), (48.0, 0.165), (84.0, 0.175), (128.0, 0.25))
"""Radial edge of an adult: station along the back, share of the girth. At the thumb it lies over the index metacarpal's radial border."""
CORNER_MM = 8.0
"""Rounding of corners, 5 mm or more; common practice, no single source."""
TIP_CORNER_MM = 10.0
"""Rounding of corners over fingertips, 5 mm or more; common practice, no single source."""
BETWEEN_TIPS_MM = 150.0
"""The distal edge bridges from fingertip to fingertip in curves of at least this radius."""
EDGE_SAMPLES = 400
"""Points of either lateral edge, about 1 mm apart; own choice."""


def dorsal_outline(skin: UnrolledHand[HandLimb], proximal: float, beyond_tips_mm: float) -> shapely.Polygon:
    """Trunk between the lateral edges, and beyond each fingertip by the asked margin."""
    limb, girth = skin.limb, skin.reference_girth_mm
    size = limb.hand_length_mm / ADULT_HAND_MM
    tips = [_fingertip(skin, name, beyond_tips_mm) for name in FINGERS]
    far = max(tip.bounds[2] for tip in tips)
    station = np.linspace(proximal, float(skin.station(far)), EDGE_SAMPLES)
    knots = np.array(THUMB_TRIM) * [size, 1.0]
    at_thumb = PchipInterpolator(*knots.T)(np.clip(station, *knots[[0, -1], 0]))
    along = skin.along(station)
    radial, ulnar = (
        np.column_stack([along, side * girth]) for side in (at_thumb, np.full(EDGE_SAMPLES, -TROUGH_SHARE))
    )
    between = shapely.Polygon(np.vstack([ulnar, radial[::-1]]))
    shortest = min(tip.bounds[2] for tip in tips)
    trunk = between.intersection(shapely.box(-1e4, -1e4, shortest - 2.0 * TIP_CORNER_MM, 1e4))
    reach = shapely.union_all([trunk, *tips])
    bridged = reach.buffer(BETWEEN_TIPS_MM).buffer(-BETWEEN_TIPS_MM)
    return rounded(
        trunk.union(bridged.intersection(shapely.box(0.0, -1e4, 1e4, 1e4))).intersection(between), CORNER_MM
    )


def _fingertip(skin: UnrolledHand[HandLimb], finger: FingerName, beyond_tips_mm: float) -> shapely.Geometry:
    """The distal half of a finger in the pattern plane, with the margin all around."""
    limb, ray = skin.limb, skin.limb.rays[finger]
    landmarks = ray.limb.landmarks
    half_breadth = float(ray.limb.half_axes(np.array([landmarks["nail_fold"]]))[0][0])
    ends = []
    for station in (landmarks["pip"], landmarks["tip"] - half_breadth):
        on_back = limb.skin.station_of(finger, station)
        axis = ray.limb.spine.at(np.array([station]))[0]
        radial = float((axis @ ray.hand_from_finger()[:3, :3].T)[0, 1] + ray.mcp_centre[1])
        ends.append(skin.place(on_back, limb.fraction_at(on_back, radial)))
    scale = skin.scale(limb.skin.station_of(finger, landmarks["tip"]))
    return shapely.LineString(ends).buffer((half_breadth + beyond_tips_mm) / scale)
