"""Parts that lie over each other and are screwed or riveted.

Their holes lie in line, with room to the edges, and their faces fit.
"""

import numpy as np

from print3d.checks.finding import Finding, Limit, Place, Sense, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
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


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether parts lap."""
    return bool(orthosis.laps)


def _aligned(inner: Part, outer: Part, limits: CheckLimits) -> Finding:
    off = measure_misalignment(inner, outer)
    worst, limit = int(np.argmax(off)), limits.hole_offset_mm
    where = at(hole_walls(outer)[worst][0].mean(axis=0))
    return _of_both("aligned", (inner, outer), (float(off[worst]), limit), "at most", where, holes=len(off))


def _of_both(
    row: str, parts: tuple[Part, Part], found: tuple[float, Limit], sense: Sense, where: Place, **more: float
) -> Finding:
    """A finding about an inner and an outer part."""
    (inner, outer), (measured, limit) = parts, found
    return Finding(
        f"laps.{row}",
        measured,
        limit.value,
        "mm",
        sense,
        limit.source,
        about(f"{inner.name}, {outer.name}"),
        values(inner=part_name(inner.name), outer=part_name(outer.name), **more),
        where=where,
    )


def measure_misalignment(inner: Part, outer: Part) -> Floats:
    """Return for each hole how far the outer part's middle lies from the inner part's axis at the joint face."""
    off = []
    for below, above in zip(hole_walls(inner), hole_walls(outer), strict=True):
        first, last = below.mean(axis=1)
        axis = (last - first) / np.linalg.norm(last - first)
        across = above[0].mean(axis=0) - last
        off.append(float(np.linalg.norm(across - (across @ axis) * axis)))
    return np.array(off)


def hole_walls(part: Part) -> list[Floats]:
    """Return the two lines (2, n, 3) of each screw hole.

    They are the edges of its wall towards the skin, and towards the outer face.
    """
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
    said = values(part=part_name(part.name))
    return Finding(
        "laps.edge",
        distance,
        limit.value,
        "mm",
        "at least",
        limit.source,
        about(part.name),
        said,
        where=where,
    )


def measure_edge_distance(part: Part) -> tuple[float, tuple[float, float, float]]:
    """Return the least distance from a hole's middle to the trim line, and where it is."""
    edge = part.shell.mesh.vertices[part.shell.rims[0][-1]]
    middles = np.array([wall[1].mean(axis=0) for wall in hole_walls(part)])
    distance = np.linalg.norm(middles[:, None] - edge[None], axis=2).min(axis=1)
    nearest = int(np.argmin(distance))
    return float(distance[nearest]), at(middles[nearest])


def _gap(inner: Part, outer: Part, limits: CheckLimits) -> Finding:
    gap, where = PointCloud(outer.shell.mesh.vertices).least_signed(surface_of(inner.shell.mesh), np.eye(4))
    return _of_both("gap", (inner, outer), (gap, limits.lap_gap_mm), "at least", at(where))


def _seat(inner: Part, outer: Part, limits: CheckLimits) -> Finding:
    rings, surface = [rim[0] for rim in _hole_rims(outer)], surface_of(inner.shell.mesh)
    gaps = [float(surface.nearest(ring)[0].max()) for ring in rings]
    worst = int(np.argmax(gaps))
    where = at(rings[worst].mean(axis=0))
    return _of_both("seat", (inner, outer), (gaps[worst], limits.lap_seat_mm), "at most", where)
