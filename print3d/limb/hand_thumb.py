"""The thumb as a plain body, for pictures and for what must stay clear of it.

It is at rest, or abducted in the plane of the palm.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.limb.bodies import closed_tube
from print3d.limb.norms import table

ThumbPose = Literal["at_rest", "abducted"]
POSES: tuple[ThumbPose, ...] = get_args(ThumbPose)

DIRECTIONS = {
    "at_rest": ((0.74, 0.52, -0.42), (0.86, 0.38, -0.34), (0.93, 0.25, -0.28)),
    "abducted": ((0.62, 0.78, -0.10), (0.66, 0.75, -0.05), (0.68, 0.73, 0.0)),
}
"""Of metacarpal, proximal and distal phalanx in the hand frame: palmar and radial abduction each about 35 degrees at rest, radial
abduction about 50 in the plane of the palm (normal is 60, Eaton, Electronic Textbook of Hand Surgery); the rest from memory."""
DEPTH_SHARE = -0.13
"""How far volar of the wrist's middle the CMC centre lies, as a share of hand breadth; from memory."""
RADII_SHARE = (0.19, 0.16, 0.13, 0.12, 0.09)
"""Radius at base, mid metacarpal, MCP, IP and near the tip over hand breadth: thumb breadth 21 to 25 mm (DINED 2004) at the IP."""
ROW_MM = 1.5
"""Spacing of the rows of the thumb's mesh; own choice."""
AROUND = 48
"""Points of a row; own choice."""


@dataclass(frozen=True)
class Thumb:
    """A thumb in the hand frame.

    hand_length_mm, hand_breadth_mm : it is as large as these let expect
    """

    hand_length_mm: float
    hand_breadth_mm: float

    def centres(self, pose: ThumbPose) -> Floats:
        """Return CMC, MCP and IP centres and the tip (4, 3)."""
        shares = table("fingers")["thumb"]
        start = np.array(
            [
                shares["cmc_distal"] * self.hand_length_mm,
                shares["cmc_radial"] * self.hand_breadth_mm,
                DEPTH_SHARE * self.hand_breadth_mm,
            ]
        )
        lengths = [shares[segment] * self.hand_length_mm for segment in ("metacarpal", "proximal", "distal")]
        steps = [
            length * np.array(way) / np.linalg.norm(way)
            for length, way in zip(lengths, DIRECTIONS[pose], strict=True)
        ]
        return np.vstack([start, start + np.cumsum(steps, axis=0)])

    def body(self, pose: ThumbPose) -> Mesh:
        """Return the thumb as a closed body."""
        centres = self.centres(pose)
        at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(centres, axis=0), axis=1))])
        curve = CubicSpline(at, centres, bc_type="natural")
        places = [0.0, at[1] / 2.0, at[1], at[2], at[3] - RADII_SHARE[-1] * self.hand_breadth_mm]
        radius = PchipInterpolator(places, np.array(RADII_SHARE) * self.hand_breadth_mm)
        start = -RADII_SHARE[0] * self.hand_breadth_mm
        along = np.linspace(start, at[3], int((at[3] - start) / ROW_MM) + 1)[1:-1]
        size = radius(np.clip(along, 0.0, places[-1])) * _rounded(along, start, (places[-1], at[3]))
        tangent = curve(along, 1)
        tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
        across = np.cross(tangent, [0.0, 0.0, 1.0])
        across /= np.linalg.norm(across, axis=1, keepdims=True)
        up = np.cross(across, tangent)
        angle = 2.0 * np.pi * np.arange(AROUND) / AROUND
        ring = np.cos(angle)[:, None, None] * up - np.sin(angle)[:, None, None] * across
        rows = curve(along)[:, None] + size[:, None, None] * np.swapaxes(ring, 0, 1)
        return closed_tube(rows, curve(start), centres[-1])


def _rounded(along: Floats, start: float, end: tuple[float, float]) -> Floats:
    """Scale of the section (n,): 0 at the start, 1 from 0 on, and back to 0 over the end."""
    before = np.clip(along / start, 0.0, 1.0)
    after = np.clip((along - end[0]) / (end[1] - end[0]), 0.0, 1.0)
    return np.sqrt((1.0 - before**2) * (1.0 - after**2))
