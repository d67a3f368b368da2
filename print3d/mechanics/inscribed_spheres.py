"""Largest spheres that touch a surface at a point and have nothing of it inside.

Their diameter is a wall's thickness, or the width of a gap.

Method: shrinking ball (Ma, Bae and Choi 2012; Inui, Umezu and Shimane 2016) with exact nearest points. At a true local minimum
of a wall the two contacts face each other (180 degrees seen from the sphere's centre); at an edge or a rim they do
not, so contacts closer than 120 degrees are left out.
"""

from dataclasses import dataclass

import numpy as np

from print3d.forms.orthosis import Part
from print3d.geometry.nearest import Surface
from print3d.geometry.types import Floats, Ints

SEPARATION_DEG = 120.0
"""Contacts closer than this, seen from the centre, are those of an edge or a rim; own choice."""
ROUNDS = 30
"""Most rounds of shrinking; own choice."""
SHRUNK_ENOUGH_MM = 1e-5
"""A sphere rests when its centre has no point nearer than its radius by more than this; own choice."""


@dataclass(frozen=True, eq=False)
class InscribedSpheres:
    """Inscribed spheres, one for each point.

    diameter : (n,) mm
    separation_deg : (n,) angle between the two contacts seen from the centre
    contacts : (n, 3) the second contact
    """

    diameter: Floats
    separation_deg: Floats
    contacts: Floats


def inscribed_spheres(surface: Surface, points: Floats, faces: Ints, start_mm: float) -> InscribedSpheres:
    """Return the largest spheres inside the surface that touch it at points (n, 3) on triangles `faces` (n,)."""
    return spheres_along(surface, points, surface.face_normals[faces], start_mm)


def spheres_along(surface: Surface, points: Floats, normals: Floats, start_mm: float) -> InscribedSpheres:
    """Return the largest spheres inside the surface that touch it at points, centred against normals (n, 3)."""
    reach = np.full(len(points), start_mm / 2)
    contacts = points - 2.0 * reach[:, None] * normals
    live = np.arange(len(points))
    for _ in range(ROUNDS):
        centres = points[live] - reach[live, None] * normals[live]
        distance, _, near = surface.nearest(centres)
        shrinking = distance < reach[live] - SHRUNK_ENOUGH_MM
        if not shrinking.any():
            break
        live, near = live[shrinking], near[shrinking]
        across = points[live] - near
        deep = 2.0 * np.einsum("ij,ij->i", across, normals[live])
        squared = np.einsum("ij,ij->i", across, across)
        reach[live] = np.minimum(reach[live], np.where(deep > 1e-9, squared / np.maximum(deep, 1e-9), 0.0))
        contacts[live] = near
    centres = points - reach[:, None] * normals
    first, second = points - centres, contacts - centres
    cosine = np.einsum("ij,ij->i", first, second) / np.maximum(
        np.linalg.norm(first, axis=1) * np.linalg.norm(second, axis=1), 1e-12
    )
    untouched = reach >= start_mm / 2
    separation = np.where(untouched, 0.0, np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
    return InscribedSpheres(2.0 * reach, separation, contacts)


def spheres_beside_rim(
    surface: Surface, part: Part, number: int, longest_mm: float
) -> tuple[Floats, InscribedSpheres]:
    """Return places (n, 3) on the middle of a rim's wall and the spheres in the air that touch it.

    Middles of triangles, not vertices: beside a vertex of a hole's polygon there is room for no sphere at all.
    """
    rim = part.shell.rims[number]
    middle = (len(rim) - 1) // 2
    here, there = rim[middle], np.roll(rim[middle + 1], -1)
    a, b, c = surface.mesh.vertices[[here, np.roll(here, -1), there]]
    outward = np.cross(b - a, c - a)
    outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-30)
    points = (a + b + c) / 3.0
    return points, spheres_along(surface, points, -outward, longest_mm)
