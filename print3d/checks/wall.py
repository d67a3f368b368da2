"""Wall thickness: the largest sphere that fits at each place, touching both faces.

Method: `mechanics/inscribed_spheres.py`.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from print3d.checks.finding import Finding, Limit, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import Surface, at, surface_of
from print3d.geometry.types import Floats, Ints
from print3d.language.message import message
from print3d.mechanics.inscribed_spheres import SEPARATION_DEG, spheres_along
from print3d.shell.mesh import FaceKind

ORDER = 20
"""Its place among the findings."""

SAMPLE_MM = 1.0
"""Spacing of samples on either face: a thin spot is seen from both, as from one with samples 0.7 mm apart; narrower ones are found
from the vertices at their tips and by refinement."""
CELL_MM = 4.0
"""Samples are taken cell by cell: what one search read is still at hand for the next, which saves a third of the time."""
START_MM = 4.5
"""Largest diameter looked for, or 1.6 walls if that is more: keeps the search short."""
REFINED = 200
"""Thinnest places around which the wall is measured once more; own choice."""
REFINE_ROUNDS = 4
"""Rounds in which it is measured more finely; own choice."""
SHARP_DEG = 5.0
"""Vertices at which the judged faces bend more than this are samples too."""


def check_wall(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the thinnest wall against the process and against what was asked."""
    return [finding for part in orthosis.parts for finding in _of_part(part, limits)]


def _of_part(part: Part, limits: CheckLimits) -> Iterator[Finding]:
    judged = np.isin(part.shell.face_kind, (FaceKind.INNER, FaceKind.OUTER))
    longest = max(START_MM, 1.6 * part.definition.wall_mm)
    thickness, where = measure_thinnest_wall(surface_of(part.shell.mesh), judged, longest)
    asked = limits.asked_ring_wall_mm if part.rings else limits.asked_wall_mm
    rows = {"thinnest": limits.wall_mm}
    if part.definition.mark_height_mm > 0 or not part.definition.pattern.marks:
        rows["asked"] = Limit(asked.value - limits.wall_tolerance_mm.value, asked.source)
    how = message("checks.wall.how.ball", separation_deg=SEPARATION_DEG, apart_mm=SAMPLE_MM)
    for row, limit in rows.items():
        yield Finding(
            f"wall.{row}",
            thickness,
            limit.value,
            "mm",
            "at least",
            limit.source,
            about(part.name),
            values(part=part_name(part.name), asked_mm=asked.value),
            (how,),
            where=where,
        )


def measure_thinnest_wall(
    surface: Surface, judged: NDArray[np.bool_], longest_mm: float = START_MM
) -> tuple[float, tuple[float, float, float] | None]:
    """Return the thinnest wall (mm) seen from the judged triangles (m,), and where it is.

    Without any two facing contacts up to `longest_mm` apart the result is infinite.
    """
    faces = np.flatnonzero(judged)
    area = np.linalg.norm(surface.mesh.area_vectors()[faces], axis=1).sum()
    samples, on = surface.area_even_samples(faces, max(200, int(area / SAMPLE_MM**2)))
    tips, tip_normals = _sharp_vertices(surface, faces)
    points, normals = np.vstack([samples, tips]), np.vstack([surface.face_normals[on], tip_normals])
    in_cells = np.lexsort(np.floor(points / CELL_MM).T)
    points, normals = points[in_cells], normals[in_cells]
    best, where = np.inf, None
    spread = SAMPLE_MM / 2
    rng = np.random.default_rng(1)
    for _ in range(REFINE_ROUNDS + 1):
        spheres = spheres_along(surface, points, normals, longest_mm)
        passing = np.flatnonzero((spheres.separation_deg > SEPARATION_DEG) & (spheres.diameter > 0.05))
        if len(passing) == 0:
            break
        order = passing[np.argsort(spheres.diameter[passing])][:REFINED]
        if spheres.diameter[order[0]] < best:
            best, where = float(spheres.diameter[order[0]]), at(points[order[0]])
        seeds = np.vstack([points[order], spheres.contacts[order]])
        feet = _feet(points[order], normals[order], spheres.contacts[order])
        points, on = _snapped(surface, np.vstack([seeds + rng.normal(0.0, spread, seeds.shape), feet]))
        points, normals = points[judged[on]], surface.face_normals[on[judged[on]]]
        spread /= 2
    return best, where


def _sharp_vertices(surface: Surface, faces: Ints) -> tuple[Floats, Floats]:
    """Vertices (n, 3) at which the given triangles bend, and their mean normals (n, 3).

    The tip of a pit narrower than the samples' spacing is such a vertex.
    """
    corners = surface.mesh.faces[faces]
    mean = np.zeros_like(surface.mesh.vertices)
    np.add.at(mean, corners, surface.mesh.area_vectors()[faces][:, None, :])
    mean /= np.maximum(np.linalg.norm(mean, axis=1, keepdims=True), 1e-30)
    straightness = np.einsum("ijk,ik->ij", mean[corners], surface.face_normals[faces])
    sharp = np.unique(corners[straightness < np.cos(np.radians(SHARP_DEG))])
    return surface.mesh.vertices[sharp], mean[sharp]


def _feet(points: Floats, normals: Floats, contacts: Floats) -> Floats:
    """The contacts (n, 3) seen straight onto the planes of their samples.

    There a sphere under a sharp tip faces it.
    """
    across = contacts - points
    return contacts - np.einsum("ij,ij->i", across, normals)[:, None] * normals


def _snapped(surface: Surface, points: Floats) -> tuple[Floats, Ints]:
    """Points moved onto the surface and a little towards the middle of their triangle, off its edges."""
    _, faces, near = surface.nearest(points)
    return near + 0.03 * (surface.mesh.corners()[faces].mean(axis=1) - near), faces
