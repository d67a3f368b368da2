"""Whether a body fits a build space."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from print3d.geometry.frames import flexion_rotation

Floats = NDArray[np.float64]

TILT_DEG = 5.0
"""Positions tried: tilted about the radial axis in such steps, then each side of the box along each side of the bed."""


def fits_bed(vertices: Floats, bed_mm: Sequence[float]) -> bool:
    """Whether points (n, 3) of the limb frame fit the build space (3,) in some position tilted about the radial axis."""
    offered = np.sort(bed_mm)
    sizes = np.sort(_tilted_sizes(vertices), axis=1)
    return bool((sizes <= offered).all(axis=1).any())


def least_box_mm(vertices: Floats) -> Floats:
    """Return the sides (3,), smallest first, of the box with the shortest longest side, tilted about the radial axis."""
    sizes = np.sort(_tilted_sizes(vertices), axis=1)
    return np.asarray(sizes[np.argmin(sizes[:, 2])])


def _tilted_sizes(vertices: Floats) -> Floats:
    """Sizes (k, 3) of the boxes at all tilts, upright first."""
    outer = vertices[ConvexHull(vertices).vertices]
    tilts = np.radians(np.arange(0.0, 180.0, TILT_DEG))
    return np.array([np.ptp(outer @ flexion_rotation(tilt).T, axis=0) for tilt in tilts])
