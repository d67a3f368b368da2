"""Letters: tall, wide and high enough for the process to print them legibly."""

import numpy as np
import shapely
from numpy.typing import NDArray

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import at
from print3d.orthoses.built import Orthosis, Part
from print3d.shell.mesh import FaceKind

Floats = NDArray[np.float64]


def check_marking(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check stroke width, height and depth of the letters of every marked part."""
    findings = []
    for part in orthosis.parts:
        if not part.definition.pattern.marks:
            continue
        contours = [_draped(part, mark.points) for mark in part.definition.pattern.marks]
        where = at(np.vstack(contours).mean(axis=0))
        for what, measured, limit, method in (
            (
                "mean stroke of the letters",
                measure_stroke(part),
                limits.text_width_mm,
                "twice area over contour length",
            ),
            (
                "height of the letters",
                measure_height(contours),
                limits.text_height_mm,
                "extent across the line",
            ),
            (
                "letters stand out or go in by",
                measure_depth(part),
                limits.text_depth_mm,
                "side walls on the mesh",
            ),
        ):
            findings.append(
                Finding("marking", f"{part.name}: {what}", measured, limit.value, "mm", "at least", method,
                        limit.source, where)
            )  # fmt: skip
    return findings


def measure_stroke(part: Part) -> float:
    """Return the mean stroke width (mm) on the skin: twice the letters' area over the length of their contours."""
    area = length = 0.0
    for mark in part.definition.pattern.marks:
        ring, draped = shapely.LinearRing(mark.points), _draped(part, mark.points)
        on_skin = float(np.linalg.norm(draped - np.roll(draped, 1, axis=0), axis=1).sum())
        area += (1.0 if ring.is_ccw else -1.0) * shapely.Polygon(ring).area * (on_skin / ring.length) ** 2
        length += on_skin
    return 2.0 * area / length


def measure_height(contours: list[Floats]) -> float:
    """Return the extent (mm) of all letters across their line: the second widest of three principal directions."""
    points = np.vstack(contours)
    axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2]
    return float(np.ptp(points @ axes[1]))


def measure_depth(part: Part) -> float:
    """Return the least distance (mm) between the outer face and the letters' tops along their side walls."""
    mesh = part.mesh.mesh
    faces = mesh.faces[part.mesh.face_kind == FaceKind.MARK]
    on_outer = np.isin(faces, part.mesh.outer_vertices[: _n_contour_points(part)])
    walls = faces[on_outer.any(axis=1) & ~on_outer.all(axis=1)]
    edges = np.vstack([walls[:, [0, 1]], walls[:, [1, 2]], walls[:, [2, 0]]])
    crossing = edges[np.isin(edges, part.mesh.outer_vertices).sum(axis=1) == 1]
    lengths = np.linalg.norm(mesh.vertices[crossing[:, 0]] - mesh.vertices[crossing[:, 1]], axis=1)
    return float(lengths.min())


def _draped(part: Part, flat: Floats) -> Floats:
    return part.definition.points(flat[:, 0], flat[:, 1], np.full(len(flat), part.definition.wall_mm))


def _n_contour_points(part: Part) -> int:
    """The flat points that lie on loops come first; letters' contours are the last of them."""
    return sum(len(loop.points) for loop in (*part.definition.pattern.rimmed, *part.definition.pattern.marks))
