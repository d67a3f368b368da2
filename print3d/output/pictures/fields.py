"""Wall thickness and skin gap as maps: a value at each of many points, measured on the finished mesh."""

import numpy as np
from scipy.spatial import KDTree

from print3d.checks.gap import measure_gap
from print3d.checks.wall import START_MM
from print3d.forms.orthosis import Part
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.geometry.types import Floats
from print3d.mechanics.inscribed_spheres import SEPARATION_DEG, inscribed_spheres
from print3d.shell.mesh import FaceKind

ON_FACE_MM = 0.5
"""A point this close to inner or outer face is given its value; farther away it lies on a rim or a letter."""


def wall_at(part: Part, points: Floats) -> Floats:
    """Return the wall thickness (n,) mm beside points (n, 3) of a part; not a number on rims and letters.

    The sphere of `mechanics/inscribed_spheres.py` in the middle of the nearest triangle of either face; where that one lies so close to a rim that
    no two faces lie opposite, the nearest sphere at most two walls away.
    """
    mesh, wall_mm = part.shell.mesh, part.definition.wall_mm
    on_faces = np.flatnonzero(np.isin(part.shell.face_kind, (FaceKind.INNER, FaceKind.OUTER)))
    distance, nearest, _ = Surface(Mesh(mesh.vertices, mesh.faces[on_faces])).nearest(points)
    chosen, of_point = np.unique(on_faces[nearest], return_inverse=True)
    middles = mesh.corners()[chosen].mean(axis=1)
    spheres = inscribed_spheres(Surface(mesh), middles, chosen, max(START_MM, 1.6 * wall_mm))
    facing = np.flatnonzero(spheres.separation_deg > SEPARATION_DEG)
    if not len(facing):
        return np.full(len(points), np.nan)
    away, beside = KDTree(middles[facing]).query(middles)
    thickness = np.where(away <= 2.0 * wall_mm, spheres.diameter[facing[beside]], np.nan)
    return np.where(distance < ON_FACE_MM, thickness[of_point.ravel()], np.nan)


def gap_at(part: Part, skin: Surface, points: Floats) -> Floats:
    """Return the gap (n,) mm to the posed skin beside points (n, 3) of a part.

    It is taken on the skin side, and negative inside the skin.
    """
    inner = part.shell.mesh.vertices[part.skin_vertices]
    _, nearest = KDTree(inner).query(points)
    return measure_gap(part, skin)[nearest]
