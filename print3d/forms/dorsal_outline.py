"""Where a dorsal shell over forearm, hand and fingers ends, in the pattern plane."""

import numpy as np
import shapely
from scipy.interpolate import PchipInterpolator, make_smoothing_spline

from print3d.geometry.surface_bends import radii_in_surface
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS, FingerName
from print3d.limb.hand import HandLimb
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.shell.curves import rounded, sampled

TROUGH_SHARE = 0.25
"""To either side of the back: half of the girth; common practice, no single source."""
ULNAR_TRIM = ((-45.0, 0.25), (-12.0, 0.23), (44.0, 0.23), (66.0, 0.2), (90.0, 0.2), (128.0, 0.25))
"""The same of the ulnar edge: nearer to the back beside the knuckle, where the skin of a flexed joint folds."""
ADULT_HAND_MM = 187.0
"""Hand length to which the radial edge below belongs; other hands scale it."""
THUMB_TRIM = ((-34.0, 0.25), (-12.0, 0.215), (12.0, 0.17), (48.0, 0.165), (84.0, 0.175), (128.0, 0.25))
"""Radial edge of an adult: station along the back, share of the girth. At the thumb it lies over the index metacarpal's radial border."""
LEAST_RADIUS_MM = 6.5
"""No bend of the outline on the skin is sharper: half a millimetre more than the check asks of the shell; own choice."""
CORNERS_MM = (11.0, 14.0, 18.0)
"""Rounding of corners in the pattern plane: the first that leaves no sharper bend on the skin, where most corners are smaller; own choice."""
WINDOW_MM = 2.0
"""A bend of the outline is measured over twice this length; own choice."""
TIP_CORNER_MM = 10.0
"""Rounding of corners over fingertips, 5 mm or more; common practice, no single source."""
BETWEEN_TIPS_MM = 150.0
"""The distal edge bridges from fingertip to fingertip in curves of at least this radius."""
EDGE_SAMPLES = 400
"""Points of either lateral edge, about 1 mm apart; own choice."""
FAIRED_MM = 12.0
"""Waves of a lateral edge shorter than about six times this are smoothed away on an adult: over the knuckle of the little finger
the widest place of the hand jumps; own choice."""
FAIRINGS = 2
"""Rounds after which a lateral edge follows its smooth curve within 0.1 mm (measured)."""
STEP_MM = 0.05
"""Step of the difference that gives the way around; own choice."""


def dorsal_outline(skin: UnrolledHand[HandLimb], proximal: float, beyond_tips_mm: float) -> shapely.Polygon:
    """Trunk between the lateral edges, and beyond each fingertip by the asked margin."""
    limb = skin.limb
    size = limb.hand_length_mm / ADULT_HAND_MM
    tips = [_fingertip(skin, name, beyond_tips_mm) for name in FINGERS]
    far = max(tip.bounds[2] for tip in tips)
    station = np.linspace(proximal, float(skin.station(far)), EDGE_SAMPLES)
    along = skin.along(station)
    radial, ulnar = (
        np.column_stack([along, _faired(skin, along, side, np.array(trim) * [size, 1.0], size)])
        for side, trim in ((1.0, THUMB_TRIM), (-1.0, ULNAR_TRIM))
    )
    between = shapely.Polygon(np.vstack([ulnar, radial[::-1]]))
    shortest = min(tip.bounds[2] for tip in tips)
    trunk = between.intersection(shapely.box(-1e4, -1e4, shortest - 2.0 * TIP_CORNER_MM, 1e4))
    reach = shapely.union_all([trunk, *tips])
    bridged = reach.buffer(BETWEEN_TIPS_MM).buffer(-BETWEEN_TIPS_MM)
    sharp = trunk.union(bridged.intersection(shapely.box(0.0, -1e4, 1e4, 1e4))).intersection(between)
    for corner in CORNERS_MM:
        outline = rounded(sharp, corner)
        if _least_radius_mm(skin, outline) >= LEAST_RADIUS_MM:
            break
    return outline


def _least_radius_mm(skin: UnrolledHand[HandLimb], outline: shapely.Polygon) -> float:
    """The sharpest bend of an outline on the skin; a sheared pattern plane makes corners sharper."""
    at = sampled(np.asarray(outline.exterior.coords)[:-1], "outline", 1.0, counter_clockwise=True).points
    points, ahead, beside = np.split(
        skin.points(*np.vstack([at, at + [STEP_MM, 0.0], at + [0.0, STEP_MM]]).T), 3
    )
    return float(radii_in_surface(points, np.cross(ahead - points, beside - points), WINDOW_MM)[0].min())


def _faired(skin: UnrolledHand[HandLimb], along: Floats, side: float, trim: Floats, size: float) -> Floats:
    """Where a lateral edge runs around (n,) at places along (n,): by its trim line, smooth on the skin.

    side : radial 1, ulnar -1
    trim : (k, 2) station and share of the girth
    """
    station = np.clip(skin.station(along), *trim[[0, -1], 0])
    around = side * skin.reference_girth_mm * PchipInterpolator(*trim.T)(station)
    for _ in range(FAIRINGS):
        points = skin.points(along, around)
        beside = (skin.points(along, around + STEP_MM) - points) / STEP_MM
        length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        smooth = [
            make_smoothing_spline(length, column, lam=(FAIRED_MM * size) ** 4)(length) for column in points.T
        ]
        off = np.column_stack(smooth) - points
        around = around + np.einsum("ij,ij->i", off, beside) / np.einsum("ij,ij->i", beside, beside)
    widest = TROUGH_SHARE * skin.reference_girth_mm
    return np.clip(around, -widest, widest)


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
