"""Held joints: the angle at which the shell really holds them, found again from its inner surface.

The rigid segment beyond a joint is fitted into the shell: the angle is the one at which its gap to the inner face is off its
plan by the same as on the near side. The asked angle only says where the search begins.
"""

from collections.abc import Iterator

import numpy as np
from scipy.optimize import minimize_scalar

from print3d.checks.finding import Finding, Limit, Place, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.frames import apply, inverse
from print3d.geometry.nearest import at, skin_surface
from print3d.geometry.types import Ints
from print3d.language.message import message
from print3d.limb.finger import DISTAL_OF, SEGMENTS, FingerJoint, FingerLimb, FingerPose
from print3d.limb.joint_id import JointId, SegmentName
from print3d.mechanics.contact import segment_surface

ORDER = 80
"""Its place among the findings."""

MOST_POINTS = 700
"""Points of the inner face by which a segment is placed at most; own choice."""
FITTED = message("checks.joints.how.fitted")
MEASURING_DEG = 0.1
"""Error of the fitted angle: 0.07 at worst over all fingers, forms and angles tried. All that is added to a limit of the skin."""
LEAST_POINTS = 30
"""Fewer points do not show how a segment lies; own choice."""
SEARCH_DEG = 25.0
"""The angle is looked for this far to either side of the asked one; an orthosis further off reads as this far off."""


def check_joints(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the angle of every held joint."""
    limb = orthosis.limb
    if not isinstance(limb, FingerLimb):
        return []
    return [
        finding
        for joint, asked in orthosis.held.items()
        for finding in _of_joint(orthosis, limb, JointId(limb.finger, joint), asked, limits)
    ]


def _of_joint(
    orthosis: Orthosis, limb: FingerLimb, joint: JointId, asked: float, limits: CheckLimits
) -> Iterator[Finding]:
    name: FingerJoint = joint.joint  # type: ignore[assignment]
    part = max(orthosis.parts, key=lambda part: _fewest_points(limb, part, name))
    fewest = _fewest_points(limb, part, name)
    said = values(joint=joint.alone)
    if fewest < LEAST_POINTS:
        source = message("sources.own_points")
        yield Finding("joints.points", fewest, LEAST_POINTS, "", "at least", source, about(joint=joint), said)
        return
    measured = measure_held_angle(limb, part, name, asked)
    where = at(limb.segment_transform(DISTAL_OF[name])[:3, 3])
    yield _held(joint, asked, measured, limits.joint_angle_deg, where)
    if name == "dip":
        blanch = limits.dip_hyperextension_deg
        most = blanch.value + MEASURING_DEG
        yield Finding(
            "joints.blanching",
            -measured,
            most,
            "deg",
            "at most",
            blanch.source,
            about(joint=joint),
            said,
            (FITTED,),
            where=where,
        )


def _held(joint: JointId, asked: float, measured: float, slack: Limit, where: Place) -> Finding:
    way, sign = ("flexion", 1.0) if asked >= 0.0 else ("hyperextension", -1.0)
    return Finding(
        "joints.held",
        sign * measured,
        (abs(asked) - slack.value, abs(asked) + slack.value),
        "deg",
        "between",
        slack.source,
        about(joint=joint),
        values(joint=joint.alone, way=message(f"checks.joints.way.{way}"), asked_deg=abs(asked)),
        (FITTED,),
        where=where,
    )


def measure_held_angle(limb: FingerLimb, part: Part, joint: FingerJoint, asked_deg: float) -> float:
    """Return the flexion (deg) at which the segments beside a joint fit the inner face best."""
    proximal, distal = _beside(joint)
    beside, planned = {}, {}
    for segment in (proximal, distal):
        chosen = _beside_joint(limb, part, joint, segment)
        beside[segment] = part.shell.mesh.vertices[part.skin_vertices[chosen]]
        planned[segment] = part.planned_gap_mm[chosen]
    body = segment_surface(limb, distal)
    to_proximal = inverse(limb.segment_transform(proximal))
    off = float((skin_surface(limb).signed(beside[proximal]) - planned[proximal]).mean())
    key = f"{joint}_flexion_deg"

    def spread(angle: float) -> float:
        pose = FingerPose(**{**vars(limb.pose), key: angle})
        moved = inverse(limb.segment_transform(distal, pose)) @ limb.segment_transform(proximal, pose)
        gap = body.signed(apply(moved @ to_proximal, beside[distal]))
        return float(np.mean((gap - planned[distal] - off) ** 2))

    result = minimize_scalar(
        spread,
        bounds=(asked_deg - SEARCH_DEG, asked_deg + SEARCH_DEG),
        method="bounded",
        options={"xatol": 0.02},
    )
    return float(result.x)


def _beside(joint: FingerJoint) -> tuple[SegmentName, SegmentName]:
    """The segments proximal and distal of a joint."""
    distal = DISTAL_OF[joint]
    return SEGMENTS[SEGMENTS.index(distal) - 1], distal


def _fewest_points(limb: FingerLimb, part: Part, joint: FingerJoint) -> int:
    """How many points a part has beside a joint, on the side that has fewer."""
    return min(len(_beside_joint(limb, part, joint, segment)) for segment in _beside(joint))


def _beside_joint(limb: FingerLimb, part: Part, joint: FingerJoint, segment: SegmentName) -> Ints:
    """Which of the part's points towards the skin lie on one side of the joint, away from its bend."""
    limb_from_segment = limb.segment_transform(segment)
    skin_side = part.shell.mesh.vertices[part.skin_vertices]
    along = apply(inverse(limb_from_segment), skin_side)[:, 0]
    zone = limb.blend_mm("pip" if joint == "pip" else "dip")
    centre = limb.segment_transform(DISTAL_OF[joint])[:3, 3]
    length = float(np.linalg.norm(centre - limb_from_segment[:3, 3]))
    chosen = np.flatnonzero((along > zone) if segment == DISTAL_OF[joint] else (along < length - zone))
    return chosen[:: max(1, len(chosen) // MOST_POINTS)]
