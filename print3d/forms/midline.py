"""The finger's middle plane: how high points lie over a rigid segment there.

Blocks are planned by it: where they stop a joint.
"""

import numpy as np

from print3d.geometry.frames import apply, inverse
from print3d.geometry.types import Floats
from print3d.limb.finger import FingerLimb, FingerPose
from print3d.limb.joint_id import SegmentName


def midline_height(
    limb: FingerLimb, segment: SegmentName, points: Floats, pose: FingerPose, *, is_dorsal: bool
) -> Floats:
    """Height (n,) of points, given from the PIP centre, above the dorsal or the volar line of one rigid segment."""
    pip = limb.segment_transform("middle", pose)[:3, 3]
    local = apply(inverse(limb.segment_transform(segment, pose)), points + pip)
    start = 0.0 if segment == "proximal" else limb.landmarks["pip"]
    station = start + local[:, 0]
    end = limb.landmarks["pip"]
    inside = np.minimum(station, end) if segment == "proximal" else np.maximum(station, end)
    _, half_depth = limb.half_axes(inside)
    middle = limb.section_middle(inside)
    cap = np.sqrt(np.clip(1.0 - ((station - inside) / half_depth) ** 2, 0.0, 1.0))
    return local[:, 2] - middle - half_depth * cap if is_dorsal else middle - half_depth * cap - local[:, 2]
