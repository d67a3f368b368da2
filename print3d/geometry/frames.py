"""Frames, units and signs, written once.

Units: mm, N, MPa, kPa, g. Degrees at every border (`_deg`), radians inside functions (`_rad`).

Limb frame, right-handed, for the RIGHT hand lying palm down, fingers away from the reader:

              z dorsal
              |   x distal (to the fingertips)       one finger:        origin at the MCP joint centre
              |  /                                   hand and forearm:  origin at the wrist centre
              | /
    ----------+---- y ... of the right hand, palm down, the thumb lies on the LEFT of somebody who looks
             /            distally: y points radially, towards the thumb

The left hand is one mirror (y -> -y) at the very end; letters are mirrored once more in the
pattern so that they read right.

Signs: flexion is positive: a distal segment turned by +angle about the joint goes volar (-z).
Extension and hyperextension are negative here; files and pages use words (`dip_hyperextension_deg = 5`).

Around a limb: fraction f of the girth, 0 at the dorsal line, 0.25 near radial, 0.5 volar, 0.75 near ulnar.
"""

import numpy as np

from print3d.geometry.types import Floats

DISTAL = np.array([1.0, 0.0, 0.0])  # x
RADIAL = np.array([0.0, 1.0, 0.0])  # y
DORSAL = np.array([0.0, 0.0, 1.0])  # z


def flexion_rotation(flexion_rad: float) -> Floats:
    """Return the rotation (3, 3) that flexes: +x turns towards -z, about the radial axis y."""
    c, s = np.cos(flexion_rad), np.sin(flexion_rad)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def rigid(rotation: Floats, origin: Floats) -> Floats:
    """Return the (4, 4) transform that turns by `rotation` and then moves the origin to `origin`."""
    transform = np.eye(4)
    transform[:3, :3] = rotation
    transform[:3, 3] = origin
    return transform


def apply(transform: Floats, points: Floats) -> Floats:
    """Return `points` (n, 3) moved by a (4, 4) transform."""
    return points @ transform[:3, :3].T + transform[:3, 3]


def mirrored(points: Floats) -> Floats:
    """Return `points` (n, 3) reflected from the right hand to the left (y -> -y)."""
    return points * np.array([1.0, -1.0, 1.0])


def inverse(transform: Floats) -> Floats:
    """Return the inverse of a (4, 4) rigid transform."""
    turn = transform[:3, :3].T
    return rigid(turn, -turn @ transform[:3, 3])
