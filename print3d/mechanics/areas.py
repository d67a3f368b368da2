"""Plane sections of a closed mesh as a beam sees them: area, centroid and second moments.

A beam of such sections gives way by an angle, which is worked out too.

A triangle that crosses the plane leaves an oriented piece of the section's outline; Green's theorem turns integrals over the section
into sums over these pieces, which need not even be put in order.
"""

from dataclasses import dataclass

import numpy as np

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats


@dataclass(frozen=True, eq=False)
class SectionArea:
    """A plane section in the coordinates (u, v) of its plane.

    area_mm2 : of the material
    centroid : (2,) mm
    second_moments_mm4 : (3,) about the centroid: of u squared, of v squared, of u times v
    """

    area_mm2: float
    centroid: Floats
    second_moments_mm4: Floats


def section_area(mesh: Mesh, origin: Floats, u: Floats, v: Floats) -> SectionArea | None:
    """Return the section by a plane, or None where it misses.

    origin, u, v : (3,) a point of the plane and two unit directions in it
    """
    edges = _outline(mesh, origin, np.cross(u, v))
    if not len(edges):
        return None
    flat = (edges - origin) @ np.column_stack([u, v])
    x, y = flat[:, 0].T
    p, q = flat[:, 1].T
    cross = x * q - p * y
    area = float(cross.sum()) / 2.0
    centroid = np.array([((x + p) * cross).sum(), ((y + q) * cross).sum()]) / (6.0 * area)
    moments = np.array(
        [
            ((x * x + x * p + p * p) * cross).sum() / 12.0,
            ((y * y + y * q + q * q) * cross).sum() / 12.0,
            ((x * q + 2.0 * x * y + 2.0 * p * q + p * y) * cross).sum() / 24.0,
        ]
    )
    steiner = area * np.array([centroid[0] ** 2, centroid[1] ** 2, centroid[0] * centroid[1]])
    return SectionArea(area, centroid, moments - steiner)


def _outline(mesh: Mesh, origin: Floats, normal: Floats) -> Floats:
    """Pieces (k, 2, 3) of the outline where the plane cuts the triangles.

    The material lies on their left, seen against the normal.
    """
    height = (mesh.vertices - origin) @ normal
    above = height > 0.0
    count = above[mesh.faces].sum(axis=1)
    cut = np.flatnonzero((count == 1) | (count == 2))
    faces, high = mesh.faces[cut], above[mesh.faces[cut]]
    alone = np.where(count[cut] == 1, np.argmax(high, axis=1), np.argmin(high, axis=1))
    turned = faces[np.arange(len(faces))[:, None], (alone[:, None] + np.arange(3)) % 3]
    ends = []
    for other in (1, 2):
        a, b = turned[:, 0], turned[:, other]
        share = (height[a] / (height[a] - height[b]))[:, None]
        ends.append(mesh.vertices[a] + share * (mesh.vertices[b] - mesh.vertices[a]))
    pieces = np.stack(ends, axis=1)
    return np.where((count[cut] == 1)[:, None, None], pieces, pieces[:, ::-1])


def beam_angle_rad(stations: Floats, moments: Floats, rigidities: Floats, joint_moment: float) -> float:
    """Return the angle by which a beam gives way at a joint (Castigliano).

    It is the integral of M^2 / E I over the moment there.

    stations : (n,) mm
    moments : (n,) N mm, bending moment at each
    rigidities : (n,) N mm2, E I at each
    """
    return float(np.trapezoid(moments**2 / rigidities, stations)) / joint_moment
