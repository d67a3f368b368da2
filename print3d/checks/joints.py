"""Held joints: the angle at which the shell really holds them, found again from its inner surface.

The rigid segment beyond a joint is fitted into the shell: the angle is the one at which its gap to the inner face is off its
plan by the same as on the near side. The asked angle only says where the search begins.
"""

from collections.abc import Iterator

import numpy as np
from scipy.optimize import minimize_scalar

from print3d.checks.finding import Finding, Limit, about, values
from print3d.checks.limits import CheckLimits
from print3d.checks.passive_range import FITTED_DEG, KeptAngle
from print3d.forms.orthosis import Orthosis, Part, RayView, ray_views
from print3d.geometry.frames import apply, inverse
from print3d.geometry.nearest import at, skin_surface
from print3d.geometry.types import Ints
from print3d.language.message import message
from print3d.limb.joint_id import JointId, SegmentName
from print3d.limb.limb import Chain
from print3d.mechanics.contact import segment_surface

ORDER = 80
"""Its place among the findings."""

MOST_POINTS = 700
"""Points of the inner face by which a segment is placed at most; own choice."""
FITTED = message("checks.joints.how.fitted")
LEAST_POINTS = 30
"""Fewer points do not show how a segment lies; own choice."""
SEARCH_DEG = 25.0
"""The angle is looked for this far to either side of the asked one; an orthosis further off reads as this far off."""


WAYS = {"wrist_flexion": ("flexion", "extension"), "wrist_deviation": ("ulnar", "radial")}
FINGER_WAYS = ("flexion", "hyperextension")
"""What a positive and what a negative angle of a joint is called."""


def check_joints(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the angle of every held joint."""
    return [
        finding
        for view in ray_views(orthosis)
        for joint, asked in view.held.items()
        for finding in _of_joint(view, joint, asked, limits)
    ]


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a joint is held."""
    return bool(orthosis.held)


def _of_joint(view: RayView, joint: JointId, asked: float, limits: CheckLimits) -> Iterator[Finding]:
    part = max(view.parts, key=lambda part: _fewest_points(view.chain, part, joint))
    fewest = _fewest_points(view.chain, part, joint)
    said = values(joint=view.name_of(joint))
    if fewest < LEAST_POINTS:
        source = message("sources.own_points")
        yield Finding("joints.points", fewest, LEAST_POINTS, "", "at least", source, about(joint=joint), said)
        return
    measured = measure_held_angle(view.chain, part, joint, asked)
    where = at(view.chain.joints[joint].centre)
    yield _held(view, joint, asked, measured, limits.joint_angle_deg)
    yield from limits.passive.findings(
        KeptAngle("joints.passive", joint, measured, ("least", "most"), said, where)
    )
    if joint.joint == "dip":
        blanch = limits.dip_hyperextension_deg
        yield Finding(
            "joints.blanching",
            -measured,
            blanch.limit.value + FITTED_DEG,
            "deg",
            "at most",
            blanch.limit.source,
            about(joint=joint),
            said,
            (FITTED,),
            blanch.watch + FITTED_DEG,
            where,
        )


def _held(view: RayView, joint: JointId, asked: float, measured: float, slack: Limit) -> Finding:
    way, sign = WAYS.get(joint.word, FINGER_WAYS)[asked < 0.0], 1.0 if asked >= 0.0 else -1.0
    return Finding(
        "joints.held",
        sign * measured,
        (abs(asked) - slack.value, abs(asked) + slack.value),
        "deg",
        "between",
        slack.source,
        about(joint=joint),
        values(joint=view.name_of(joint), way=message(f"checks.joints.way.{way}"), asked_deg=abs(asked)),
        (FITTED,),
        where=at(view.chain.joints[joint].centre),
    )


def measure_held_angle(chain: Chain, part: Part, joint: JointId, asked_deg: float) -> float:
    """Return the flexion (deg) at which the segments beside a joint fit the inner face best."""
    proximal, distal = joint.proximal, joint.distal
    beside, planned = {}, {}
    for segment in (proximal, distal):
        chosen = _beside_joint(chain, part, joint, segment)
        beside[segment] = part.shell.mesh.vertices[part.skin_vertices[chosen]]
        planned[segment] = part.planned_gap_mm[chosen]
    body = segment_surface(chain, distal)
    to_proximal = inverse(chain.transform(proximal))
    off = float((skin_surface(chain).signed(beside[proximal]) - planned[proximal]).mean())

    def spread(angle: float) -> float:
        turned = {joint: angle}
        moved = inverse(chain.transform(distal, turned)) @ chain.transform(proximal, turned)
        gap = body.signed(apply(moved @ to_proximal, beside[distal]))
        return float(np.mean((gap - planned[distal] - off) ** 2))

    result = minimize_scalar(
        spread,
        bounds=(asked_deg - SEARCH_DEG, asked_deg + SEARCH_DEG),
        method="bounded",
        options={"xatol": 0.02},
    )
    return float(result.x)


def _fewest_points(chain: Chain, part: Part, joint: JointId) -> int:
    """How many points a part has beside a joint, on the side that has fewer."""
    return min(len(_beside_joint(chain, part, joint, segment)) for segment in (joint.proximal, joint.distal))


def _beside_joint(chain: Chain, part: Part, joint: JointId, segment: SegmentName) -> Ints:
    """Which of the part's points towards the skin lie on one side of the joint, away from its bend."""
    chain_from_segment = chain.transform(segment)
    skin_side = part.shell.mesh.vertices[part.skin_vertices]
    along = apply(inverse(chain_from_segment), skin_side)[:, 0]
    zone, centre = chain.joints[joint].blend_mm, chain.joints[joint].centre
    length = float(np.linalg.norm(centre - chain_from_segment[:3, 3]))
    chosen = np.flatnonzero((along > zone) if segment == joint.distal else (along < length - zone))
    return chosen[:: max(1, len(chosen) // MOST_POINTS)]
