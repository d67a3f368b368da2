"""Where points lie along a tube: the station of the posed axis that is nearest to each."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import KDTree

from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.limb.limb import Tube

AXIS_STEP_MM = 0.1
"""Step in which the axis is followed; own choice."""
AXIS_BEYOND_MM = 30.0
"""The axis is followed this far beyond the MCP centre and the tip; own choice."""


def stations_of(tube: Tube, points: Floats) -> Floats:
    """Return the station (n,) of the place of the posed axis that is nearest to each point (n, 3)."""
    axis = _axis_of(tube)
    _, nearest = axis.tree.query(points[:, [0, 2]])
    apart, dorsal = points - axis.points[nearest], axis.dorsal[nearest]
    return np.asarray(axis.along[nearest] + apart[:, 0] * dorsal[:, 2] - apart[:, 2] * dorsal[:, 0])


@dataclass(frozen=True, eq=False)
class _Axis:
    """A posed axis in small steps: stations (n,), points and dorsal directions (n, 3)."""

    along: Floats
    points: Floats
    dorsal: Floats
    tree: KDTree


@kept
def _axis_of(tube: Tube) -> _Axis:
    along = np.arange(-AXIS_BEYOND_MM, tube.landmarks["tip"] + AXIS_BEYOND_MM, AXIS_STEP_MM)
    points, dorsal = tube.spine.at(along)
    return _Axis(along, points, dorsal, KDTree(points[:, [0, 2]]))
