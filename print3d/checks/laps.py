"""Parts that lie over each other and are screwed or riveted: holes in line, room to the edges, and a fit between the faces."""

import numpy as np

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.nearest import PointCloud, at, surface_of
from print3d.geometry.types import Floats

ORDER = 150
"""Its place among the findings."""


def check_laps(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check every lap: alignment and edge distance of its holes, and the gap between the two parts."""
    by_name = {part.name: part for part in orthosis.parts}
    findings = []
    for names in orthosis.laps:
        inner, outer = (by_name[name] for name in names)
        findings += [
            _aligned(inner, outer, limits),
            *(_edge(part, limits) for part in (inner, outer)),
            _gap(inner, outer, limits),
            _seat(inner, outer, limits),
        ]
    return findings


def _aligned(inner: Part, outer: Part, limits: CheckLimits) -> Finding:
    off = measure_misalignment(inner, outer)
    worst, limit = int(np.argmax(off)), limits.hole_offset_mm
    where = at(hole_walls(outer)[worst][0].mean(axis=0))
    return Finding("laps", f"{len(off)} holes of {inner.name} and {outer.name}: farthest out of line", float(off[worst]),
                   limit.value, "mm", "at most", "middle of the outer hole from the axis of the inner one", limit.source,
                   where)  # fmt: skip


def measure_misalignment(inner: Part, outer: Part) -> Floats:
    """Return for each hole how far the outer part's middle at the seat lies from the axis of the inner part's hole."""
    off = []
    for below, above in zip(hole_walls(inner), hole_walls(outer), strict=True):
        first, last = below.mean(axis=1)
        axis = (last - first) / np.linalg.norm(last - first)
        across = above[0].mean(axis=0) - last
        off.append(float(np.linalg.norm(across - (across @ axis) * axis)))
    return np.array(off)


def hole_walls(part: Part) -> list[Floats]:
    """Return the two lines (2, n, 3) of each screw hole: its wall towards the skin, and towards the outer face."""
    quarter = (len(part.definition.rim_profile()) + 1) // 2
    return [rim[[quarter - 1, len(rim) - quarter]] for rim in _hole_rims(part)]


def _hole_rims(part: Part) -> list[Floats]:
    """The rims (rows, n, 3) of the screw holes, from the inner face to the outer one."""
    pattern, vertices = part.definition.pattern, part.shell.mesh.vertices
    rims = part.shell.rims[len(pattern.boundary) :]
    return [vertices[rim] for rim, hole in zip(rims, pattern.holes, strict=True) if hole.kind == "opening"]


def _edge(part: Part, limits: CheckLimits) -> Finding:
    distance, where = measure_edge_distance(part)
    limit = limits.hole_edge_mm
    return Finding("laps", f"{part.name}: screw hole nearest to a trim line", distance, limit.value, "mm", "at least",
                   "middle of the hole to the nearest point of the trim line, on the outer face", limit.source,
                   where)  # fmt: skip


def measure_edge_distance(part: Part) -> tuple[float, tuple[float, float, float]]:
    """Return the least distance from a hole's middle to the trim line, and where it is."""
    edge = part.shell.mesh.vertices[part.shell.rims[0][-1]]
    middles = np.array([wall[1].mean(axis=0) for wall in hole_walls(part)])
    distance = np.linalg.norm(middles[:, None] - edge[None], axis=2).min(axis=1)
    nearest = int(np.argmin(distance))
    return float(distance[nearest]), at(middles[nearest])


def _gap(inner: Part, outer: Part, limits: CheckLimits) -> Finding:
    gap, where = PointCloud(outer.shell.mesh.vertices).least_signed(surface_of(inner.shell.mesh), np.eye(4))
    limit = limits.lap_gap_mm
    return Finding("laps", f"{outer.name} over {inner.name}: least gap", gap, limit.value, "mm", "at least",
                   "signed distance of the nearest vertex", limit.source, at(where))  # fmt: skip


def _seat(inner: Part, outer: Part, limits: CheckLimits) -> Finding:
    rings, surface = [rim[0] for rim in _hole_rims(outer)], surface_of(inner.shell.mesh)
    gaps = [float(surface.nearest(ring)[0].max()) for ring in rings]
    worst, limit = int(np.argmax(gaps)), limits.lap_seat_mm
    return Finding("laps", f"{outer.name} over {inner.name}: widest gap at a hole", gaps[worst], limit.value, "mm",
                   "at most", "distance to the inner part all around the hole", limit.source,
                   at(rings[worst].mean(axis=0)))  # fmt: skip
