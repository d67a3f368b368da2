"""Where a shell on hand and forearm ends: past the fingertips, short of the elbow, and clear of the thumb."""

from collections.abc import Iterator

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.errors import NotMeasurableError
from print3d.forms.orthosis import Cover, Orthosis
from print3d.geometry.frames import apply, inverse
from print3d.geometry.nearest import PointCloud, Surface, at
from print3d.geometry.types import Floats
from print3d.language.message import message
from print3d.limb.joint_id import RayName
from print3d.limb.limb import Limb, chain_of, landmark_of, tube_of

ORDER = 140
"""Its place among the findings."""

OVER_TIP_MM = 30.0
"""Only what lies this near a fingertip, on its back, shields it."""


def check_reach(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that a shell covers what it is to cover.

    It also has to stay clear of what lies beside the limb.
    """
    limb, cover = orthosis.limb, orthosis.cover
    vertices = np.vstack([part.shell.mesh.vertices for part in orthosis.parts])
    findings = [_past_tip(limb, ray, vertices, limits) for ray in cover.tips]
    if cover.forearm_share is not None:
        findings.append(_on_forearm(limb, cover.forearm_share, vertices, limits))
    shell = PointCloud(vertices)
    return findings + [each for ray in cover.clear_of for each in _clear_of(limb, ray, shell, limits)]


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether anything is to be covered or kept clear of."""
    return orthosis.cover != Cover()


def _past_tip(limb: Limb, ray: RayName, vertices: Floats, limits: CheckLimits) -> Finding:
    reach, where = measure_past_tip(limb, ray, vertices)
    limit = limits.beyond_tips_mm
    said = values(finger=message(f"common.ray.{ray}"))
    return Finding(
        "reach.tip", reach, limit.value, "mm", "at least", limit.source, about(finger=ray), said, where=where
    )


def measure_past_tip(
    limb: Limb, ray: RayName, vertices: Floats
) -> tuple[float, tuple[float, float, float] | None]:
    """Return by how much the shell goes on beyond a ray's tip over the ray's whole breadth.

    It is negative where the shell ends short of the tip.

    Raises NotMeasurableError if the limb does not know the ray, its sections or its nail fold.
    """
    chain = chain_of(limb, ray)
    tube, last = tube_of(chain), chain.segments[-1]
    distal = limb.place(ray) @ chain.transform(last)
    tip = np.array([chain.length_mm(last), 0.0, 0.0])
    local = apply(inverse(distal), vertices) - tip
    half_breadth = float(tube.half_axes(np.array([landmark_of(tube, "nail_fold")]))[0][0])
    over = (np.abs(local[:, 0]) < OVER_TIP_MM) & (local[:, 2] > 0.0) & (np.abs(local[:, 1]) < half_breadth)
    if not over.any():
        return -OVER_TIP_MM, at(apply(distal, tip[None])[0])
    strips = np.array_split(np.argsort(local[over][:, 1]), 3)
    farthest = [strip[np.argmax(local[over][strip, 0])] for strip in strips]
    shortest = min(farthest, key=lambda one: local[over][one, 0])
    return float(local[over][shortest, 0]), at(vertices[over][shortest])


def _on_forearm(limb: Limb, asked: float, vertices: Floats, limits: CheckLimits) -> Finding:
    share, where = measure_forearm_share(limb, vertices)
    free, slack = limits.free_wrist_share, limits.forearm_share_off
    limit = slack if asked else free
    bounds = (asked - slack.value, asked + slack.value) if asked else (0.0, free.value)
    return Finding("reach.forearm", share, bounds, "", "between", limit.source, where=where)


def measure_forearm_share(limb: Limb, vertices: Floats) -> tuple[float, tuple[float, float, float]]:
    """Return how far up the forearm a shell reaches, as a share of its length, and where that is.

    Raises NotMeasurableError if the limb has no forearm.
    """
    chain = chain_of(limb, "wrist")
    along = np.ascontiguousarray((limb.place("wrist") @ chain.transform("forearm"))[:3, 0])
    proximal = int(np.argmin(vertices @ along))
    return max(float(-(vertices[proximal] @ along)), 0.0) / chain.length_mm("forearm"), at(vertices[proximal])


def _clear_of(limb: Limb, ray: RayName, shell: PointCloud, limits: CheckLimits) -> Iterator[Finding]:
    bodies = limb.beside(ray)
    if not bodies:
        raise NotMeasurableError(message("common.lacks.beside", ray=message(f"common.ray.{ray}")))
    for pose, body in bodies.items():
        gap, nearest = shell.least_signed(Surface(body), np.eye(4))
        limit = limits.thumb_mm
        said = values(pose=message(f"checks.reach.pose.{pose}"))
        yield Finding(
            f"reach.{ray}",
            gap,
            limit.value,
            "mm",
            "at least",
            limit.source,
            about(pose=pose),
            said,
            where=at(nearest),
        )
