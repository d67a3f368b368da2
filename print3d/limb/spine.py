"""The bent axis of a finger: straight segments, blended over each joint without moving what lies beyond.

Over a joint the axis is a quartic Bezier curve whose five control points lie evenly on the two legs of the
bend: it meets both legs with equal speed and no curvature, and for a straight joint it is the straight
line itself. Segments outside the blend zones are therefore turned exactly as rigid bodies.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from print3d.geometry.frames import flexion_rotation, rigid
from print3d.geometry.types import Floats


@dataclass(frozen=True)
class Bend:
    """A joint of the spine.

    station_mm : place of the joint centre along the straight axis
    flexion_rad : flexion, positive
    blend_mm : half-length of the zone over which the skin bends
    """

    station_mm: float
    flexion_rad: float
    blend_mm: float


@dataclass(frozen=True)
class Spine:
    """The axis of a finger in the plane y = 0, bent at each joint in turn.

    It starts from the origin along +x.
    """

    bends: Sequence[Bend]

    @cached_property
    def segment_frames(self) -> list[Floats]:
        """Return limb_from_segment (4, 4) for each straight segment, the first at the origin."""
        frame = np.eye(4)
        frames, previous = [frame], 0.0
        for bend in self.bends:
            step = rigid(flexion_rotation(bend.flexion_rad), np.array([bend.station_mm - previous, 0.0, 0.0]))
            frame = frame @ step
            frames.append(frame)
            previous = bend.station_mm
        for each in frames:
            each.setflags(write=False)  # they are handed out more than once
        return frames

    def at(self, station_mm: Floats) -> tuple[Floats, Floats]:
        """Return axis points (n, 3) and dorsal directions (n, 3) at stations (n,)."""
        frames = self.segment_frames
        starts = np.array([0.0, *(bend.station_mm for bend in self.bends)])
        segment = np.clip(np.searchsorted(starts, station_mm, side="right") - 1, 0, len(self.bends))
        transforms = np.array(frames)[segment]
        points = transforms[:, :3, 3] + transforms[:, :3, 0] * (station_mm - starts[segment])[:, None]
        dorsal = transforms[:, :3, 2].copy()
        for number, bend in enumerate(self.bends):
            zone = np.abs(station_mm - bend.station_mm) < bend.blend_mm
            points[zone], dorsal[zone] = _blended(
                frames[number][:3, 0], frames[number + 1], bend, station_mm[zone]
            )
        return points, dorsal


def _blended(
    proximal_direction: Floats, distal_frame: Floats, bend: Bend, station: Floats
) -> tuple[Floats, Floats]:
    """Axis points and dorsal directions inside one blend zone."""
    joint, distal_direction = distal_frame[:3, 3], distal_frame[:3, 0]
    steps = np.array([-1.0, -0.5, 0.0, 0.5, 1.0]) * bend.blend_mm
    legs = np.where(steps[:, None] < 0.0, proximal_direction, distal_direction)
    control = joint + steps[:, None] * legs
    t = ((station - bend.station_mm) / bend.blend_mm + 1.0)[:, None] / 2.0
    points = _bezier(control, t)
    tangent = _bezier(np.diff(control, axis=0), t)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    return points, np.column_stack([-tangent[:, 2], np.zeros(len(t)), tangent[:, 0]])


def _bezier(control: Floats, t: Floats) -> Floats:
    """De Casteljau's scheme for all parameters t (n, 1) at once."""
    layer = [np.broadcast_to(point, (len(t), 3)) for point in control]
    while len(layer) > 1:
        layer = [(1.0 - t) * a + t * b for a, b in zip(layer[:-1], layer[1:], strict=True)]
    return np.asarray(layer[0])
