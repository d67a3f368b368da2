"""Letters: tall, wide and high enough for the process to print them legibly."""

import numpy as np
from numpy.typing import NDArray

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats, Ints
from print3d.shell.mesh import FaceKind

ORDER = 190
"""Its place among the findings."""


def check_marking(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check stroke width, height and depth of the letters of every marked part."""
    findings = []
    for part in orthosis.parts:
        if not part.definition.pattern.marks:
            continue
        tops = letter_tops(part)
        where = at(part.shell.mesh.vertices[np.unique(tops)].mean(axis=0))
        vertices = part.shell.mesh.vertices
        measured = (
            ("stroke", measure_stroke(vertices, tops), limits.text_width_mm),
            ("height", measure_height(vertices[np.unique(tops)]), limits.text_height_mm),
            ("depth", measure_depth(part), limits.text_depth_mm),
        )
        findings += [
            Finding(f"marking.{row}", found, limit.value, "mm", "at least", limit.source, about(part.name),
                    values(part=part_name(part.name)), where=where)
            for row, found, limit in measured
        ]  # fmt: skip
    return findings


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a part is marked."""
    return any(part.definition.pattern.marks for part in orthosis.parts)


def letter_tops(part: Part) -> Ints:
    """Return the triangles (t, 3) of the letters' tops (of their floors, when they go in)."""
    faces = part.shell.mesh.faces[part.shell.face_kind == FaceKind.MARK]
    return faces[~_on_foot(part, faces).any(axis=1)]


def measure_stroke(vertices: Floats, tops: Ints) -> float:
    """Return the mean stroke width (mm): twice the area of the letters' tops over the length of their outlines."""
    corners = vertices[tops]
    area = 0.5 * np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    edges = np.sort(_edges(tops), axis=1)
    unique, counts = np.unique(edges, axis=0, return_counts=True)
    outline = unique[counts == 1]
    length = np.linalg.norm(vertices[outline[:, 0]] - vertices[outline[:, 1]], axis=1)
    return float(2.0 * area.sum() / length.sum())


def measure_height(points: Floats) -> float:
    """Return the extent (mm) of all letters (n, 3) across their line: the second widest of three principal directions."""
    axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2]
    return float(np.ptp(points @ axes[1]))


def measure_depth(part: Part) -> float:
    """Return the least distance (mm) between the outer face and the letters' tops along their side walls."""
    mesh = part.shell.mesh
    faces = mesh.faces[part.shell.face_kind == FaceKind.MARK]
    on_foot = _on_foot(part, faces)
    edges = _edges(faces[on_foot.any(axis=1) & ~on_foot.all(axis=1)])
    crossing = edges[_on_foot(part, edges).sum(axis=1) == 1]
    lengths = np.linalg.norm(mesh.vertices[crossing[:, 0]] - mesh.vertices[crossing[:, 1]], axis=1)
    return float(lengths.min())


def _on_foot(part: Part, vertices: Ints) -> NDArray[np.bool_]:
    """Which vertex numbers lie on the outer face along a loop of the pattern, where a letter's side walls begin.

    The flat points that lie on loops come first.
    """
    pattern = part.definition.pattern
    n_on_loops = sum(len(loop.points) for loop in (*pattern.rimmed, *pattern.marks))
    return np.isin(vertices, part.shell.outer_vertices[:n_on_loops])


def _edges(faces: Ints) -> Ints:
    return np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
