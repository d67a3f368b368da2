"""Free joints: each is swept through the arc it must keep, against the orthosis.

The orthosis stays with its carrier segment; every segment beyond the free joint moves as a rigid body. Contact means
that a body comes deeper into the orthosis than soft tissue yields (the named squeeze).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import PointCloud, Surface, at
from print3d.geometry.frames import inverse
from print3d.limb.finger import DISTAL_OF, SEGMENTS, FingerJoint, FingerLimb, FingerPose, Segment
from print3d.orthoses.built import FingerView, FreeArc, Orthosis, finger_views

Floats = NDArray[np.float64]
STEP_DEG = 10.0
BISECTIONS = 4
SOURCE = (
    "the joint's flexion as measured, else normal (Eaton, Electronic Textbook of Hand Surgery, range table)"
)


@dataclass(frozen=True)
class Sweep:
    """What a sweep found.

    free_to_deg : last angle without contact deeper than the squeeze
    rigid_free_to_deg : the same for a finger that does not yield
    least_gap_mm : least gap to the unyielding finger over the free part, negative where it was pressed; at the
        first angle if that is blocked already
    where : place of the first contact, or None
    """

    free_to_deg: float
    rigid_free_to_deg: float
    least_gap_mm: float
    where: tuple[float, float, float] | None


def check_motion(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that every freed joint reaches the end of its arc."""
    return [
        _finding(view, arc, orthosis.carrier, limits) for view in finger_views(orthosis) for arc in view.freed
    ]


def _finding(view: FingerView, arc: FreeArc, carrier: Segment, limits: CheckLimits) -> Finding:
    squeeze = limits.squeeze_mm
    found = sweep(view, arc, carrier, squeeze.value)
    method = (
        f"swept in steps of {STEP_DEG:g} degrees, soft tissue yielding {squeeze.value:g} mm ({squeeze.source}); "
        f"least gap {found.least_gap_mm:.1f} mm; a rigid finger is free to {found.rigid_free_to_deg:.0f} degrees"
    )
    what = f"{view.name} {arc.joint.upper()} free to flex".strip()
    return Finding(
        "motion", what, found.free_to_deg, arc.to_deg, "deg", "at least", method, SOURCE, found.where
    )


def sweep(view: FingerView, arc: FreeArc, carrier: Segment, squeeze_mm: float) -> Sweep:
    """Sweep one joint through its arc, the orthosis staying with `carrier`, and return how far it is free."""
    segments = moving_segments(carrier, arc.joint)
    bodies = {segment: Surface(view.limb.segment_body(segment)) for segment in segments}
    cloud = PointCloud(np.vstack([mesh.vertices for mesh in view.meshes]))

    def gap(angle_deg: float) -> tuple[float, Floats]:
        pose = replace(view.limb.pose, **{f"{arc.joint}_flexion_deg": angle_deg})
        least, place = np.inf, np.zeros(3)
        for segment, body in bodies.items():
            segment_from_orthosis = inverse(_orthosis_from_segment(view.limb, carrier, segment, pose))
            if cloud.farther_than(least, body, segment_from_orthosis):
                continue
            distance, nearest = cloud.least_signed(body, segment_from_orthosis)
            if distance < least:
                least, place = distance, nearest
        return least, place

    free, rigid_free, least, where = arc.from_deg, None, np.inf, None
    angles = np.linspace(
        arc.from_deg, arc.to_deg, max(1, int(np.ceil((arc.to_deg - arc.from_deg) / STEP_DEG))) + 1
    )
    for angle in angles:
        distance, place = gap(float(angle))
        if distance < 0.0 and rigid_free is None:
            rigid_free = _last_free(lambda a: gap(a)[0] >= 0.0, free, float(angle))
        if distance < -squeeze_mm:
            free, where = _last_free(lambda a: gap(a)[0] >= -squeeze_mm, free, float(angle)), at(place)
            least = least if np.isfinite(least) else distance
            break
        free, least = float(angle), min(least, distance)
    return Sweep(free, free if rigid_free is None else rigid_free, least, where)


def _last_free(is_free: Callable[[float], bool], free: float, blocked: float) -> float:
    """Halve the step between a free and a blocked angle a few times; return the last free one."""
    for _ in range(BISECTIONS if blocked > free else 0):
        middle = (free + blocked) / 2
        free, blocked = (middle, blocked) if is_free(middle) else (free, middle)
    return free


def moving_segments(carrier: Segment, joint: FingerJoint) -> tuple[Segment, ...]:
    """Return every segment on the side of a joint away from the carrier, the one at the joint first."""
    beyond = SEGMENTS.index(DISTAL_OF[joint])
    return SEGMENTS[beyond:] if SEGMENTS.index(carrier) < beyond else SEGMENTS[:beyond][::-1]


def _orthosis_from_segment(limb: FingerLimb, carrier: Segment, segment: Segment, pose: FingerPose) -> Floats:
    """Placement (4, 4) of a segment at a pose, in the frame of the unmoved orthosis, which goes with its carrier."""
    carrier_from_segment = inverse(limb.segment_transform(carrier, pose)) @ limb.segment_transform(
        segment, pose
    )
    return np.asarray(limb.segment_transform(carrier) @ carrier_from_segment)
