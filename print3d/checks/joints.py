"""Held joints: the angle at which the shell really holds them, found again from its inner surface.

The two rigid segments beside a joint are fitted into the shell: the angle is the one at which the gap between the inner face and the
segments varies least. The asked angle only says where the search begins.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import Surface, at
from print3d.geometry.frames import apply, inverse
from print3d.limb.finger import DISTAL_OF, SEGMENTS, FingerJoint, FingerLimb, FingerPose, Segment
from print3d.orthoses.built import Orthosis, Part

Floats = NDArray[np.float64]
MOST_POINTS = 700
METHOD = "rigid segments fitted into the inner face, least varying gap"
MEASURING_DEG = 0.1
"""Error of the fitted angle: 0.07 at worst over all fingers, forms and angles tried. All that is added to a limit of the skin."""
LEAST_POINTS = 30
SEARCH_DEG = 25.0
"""The angle is looked for this far to either side of the asked one; an orthosis further off reads as this far off."""
FLARE_MM = 0.1
"""Points planned more than this above the least clearance belong to a flare or relief and are left out."""


def check_joints(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the angle of every held joint."""
    limb, findings = orthosis.limb, []
    if not isinstance(limb, FingerLimb):
        return []
    for joint, asked in orthosis.held.items():
        part = max(orthosis.parts, key=lambda part: _fewest_points(limb, part, joint))
        fewest = _fewest_points(limb, part, joint)
        if fewest < LEAST_POINTS:
            findings.append(
                Finding("joints", f"{joint.upper()}: points of the inner face beside the joint", fewest, LEAST_POINTS, "",
                        "at least", "counted over the straight segments on either side", "own choice: fewer hold no angle")
            )  # fmt: skip
            continue
        measured = measure_held_angle(limb, part, joint, asked)
        slack, where = limits.joint_angle_deg, at(limb.segment_transform(DISTAL_OF[joint])[:3, 3])
        way, sign = ("flexion", 1.0) if asked >= 0.0 else ("hyperextension", -1.0)
        limit = (abs(asked) - slack.value, abs(asked) + slack.value)
        findings.append(
            Finding("joints", f"{joint.upper()} {way} held (asked {abs(asked):g})", sign * measured, limit, "deg",
                    "between", METHOD, slack.source, where)
        )  # fmt: skip
        if joint == "dip":
            blanch = limits.dip_hyperextension_deg
            findings.append(
                Finding("joints", "DIP hyperextension held, against blanching of the skin", -measured,
                        blanch.value + MEASURING_DEG, "deg", "at most", METHOD, blanch.source, where)
            )  # fmt: skip
    return findings


def measure_held_angle(limb: FingerLimb, part: Part, joint: FingerJoint, asked_deg: float) -> float:
    """Return the flexion (deg) at which the segments beside a joint fit the inner face best."""
    proximal, distal = _beside(joint)
    beside = {segment: _points_beside(limb, part, joint, segment) for segment in (proximal, distal)}
    bodies = {segment: Surface(limb.segment_body(segment)) for segment in (proximal, distal)}
    to_proximal = inverse(limb.segment_transform(proximal))
    gap_proximal = bodies[proximal].signed(apply(to_proximal, beside[proximal]))
    key = f"{joint}_flexion_deg"

    def spread(angle: float) -> float:
        pose = FingerPose(**{**vars(limb.pose), key: angle})
        moved = inverse(limb.segment_transform(distal, pose)) @ limb.segment_transform(proximal, pose)
        gap = bodies[distal].signed(apply(moved @ to_proximal, beside[distal]))
        return float(np.mean((gap - gap_proximal.mean()) ** 2))

    result = minimize_scalar(
        spread,
        bounds=(asked_deg - SEARCH_DEG, asked_deg + SEARCH_DEG),
        method="bounded",
        options={"xatol": 0.02},
    )
    return float(result.x)


def _beside(joint: FingerJoint) -> tuple[Segment, Segment]:
    """The segments proximal and distal of a joint."""
    distal = DISTAL_OF[joint]
    return SEGMENTS[SEGMENTS.index(distal) - 1], distal


def _fewest_points(limb: FingerLimb, part: Part, joint: FingerJoint) -> int:
    """How many points a part has beside a joint, on the side that has fewer."""
    return min(len(_points_beside(limb, part, joint, segment)) for segment in _beside(joint))


def _points_beside(limb: FingerLimb, part: Part, joint: FingerJoint, segment: Segment) -> Floats:
    """Points of the inner face over one straight segment next to the joint, flares left out."""
    inner = part.mesh.mesh.vertices[part.mesh.inner_vertices]
    even = part.planned_gap_mm < part.planned_gap_mm.min() + FLARE_MM
    limb_from_segment = limb.segment_transform(segment)
    along = apply(inverse(limb_from_segment), inner)[:, 0]
    zone = limb.blend_mm("pip" if joint == "pip" else "dip")
    centre = limb.segment_transform(DISTAL_OF[joint])[:3, 3]
    length = float(np.linalg.norm(centre - limb_from_segment[:3, 3]))
    bent_before = limb.blend_mm("pip") if segment == "middle" and limb.pose.pip_flexion_deg else -np.inf
    before_joint = (along < length - zone) & (along > bent_before)
    chosen = even & ((along > zone) if segment == DISTAL_OF[joint] else before_joint)
    points = inner[chosen]
    return points[:: max(1, len(points) // MOST_POINTS)]
