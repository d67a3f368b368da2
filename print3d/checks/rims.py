"""Rims: how round the skin-side edge of every trim line and opening is.

No other edge or point may be sharper.
"""

import numpy as np
from numpy.typing import NDArray

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits, edge_limit
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats, Ints
from print3d.shell.mesh import FaceKind

ORDER = 50
"""Its place among the findings."""

WINDOW = 3
"""A circle spans two of these parts of the skin-side quarter: short enough for a corner, long enough to be steady."""
FACET_MM = 0.03
"""A bend of the mesh counts as round up to the radius whose arc leaves its corner by this: the facets of a true rim do by 0.02."""


def check_rims(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the sharpest place of all skin-side edges, and the sharpest fold of the skin side and its rims."""
    return [finding for part in orthosis.parts for finding in (_edge(part, limits), _fold(part, limits))]


def _edge(part: Part, limits: CheckLimits) -> Finding:
    radii = measure_rim_radii(part)
    sharpest = [float(each.min()) for each in radii]
    number = int(np.argmin(sharpest))
    place = part.shell.rims[number][0][int(np.argmin(radii[number]))]
    limit = edge_limit(limits.skin_edge_mm, part.definition.wall_mm, limits.rim_radius_mm)
    return Finding(
        "rims.edge",
        sharpest[number],
        limit.value,
        "mm",
        "at least",
        limit.source,
        about(part.name),
        values(part=part_name(part.name), places=sum(map(len, radii))),
        where=at(part.shell.mesh.vertices[place]),
    )


def _fold(part: Part, limits: CheckLimits) -> Finding:
    skin_side = np.isin(part.shell.face_kind, (FaceKind.INNER, FaceKind.RIM))
    fold, where = measure_sharpest_fold(part.shell.mesh, skin_side)
    return Finding(
        "rims.fold",
        fold,
        limits.rim_radius_mm.value,
        "mm",
        "at least",
        limits.rim_radius_mm.source,
        about(part.name),
        values(part=part_name(part.name), leaves_mm=FACET_MM),
        where=where,
    )


def measure_rim_radii(part: Part) -> list[Floats]:
    """Return for each rim the least radius (n,) within its skin-side quarter at every sample of its loop.

    Circles run through three points of the section each. One circle over the whole quarter would read 0.7 r at a
    square corner and miss it. A flat chamfer has no circle at all, but bends where it meets the inner face and the wall.
    """
    quarter = (len(part.definition.rim_profile()) + 1) // 2
    vertices, normals = part.shell.mesh.vertices, _inner_normals(part)
    radii = []
    for rim in part.shell.rims:
        bends = _bends_rad(vertices[rim[: quarter + 1]], normals[rim[0]])
        circles = _least_circles(vertices[rim[:quarter]])
        radii.append(np.minimum(circles, radius_of_bend(bends.max(axis=0))))
    return radii


def measure_sharpest_fold(mesh: Mesh, judged: NDArray[np.bool_]) -> tuple[float, tuple[float, float, float]]:
    """Return the least radius (mm) of the outward folds between judged triangles (m,), and where it is."""
    faces = np.flatnonzero(judged)
    corners = mesh.faces[faces]
    edges = np.sort(np.vstack([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]]), axis=1)
    owner, opposite = np.tile(faces, 3), np.concatenate([corners[:, 2], corners[:, 0], corners[:, 1]])
    order = np.argsort(edges[:, 0] * len(mesh.vertices) + edges[:, 1], kind="stable")
    same = (edges[order[1:]] == edges[order[:-1]]).all(axis=1)
    one, other = order[:-1][same], order[1:][same]
    normals = mesh.area_vectors()
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    across = mesh.vertices[opposite[other]] - mesh.vertices[edges[one, 0]]
    is_outward = np.einsum("ij,ij->i", normals[owner[one]], across) < 0.0
    cosine = np.einsum("ij,ij->i", normals[owner[one]], normals[owner[other]])
    bend = np.where(is_outward, np.arccos(np.clip(cosine, -1.0, 1.0)), 0.0)
    sharpest = int(np.argmax(bend))
    return float(radius_of_bend(bend[sharpest])), at(mesh.vertices[edges[one[sharpest]]].mean(axis=0))


def radius_of_bend(bend_rad: Floats) -> Floats:
    """Return the radius (mm) of the arc that touches both sides of a bend and leaves its corner by `FACET_MM`.

    An arc of radius r inside a bend b leaves the corner by r (1 / cos(b / 2) - 1) (plane geometry).
    """
    return FACET_MM / np.maximum(1.0 / np.maximum(np.cos(bend_rad / 2.0), 1e-6) - 1.0, 1e-6)


def circumradius(a: Floats, b: Floats, c: Floats) -> Floats:
    """Return the radius (n,) of the circles through three points (n, 3) each: product of sides over 4 areas."""
    sides = [np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))]
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return np.asarray(sides[0] * sides[1] * sides[2] / np.maximum(4.0 * area, 1e-12))


def _least_circles(rows: Floats) -> Floats:
    """Least radius (n,) of circles through three rows each of a section (rows, n, 3)."""
    step = max(1, (len(rows) - 1) // WINDOW)
    starts = range(len(rows) - 2 * step)
    return np.asarray(
        np.min([circumradius(*rows[start : start + 2 * step + 1 : step]) for start in starts], axis=0)
    )


def _bends_rad(rows: Floats, inner_normals: Floats) -> Floats:
    """Bends (rows, n) of a rim's section (rows + 1, n, 3), first the one between inner face and rim."""
    pieces = np.diff(rows, axis=0)
    pieces /= np.maximum(np.linalg.norm(pieces, axis=2, keepdims=True), 1e-12)
    leaving = np.arcsin(np.clip(np.abs(np.einsum("ij,ij->i", pieces[0], inner_normals)), 0.0, 1.0))
    between = np.arccos(np.clip(np.einsum("rij,rij->ri", pieces[1:], pieces[:-1]), -1.0, 1.0))
    return np.vstack([leaving[None], between])


def _inner_normals(part: Part) -> Floats:
    """Unit normals (n, 3) of the inner face at its vertices; zero elsewhere."""
    mesh = part.shell.mesh
    inner = part.shell.face_kind == FaceKind.INNER
    return _vertex_normals(mesh.faces[inner], mesh.area_vectors()[inner], len(mesh.vertices))


def _vertex_normals(faces: Ints, areas: Floats, n: int) -> Floats:
    """Return unit normals (n, 3) at vertices from area vectors (m, 3) of triangles (m, 3); zero where none meet."""
    total = np.column_stack(
        [np.bincount(faces.ravel(), np.repeat(column, 3), minlength=n) for column in areas.T]
    )
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-30))
