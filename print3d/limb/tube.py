"""Where points lie along a tube: the station of the posed axis that is nearest to each."""

import numpy as np
from scipy.spatial import KDTree

from print3d.geometry.types import Floats
from print3d.limb.limb import Tube

AXIS_STEP_MM = 0.1
"""Step in which the axis is followed; own choice."""
AXIS_BEYOND_MM = 30.0
"""The axis is followed this far beyond the MCP centre and the tip; own choice."""


def stations_of(tube: Tube, points: Floats) -> Floats:
    """Return the station (n,) of the place of the posed axis that is nearest to each point (n, 3)."""
    along = np.arange(-AXIS_BEYOND_MM, tube.landmarks["tip"] + AXIS_BEYOND_MM, AXIS_STEP_MM)
    axis, dorsal = tube.spine.at(along)
    _, nearest = KDTree(axis[:, [0, 2]]).query(points[:, [0, 2]])
    apart = points - axis[nearest]
    forward = apart[:, 0] * dorsal[nearest, 2] - apart[:, 2] * dorsal[nearest, 0]
    return np.asarray(along[nearest] + forward)
