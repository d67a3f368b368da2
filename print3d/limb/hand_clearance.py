"""How far a finger can extend until its back bears on a rigid surface.

The surface follows the one skin over all fingers.
"""

from collections.abc import Mapping

import numpy as np
from scipy.spatial import KDTree

from print3d.geometry.frames import apply
from print3d.geometry.types import Floats
from print3d.inputs.measured import FingerName
from print3d.limb.hand import HandLimb
from print3d.limb.joint_id import JointId

SAMPLE_MM = 1.5
"""Spacing of the places that are looked at; own choice."""
BACK_FRACTIONS = np.linspace(-0.22, 0.22, 23)
"""Over the back of a finger from side to side, where it may bear."""
LEAST_APPROACH = 0.3
"""Places that move towards the surface more slowly than this share of the fastest are left out: they slide along it."""


def extension_deg(limb: HandLimb, finger: FingerName, gap_mm: float) -> Mapping[JointId, float]:
    """Return by how much each joint of a finger can extend, alone, until its back bears.

    gap_mm : how far beyond the one skin the back has moved then

    To first order: the distance of each place to that skin over its speed towards it.
    """
    ray, places = limb.rays[finger], _back(limb, finger)
    surface, normals = _skin(limb)
    _, nearest = KDTree(surface).query(places)
    normal = normals[nearest]
    distance = np.einsum("ij,ij->i", surface[nearest] - places, normal) + gap_mm
    place = ray.hand_from_finger()
    axis = place[:3, 1]
    found: dict[JointId, float] = {}
    for joint, at in ray.limb.joints.items():
        centre = apply(place, at.centre[None])[0]
        approach = np.einsum("ij,ij->i", np.cross(-axis, places - centre), normal)
        moved = approach > LEAST_APPROACH * approach.max()
        found[joint] = float(np.degrees((distance[moved] / approach[moved]).min()))
    return found


def _back(limb: HandLimb, finger: FingerName) -> Floats:
    """Places (n, 3) over a finger's back, from its web to its tip."""
    ray = limb.rays[finger]
    low, high = ray.limb.landmarks["web"], ray.limb.landmarks["tip"]
    stations = np.linspace(low, high, int((high - low) / SAMPLE_MM) + 2)[:-1]
    grid = np.meshgrid(stations, BACK_FRACTIONS, indexing="ij")
    return apply(ray.hand_from_finger(), ray.limb.skin_points(grid[0].ravel(), np.mod(grid[1].ravel(), 1.0)))


def _skin(limb: HandLimb) -> tuple[Floats, Floats]:
    """Points and normals (n, 3) of the one skin from the knuckles on."""
    skin = limb.skin
    first, last = skin.station_of("little", 0.0), skin.ends_mm[1]
    stations = np.linspace(first, last, int((last - first) / SAMPLE_MM) + 2)
    fractions = np.linspace(-0.25, 0.25, int(limb.hand_breadth_mm * 1.3 / SAMPLE_MM))
    grid = np.meshgrid(stations, fractions, indexing="ij")
    points = skin.points(grid[0].ravel(), grid[1].ravel()).reshape(*grid[0].shape, 3)
    normals = np.cross(np.gradient(points, axis=0), np.gradient(points, axis=1))
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    return points.reshape(-1, 3), normals.reshape(-1, 3)
