"""Where a shell on hand and forearm ends: past the fingertips, short of the elbow, and clear of the thumb."""

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis
from print3d.geometry.frames import apply, inverse
from print3d.geometry.nearest import PointCloud, Surface, at
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.language.message import message
from print3d.limb.hand import HandLimb
from print3d.limb.hand_thumb import ThumbPose

ORDER = 140
"""Its place among the findings."""

OVER_TIP_MM = 30.0
"""Only what lies this near a fingertip, on its back, shields it."""
ON_FOREARM_SHARE = 0.2
"""A shell that covers more of the forearm than this holds the wrist; one that covers less must leave it free."""
POSES: tuple[ThumbPose, ...] = ("at_rest", "abducted")


def check_reach(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the ends of a shell that goes with hand and forearm."""
    limb = orthosis.limb
    if not isinstance(limb, HandLimb):
        return []
    vertices = np.vstack([part.shell.mesh.vertices for part in orthosis.parts])
    shell = PointCloud(vertices)
    return [
        *(_past_tip(limb, name, vertices, limits) for name in limb.rays),
        _on_forearm(limb, vertices, limits),
        *(_clear_of_thumb(limb, pose, shell, limits) for pose in POSES),
    ]


def _past_tip(limb: HandLimb, name: FingerName, vertices: Floats, limits: CheckLimits) -> Finding:
    reach, where = measure_past_tip(limb, name, vertices)
    limit = limits.beyond_tips_mm
    said = values(finger=message(f"common.ray.{name}"))
    return Finding(
        "reach.tip", reach, limit.value, "mm", "at least", limit.source, about(finger=name), said, where=where
    )


def measure_past_tip(
    limb: HandLimb, name: FingerName, vertices: Floats
) -> tuple[float, tuple[float, float, float] | None]:
    """Return by how much the shell goes on beyond a fingertip over the finger's whole breadth, negative short of it."""
    ray = limb.rays[name]
    distal = ray.hand_from_finger() @ ray.limb.segment_transform("distal")
    local = apply(inverse(distal), vertices) - [ray.limb.distal_mm, 0.0, 0.0]
    half_breadth = float(ray.limb.half_axes(np.array([ray.limb.landmarks["nail_fold"]]))[0][0])
    over = (np.abs(local[:, 0]) < OVER_TIP_MM) & (local[:, 2] > 0.0) & (np.abs(local[:, 1]) < half_breadth)
    if not over.any():
        return -OVER_TIP_MM, at(apply(distal, np.array([[ray.limb.distal_mm, 0.0, 0.0]]))[0])
    strips = np.array_split(np.argsort(local[over][:, 1]), 3)
    farthest = [strip[np.argmax(local[over][strip, 0])] for strip in strips]
    shortest = min(farthest, key=lambda one: local[over][one, 0])
    return float(local[over][shortest, 0]), at(vertices[over][shortest])


def _on_forearm(limb: HandLimb, vertices: Floats, limits: CheckLimits) -> Finding:
    share, where = measure_forearm_share(limb, vertices)
    limit = limits.forearm_share if share > ON_FOREARM_SHARE else limits.free_wrist_share
    bounds = (0.0, limit.value) if share <= ON_FOREARM_SHARE else (limit.value - 0.08, limit.value + 0.08)
    return Finding("reach.forearm", share, bounds, "", "between", limit.source, where=where)


def measure_forearm_share(limb: HandLimb, vertices: Floats) -> tuple[float, tuple[float, float, float]]:
    """Return how far up the forearm a shell reaches, as a share of its length, and where that is."""
    along = limb.forearm_direction
    proximal = int(np.argmin(vertices @ along))
    return max(float(-(vertices[proximal] @ along)), 0.0) / limb.forearm.length_mm, at(vertices[proximal])


def _clear_of_thumb(limb: HandLimb, pose: ThumbPose, shell: PointCloud, limits: CheckLimits) -> Finding:
    gap, nearest = shell.least_signed(Surface(limb.thumb.body(pose)), np.eye(4))
    limit = limits.thumb_mm
    said = values(pose=message(f"checks.reach.pose.{pose}"))
    return Finding(
        "reach.thumb",
        gap,
        limit.value,
        "mm",
        "at least",
        limit.source,
        about(pose=pose),
        said,
        where=at(nearest),
    )
