"""Vents and slots: the bridges between them, their distance from the trim lines, and their size."""

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.spatial import KDTree

from print3d.checks.finding import Finding, Limit, Place, Sense, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.forms.rim_walls import rim_walls
from print3d.geometry.nearest import at, skin_surface
from print3d.geometry.types import Floats
from print3d.language.message import message

ORDER = 30
"""Its place among the findings."""

FINER = 8
"""Each piece of a rim line is cut into this many, so that the distance between lines is found to 0.01 mm."""
FIRST_REACH_MM = 4.0
"""Distance within which the narrowest bridge is looked for first; twice as far each time none is found; own choice."""
FARTHEST_MM = 500.0
"""Farther than any two openings of a part lie apart."""
CANDIDATES = 60
"""Nearest pairs of points whose openings are measured exactly; own choice."""
STRAIGHT = float(np.cos(np.radians(10.0)))
"""A width is taken straight across where it lies within 10 degrees of that; own choice."""
FOUND_TO_MM = 0.01
"""The distance between lines is found to this by the pieces above."""
DIRECTIONS = 36
"""The width of an opening is looked for over this many directions, 5 degrees apart."""


def check_openings(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the narrowest bridge, and the smallest opening against the process."""
    return [finding for part in orthosis.parts for finding in _of_part(orthosis, part, limits)]


def applies_to(orthosis: Orthosis, limits: CheckLimits) -> bool:
    """Whether a part has openings, or vents are asked for."""
    return any(
        part.definition.pattern.holes or (limits.asked_vents.value and not part.rings)
        for part in orthosis.parts
    )


def _of_part(orthosis: Orthosis, part: Part, limits: CheckLimits) -> Iterator[Finding]:
    if limits.asked_vents.value and not part.rings:
        yield _vents(part, limits)
    walls = rim_walls(part)
    n_boundary = len(part.definition.pattern.boundary)
    if len(walls) == n_boundary:
        return
    bridge = measure_narrowest_bridge(walls)
    yield _finding("bridge", part, bridge, limits.bridge_mm, "at least", found_to_mm=FOUND_TO_MM)
    widths = [min(map(measure_width, wall)) for wall in walls[n_boundary:]]
    smallest = int(np.argmin(widths))
    narrowest = widths[smallest], at(walls[n_boundary + smallest].mean(axis=(0, 1)))
    yield _finding("narrowest", part, narrowest, limits.hole_mm, "at least", directions=DIRECTIONS)
    if not part.rings:
        yield from _wide_openings(orthosis, part, limits)


def _finding(
    row: str, part: Part, found: tuple[float, Place | None], limit: Limit, sense: Sense, **more: float
) -> Finding:
    measured, where = found
    return Finding(
        f"openings.{row}",
        measured,
        limit.value,
        "mm",
        sense,
        limit.source,
        about(part.name),
        values(part=part_name(part.name), **more),
        where=where,
    )


def _vents(part: Part, limits: CheckLimits) -> Finding:
    asked = limits.asked_vents
    return Finding(
        "openings.vents",
        len(part.definition.pattern.vents),
        asked.value,
        "",
        "at least",
        asked.source,
        about(part.name),
        values(part=part_name(part.name)),
        (message("checks.openings.how.counted"), message("checks.openings.how.smaller")),
    )


def measure_reach(part: Part) -> tuple[Floats, Floats]:
    """Return the width (n,) of each opening where it is narrowest across, and where each one is (n, 3)."""
    vertices, n_boundary = part.shell.mesh.vertices, len(part.definition.pattern.boundary)
    rims = [vertices[rim] for rim in part.shell.rims[n_boundary:]]
    widths = [_narrowest_across(rim) for rim in rims]
    return np.array(widths), np.array([rim[len(rim) // 2].mean(axis=0) for rim in rims])


def _narrowest_across(rim: Floats) -> float:
    """Least width straight across.

    Where a rim has too few points for one to lie straight across another, it is that of its middle line.
    """
    width = float(widths_across(rim).min())
    return width if np.isfinite(width) else measure_width(rim[len(rim) // 2])


def widths_across(rim: Floats) -> Floats:
    """Return how far it is straight across an opening (n,) from each place of its rim.

    rim : (rows, n, 3); places lie on its middle row

    Straight across is within 10 degrees of the wall's normal, so a few percent are lost; a strap slot that bends around the
    limb has no plane to be measured in. Infinite where nothing lies across.
    """
    middle = rim[len(rim) // 2]
    along = np.roll(middle, -1, axis=0) - np.roll(middle, 1, axis=0)
    across = np.cross(along, rim[-1] - rim[0])
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-30)
    between = middle[None] - middle[:, None]
    far = np.linalg.norm(between, axis=2)
    straight = np.einsum("ijk,ik->ij", between, across) > STRAIGHT * far
    return np.asarray(np.where(straight & (far > 0.0), far, np.inf).min(axis=1))


def _wide_openings(orthosis: Orthosis, part: Part, limits: CheckLimits) -> list[Finding]:
    """Whether swollen skin bulges through an opening, and whether one is wide and deep enough to catch a fingertip."""
    low, high = limits.trap_mm
    width, places = measure_reach(part)
    widest = int(np.argmax(width))
    catching = np.flatnonzero((width > low.value) & (width < high.value))
    if len(catching):
        depth, _, _ = skin_surface(orthosis.limb).nearest(places[catching])
        catching = catching[depth + part.definition.wall_mm / 2.0 >= limits.trap_depth_mm.value]
    trap = Finding(
        "openings.trap",
        len(catching),
        0,
        "",
        "at most",
        low.source,
        about(part.name),
        values(
            part=part_name(part.name),
            low_mm=low.value,
            high_mm=high.value,
            deep_mm=limits.trap_depth_mm.value,
        ),
        where=at(places[catching[0]]) if len(catching) else None,
    )
    bulging = width[widest], at(places[widest])
    return [_finding("widest", part, bulging, limits.window_mm, "at most"), trap]


def measure_narrowest_bridge(walls: Sequence[Floats]) -> tuple[float, tuple[float, float, float] | None]:
    """Return the least distance between any two walls (lines, n, 3), and where it is."""
    points = np.vstack([wall.reshape(-1, 3) for wall in walls])
    owner = np.repeat(np.arange(len(walls)), [wall.shape[0] * wall.shape[1] for wall in walls])
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
    found = [_between(walls[first], walls[second]) for first, second in sorted(rivals)]
    return min(found, key=lambda each: each[0])


def _between(first: Floats, second: Floats) -> tuple[float, tuple[float, float, float]]:
    """Least distance between two walls, and the place on the first."""
    fine = _refined(first)
    distance, _ = KDTree(_refined(second)).query(fine)
    nearest = int(np.argmin(distance))
    return float(distance[nearest]), at(fine[nearest])


def measure_width(line: Floats) -> float:
    """Return the least width of a closed line (n, 3) in its mean plane."""
    centred = line - line.mean(axis=0)
    plane = np.linalg.svd(centred, full_matrices=False)[2][:2]
    flat = centred @ plane.T
    angle = np.linspace(0.0, np.pi, DIRECTIONS, endpoint=False)
    return float(np.ptp(flat @ np.array([np.cos(angle), np.sin(angle)]), axis=0).min())


def _refined(wall: Floats) -> Floats:
    """Points (k, 3) close together on all lines of a wall."""
    share = np.arange(FINER)[:, None, None, None] / FINER
    return np.asarray((1.0 - share) * wall + share * np.roll(wall, -1, axis=1)).reshape(-1, 3)
