"""How the back of a limb runs over a bending joint, along its own skin.

    skin at height h        Every point keeps its distance from the joint: turned by an angle that grows smoothly over a zone,
  ___________               so that skin over a flexed knuckle is the arc it really is, and never cuts into either segment.
             `.             `along` is length on the skin at the joint's own height: a knuckle makes the back longer by height
------- o      `            times angle, which the coordinate contains.
          `.    `
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.integrate import cumulative_simpson
from scipy.interpolate import CubicSpline

from print3d.geometry.types import Floats

EASE = 1.22
"""Half-length of the zone over (height x angle): the skin then nowhere runs backwards, as long as this is above 0.94."""
SWAY_SAMPLES = 401
"""Places of the zone at which its length is summed up; own choice."""
LEAST_REACH_SHARE = 0.35
"""Half-length of the zone is at least this share of the height."""


@dataclass(frozen=True)
class Fold:
    """One joint as the skin sees it.

    turn_rad : by how much the distal side is flexed
    height_mm : of the skin above the joint's axis
    """

    turn_rad: float
    height_mm: float

    @property
    def reach_mm(self) -> float:
        """Half-length of the zone over which the skin bends."""
        return self.height_mm * max(EASE * abs(self.turn_rad), LEAST_REACH_SHARE)

    @property
    def longer_mm(self) -> float:
        """Half of what the back of the limb gains in length by the bend."""
        return self.height_mm * self.turn_rad / 2.0

    def at(self, along_mm: Floats) -> tuple[Floats, Floats]:
        """Return distances from the joint along the segments, and angles turned (rad), for lengths along the skin (n,).

        The skin at height z above the axis lies at distance * t(angle) + z * n(angle) from the joint, t along, n across.
        """
        angle = self.turn_rad * _smooth(np.clip(0.5 + 0.5 * along_mm / self.reach_mm, 0.0, 1.0))
        return along_mm - self.height_mm * (angle - self.turn_rad / 2.0), angle


@dataclass(frozen=True)
class Sway:
    """Deviation at the wrist: everything proximal of it turned sideways in the plane of the hand, section by section.

    Sections stay plane and keep their shape, and so their girth; beyond the zone the limb is turned as a rigid body.

    turn_rad : ulnar deviation of the hand; the elbow then lies to the ulnar side
    reach_mm : half-length of the zone over which the limb bends, about the origin
    """

    turn_rad: float
    reach_mm: float

    def bent(self, points: Floats) -> Floats:
        """Return where points (n, 3) of the limb with a straight wrist come to lie."""
        if not self.turn_rad:
            return points
        inside = np.clip(points[:, 0], -self.reach_mm, self.reach_mm)
        angle, beyond = self._angle(inside), points[:, 0] - inside
        ahead, aside = np.cos(angle), np.sin(angle)
        middle = self._middle(inside) + beyond[:, None] * np.column_stack([ahead, aside])
        return np.column_stack(
            [middle[:, 0] - points[:, 1] * aside, middle[:, 1] + points[:, 1] * ahead, points[:, 2]]
        )

    def _angle(self, inside: Floats) -> Floats:
        return self.turn_rad * _smooth(0.5 - 0.5 * inside / self.reach_mm)

    @cached_property
    def _middle(self) -> CubicSpline:
        """The limb's middle line over the zone, whose distal end is not moved."""
        x = np.linspace(-self.reach_mm, self.reach_mm, SWAY_SAMPLES)
        angle = self._angle(x)
        line = cumulative_simpson(np.column_stack([np.cos(angle), np.sin(angle)]), x=x, axis=0, initial=0.0)
        return CubicSpline(x, line - line[-1] + [self.reach_mm, 0.0])


def placed(joint: Floats, distance: Floats, height: Floats, angle: Floats) -> Floats:
    """Return points (n, 3) along directions that are turned by `angle` (n,) at joints (n, 3).

    distance, height : (n,) mm along and across each direction
    """
    sine, cosine = np.sin(angle), np.cos(angle)
    shift = np.column_stack(
        [distance * cosine + height * sine, np.zeros_like(height), height * cosine - distance * sine]
    )
    return joint + shift


def _smooth(t: Floats) -> Floats:
    """From 0 to 1 with no slope and no curvature at either end."""
    return np.asarray(t**3 * (10.0 - 15.0 * t + 6.0 * t**2))
