"""Vents and slots: the bridges between them, their distance from the trim lines, and their size."""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import at
from print3d.orthoses.built import Orthosis, Part

Floats = NDArray[np.float64]
FINER = 8
"""Each piece of a rim line is cut into this many, so that the distance between lines is found to 0.01 mm."""
FIRST_REACH_MM, FARTHEST_MM, CANDIDATES = 4.0, 500.0, 60
METHOD = "nearest points of the openings' walls at mid thickness"


def check_openings(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the narrowest bridge, and the smallest opening against the process."""
    findings = []
    for part in orthosis.parts:
        lines = rim_lines(part)
        n_boundary = len(part.definition.pattern.boundary)
        if len(lines) == n_boundary:
            continue
        bridge, where = measure_narrowest_bridge(lines)
        findings.append(
            Finding("openings", f"{part.name}: narrowest bridge between openings, or to a trim line", bridge,
                    limits.bridge_mm.value, "mm", "at least", METHOD, limits.bridge_mm.source, where)
        )  # fmt: skip
        widths = [measure_width(line) for line in lines[n_boundary:]]
        smallest = int(np.argmin(widths))
        findings.append(
            Finding("openings", f"{part.name}: narrowest opening", widths[smallest], limits.hole_mm.value, "mm",
                    "at least", "least width of each opening's wall line, over 36 directions", limits.hole_mm.source,
                    at(lines[n_boundary + smallest].mean(axis=0)))
        )  # fmt: skip
    return findings


def rim_lines(part: Part) -> list[Floats]:
    """Return the outermost line (n, 3) of every rim: boundary first, then the openings."""
    return [part.mesh.mesh.vertices[rim[len(rim) // 2]] for rim in part.mesh.rims]


def measure_narrowest_bridge(lines: list[Floats]) -> tuple[float, tuple[float, float, float] | None]:
    """Return the least distance between any two lines, and where it is."""
    points, owner = np.vstack(lines), np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    tree, reach = KDTree(points), FIRST_REACH_MM
    while True:
        pairs = tree.query_pairs(reach, output_type="ndarray")
        pairs = pairs[owner[pairs[:, 0]] != owner[pairs[:, 1]]]
        if len(pairs) or reach > FARTHEST_MM:
            break
        reach *= 2.0
    if not len(pairs):
        return np.inf, None
    distance = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    rivals = {tuple(owner[pair]) for pair in pairs[np.argsort(distance)[:CANDIDATES]]}
    return min(
        (_between(lines[first], lines[second]) for first, second in rivals), key=lambda found: found[0]
    )


def _between(first: Floats, second: Floats) -> tuple[float, tuple[float, float, float]]:
    """Least distance between two lines, and the place on the first."""
    fine = _refined(first)
    distance, _ = KDTree(_refined(second)).query(fine)
    nearest = int(np.argmin(distance))
    return float(distance[nearest]), at(fine[nearest])


def measure_width(line: Floats) -> float:
    """Return the least width of a closed line (n, 3) in its mean plane."""
    centred = line - line.mean(axis=0)
    plane = np.linalg.svd(centred, full_matrices=False)[2][:2]
    flat = centred @ plane.T
    angle = np.linspace(0.0, np.pi, 36, endpoint=False)
    return float(np.ptp(flat @ np.array([np.cos(angle), np.sin(angle)]), axis=0).min())


def _refined(line: Floats) -> Floats:
    share = np.arange(FINER)[:, None, None] / FINER
    return np.asarray((1.0 - share) * line + share * np.roll(line, -1, axis=0)).reshape(-1, 3)
