"""Integrity: each part is one closed body that does not run through itself."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from print3d.checks.finding import Finding, Place, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import at
from print3d.language.message import message

ORDER = 10
"""Its place among the findings."""

INSIDE_MM = 2e-3
"""The winding number is taken this far inside each triangle; it must be 1 there."""
WINDING_TOLERANCE = 0.5
"""Winding numbers are whole: one that is farther off is another number."""
SAMPLE_AREA_MM2 = 0.5
"""Samples lie evenly over the area, one for this much of it; an overlap must hold the middle of one such triangle; own
choice."""
MOST_SAMPLES = 12000
"""Samples of a part at most, as a forearm's; own choice."""


def check_integrity(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that every part is closed, single, turned outward and free of overlaps."""
    return [finding for part in orthosis.parts for finding in _of_part(part)]


def _of_part(part: Part) -> list[Finding]:
    mesh, pattern = part.shell.mesh, part.definition.pattern
    open_edges, where_open = measure_open_edges(mesh)
    bodies, where_loose = measure_bodies(mesh)
    planned = len(pattern.holes) + len(pattern.boundary) - 1
    overlaps, where_overlap = measure_overlaps(mesh)

    def count(row: str, number: int, most: int, source: str, where: Place | None, **more: float) -> Finding:
        said = values(part=part_name(part.name), **more)
        return Finding(
            f"integrity.{row}",
            number,
            most,
            "",
            "at most",
            message(source),
            about(part.name),
            said,
            where=where,
        )

    return [
        count("open_edges", open_edges, 0, "sources.closed_edges", where_open),
        count("bodies", bodies, 1, "sources.own_piece", where_loose),
        count(
            "handles", abs(count_handles(mesh) - planned), 0, "sources.own_openings", None, planned=planned
        ),
        count(
            "overlaps",
            overlaps,
            0,
            "sources.own_overlap",
            where_overlap,
            inside_mm=INSIDE_MM,
            triangles=len(_sampled(mesh)),
        ),
    ]


def measure_open_edges(mesh: Mesh) -> tuple[int, tuple[float, float, float] | None]:
    """Return how many directed edges lack exactly one opposite, and where the first is."""
    edges = np.vstack([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    n = len(mesh.vertices)
    forward, backward = edges[:, 0] * n + edges[:, 1], edges[:, 1] * n + edges[:, 0]
    in_order = np.sort(forward)
    if (
        np.array_equal(in_order, np.sort(backward))
        # guard: a triangle once
        and (np.diff(in_order) > 0).all()
    ):
        return 0, None
    unique, counts = np.unique(forward, return_counts=True)
    bad = ~np.isin(forward, backward) | np.isin(forward, unique[counts > 1])
    return int(bad.sum()), at(mesh.vertices[edges[bad][0]].mean(axis=0))


def measure_bodies(mesh: Mesh) -> tuple[int, tuple[float, float, float] | None]:
    """Return the number of connected pieces, and where the smallest is if there are several."""
    faces, n = mesh.faces, len(mesh.vertices)
    pairs = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]]])
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    labels = connected_components(graph, directed=False)[1][faces[:, 0]]
    names, counts = np.unique(labels, return_counts=True)
    if len(names) == 1:
        return 1, None
    loose = faces[labels == names[np.argmin(counts)]]
    return len(names), at(mesh.vertices[loose].mean(axis=(0, 1)))


def count_bodies(mesh: Mesh) -> int:
    """Return the number of connected pieces."""
    return measure_bodies(mesh)[0]


def count_handles(mesh: Mesh) -> int:
    """Return the number of through openings of a closed body (its genus)."""
    euler = len(np.unique(mesh.faces)) - len(mesh.faces) // 2
    return (2 - euler) // 2


def measure_overlaps(mesh: Mesh) -> tuple[int, tuple[float, float, float] | None]:
    """Return at how many sampled triangles the winding number just inside is not 1, and where the first is."""
    import igl

    areas = mesh.area_vectors()
    chosen = _sampled(mesh)
    normals = areas[chosen] / np.maximum(np.linalg.norm(areas[chosen], axis=1, keepdims=True), 1e-30)
    inside = mesh.corners()[chosen].mean(axis=1) - INSIDE_MM * normals
    winding = igl.fast_winding_number(
        np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.faces), np.ascontiguousarray(inside)
    )
    bad = np.abs(winding - 1.0) > WINDING_TOLERANCE
    if bad.any():  # the fast number is off near long thin triangles; the exact one is asked where it matters
        exact = igl.winding_number(mesh.vertices, mesh.faces, np.ascontiguousarray(inside[bad]))
        bad[bad] = np.abs(exact - 1.0) > WINDING_TOLERANCE
    return int(bad.sum()), at(inside[bad][0]) if bad.any() else None


def _sampled(mesh: Mesh) -> NDArray[np.int64]:
    """Triangles evenly over the area: rims have most triangles, faces most of the room."""
    area = np.cumsum(np.linalg.norm(mesh.area_vectors(), axis=1)) / 2
    n = min(MOST_SAMPLES, int(np.ceil(area[-1] / SAMPLE_AREA_MM2)))
    steps = (np.arange(n) + 0.5) / n * area[-1]
    return np.unique(np.minimum(np.searchsorted(area, steps), len(area) - 1))
