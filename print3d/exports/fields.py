"""Wall thickness and skin gap as maps: a value at each of many points, measured on the finished mesh."""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from print3d.checks.gap import measure_gap
from print3d.checks.nearest import Surface
from print3d.checks.wall import SEPARATION_DEG, START_MM, inscribed_balls
from print3d.orthoses.built import Part

Floats = NDArray[np.float64]


def wall_at(part: Part, points: Floats) -> Floats:
    """Return the wall thickness (n,) mm beside points (n, 3) of a part; not a number at rims, where no two faces lie opposite.

    The ball of `checks/wall.py` in the middle of the triangle nearest to each point.
    """
    mesh = part.mesh.mesh
    surface = Surface(mesh)
    _, faces, _ = surface.nearest(points)
    chosen, of_point = np.unique(faces, return_inverse=True)
    middles = mesh.corners()[chosen].mean(axis=1)
    balls = inscribed_balls(surface, middles, chosen, max(START_MM, 1.6 * part.definition.wall_mm))
    thickness = np.where(balls.separation_deg > SEPARATION_DEG, balls.diameter, np.nan)
    return np.asarray(thickness[of_point.ravel()])


def gap_at(part: Part, skin: Surface, points: Floats) -> Floats:
    """Return the gap (n,) mm to the posed skin on the skin side beside points (n, 3) of a part, negative inside the skin."""
    inner = part.mesh.mesh.vertices[part.skin_vertices]
    _, nearest = KDTree(inner).query(points)
    return measure_gap(part, skin)[nearest]
