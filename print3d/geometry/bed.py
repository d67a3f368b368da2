"""Positions of a body in a build space: side up, turn on the bed, and whether it fits."""

from collections.abc import Sequence
from functools import cache

import numpy as np
from scipy.spatial import ConvexHull

from print3d.geometry.frames import flexion_rotation, rigid
from print3d.geometry.types import Floats

TILT_DEG = 5.0
"""Step of the tilts about the radial axis, and of the turns on the bed, that are tried; own choice."""
N_DIRECTIONS = 200
"""Directions spread over the whole sphere, some 14 degrees apart; own choice."""


@cache
def build_directions() -> Floats:
    """Return the unit vectors (n, 3) of the limb frame that are tried as the upward one.

    200 directions evenly over the sphere (a Fibonacci lattice: golden angle and even heights), and tilts of 5 degrees about
    the radial axis, the axes of the frame among them.
    """
    number = np.arange(N_DIRECTIONS)
    height = 1.0 - (2.0 * number + 1.0) / N_DIRECTIONS
    turn = number * np.pi * (3.0 - np.sqrt(5.0))
    ring = np.sqrt(1.0 - height**2)
    lattice = np.column_stack([ring * np.cos(turn), ring * np.sin(turn), height])
    tilts = np.radians(np.arange(0.0, 360.0, TILT_DEG))
    tilted = np.column_stack([np.sin(tilts), np.zeros(len(tilts)), np.cos(tilts)])
    return np.vstack([lattice, tilted, [[0.0, 1.0, 0.0], [0.0, -1.0, 0.0]]])


def rooms_mm(vertices: Floats, directions: Floats, bed_mm: Sequence[float]) -> tuple[Floats, Floats]:
    """Return the room left and how the body is turned on the bed, for each upward direction (n, 3).

    The room (n,) in mm is the least of what is free above and on either side of points (k, 3); it is negative where they
    do not fit. The second result (n,) is the turn in radians: none where the body fits straight, else the best one.
    """
    outer = vertices[ConvexHull(vertices).vertices]
    above = bed_mm[2] - np.ptp(outer @ directions.T, axis=0)
    sides = np.array([frame_on_bed(up)[:2] for up in directions])
    room, turned = np.minimum(_beside(outer, sides, 0.0, bed_mm), above), np.zeros(len(directions))
    tight = np.flatnonzero((room < 0.0) & (above >= 0.0))
    for turn in np.radians(np.arange(TILT_DEG, 180.0, TILT_DEG)) if len(tight) else ():
        found = np.minimum(_beside(outer, sides[tight], turn, bed_mm), above[tight])
        better = found > room[tight]
        room[tight[better]], turned[tight[better]] = found[better], turn
    return room, turned


def _beside(outer: Floats, sides: Floats, turn_rad: float, bed_mm: Sequence[float]) -> Floats:
    """The room (n,) on either side of points (k, 3) on the bed.

    sides : (n, 2, 3) directions of the bed's two sides, before the turn
    """
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    turned = np.einsum("ij,njk->nik", np.array([[cos, -sin], [sin, cos]]), sides)
    spans = np.ptp(turned @ outer.T, axis=2)
    return np.asarray((np.array(bed_mm[:2]) - spans).min(axis=1) / 2.0)


def frame_on_bed(up: Floats, turn_rad: float = 0.0) -> Floats:
    """Return the rotation (3, 3) from the limb frame to a bed on which `up` (3,) points upward."""
    aside = np.eye(3)[np.argmin(np.abs(up))]
    first = np.cross(aside, up) / np.linalg.norm(np.cross(aside, up))
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    about_up = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(about_up @ np.array([first, np.cross(up, first), up]))


def on_bed(vertices: Floats, up: Floats, turn_rad: float) -> Floats:
    """Return the transform (4, 4) that lays points (n, 3) on the middle of the bed, lowest at height 0."""
    rotation = frame_on_bed(up, turn_rad)
    placed = vertices @ rotation.T
    low, high = placed.min(axis=0), placed.max(axis=0)
    return rigid(rotation, -np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]]))


def fits_bed(vertices: Floats, bed_mm: Sequence[float]) -> bool:
    """Whether points (n, 3) of the limb frame fit the build space (3,) in some position."""
    return bool((rooms_mm(vertices, build_directions(), bed_mm)[0] >= 0.0).any())


def least_box_mm(vertices: Floats) -> Floats:
    """Return the sides (3,), smallest first, of the box with the shortest longest side, tilted about the radial axis."""
    outer = vertices[ConvexHull(vertices).vertices]
    tilts = np.radians(np.arange(0.0, 180.0, TILT_DEG))
    sizes = np.sort([np.ptp(outer @ flexion_rotation(tilt).T, axis=0) for tilt in tilts], axis=1)
    return np.asarray(sizes[np.argmin(sizes[:, 2])])
