"""Ridges that stiffen a shell: how much they add to the second moment of its section.

Sections run across the mesh where the pattern's `along` is constant, from lip to lip. They are held against the same band without
ridges: the limb's own section, moved outward by the clearance and by the wall.
"""

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats
from print3d.limb.limb import Limb, Sheet, sheet_of

ORDER = 160
"""Its place among the findings."""

SECTIONS = 9
"""Sections across the ridges; own choice."""
SKIN_SAMPLES = 400
"""Half the points of the skin's section; own choice."""


def check_ribs(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that ridges are worth their room."""
    return [
        _finding(part, orthosis.limb, limits) for part in orthosis.parts if part.stiffened_along is not None
    ]


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a part has ridges."""
    return any(part.stiffened_along is not None for part in orthosis.parts)


def _finding(part: Part, limb: Limb, limits: CheckLimits) -> Finding:
    places = np.linspace(*(part.stiffened_along or (0.0, 0.0)), SECTIONS)
    found = np.array([measure_second_moments(part, limb, place) for place in places])
    least, limit = int(np.argmin(found[:, 0] / found[:, 1])), limits.rib_gain
    with_ribs, without = found[least]
    inner, _ = band(part, places[least])
    words = values(part=part_name(part.name), sections=SECTIONS, with_mm4=with_ribs, without_mm4=without)
    return Finding("ribs.gain", float(with_ribs / without), limit.value, "", "at least", limit.source, about(part.name),
                   words, where=at(inner[len(inner) // 2]))  # fmt: skip


def measure_second_moments(part: Part, limb: Limb, along: float) -> tuple[float, float]:
    """Return the second moments (mm4) of a section at a pattern place, and of the band without ridges."""
    inner, outer = band(part, along)
    lips, middle = inner[[0, -1]], inner.mean(axis=0)
    across = (lips[1] - lips[0]) / np.linalg.norm(lips[1] - lips[0])
    up = outer[len(outer) // 2] - lips.mean(axis=0)
    up -= (up @ across) * across
    plane = np.array([across, up / np.linalg.norm(up)])

    flat_inner, flat_outer = ((each - middle) @ plane.T for each in (inner, outer))
    skin = (_skin_below(sheet_of(limb, part.side or "dorsal"), along, inner) - middle) @ plane.T
    clearance = float(np.linalg.norm(flat_inner[:, None] - skin[None], axis=2).min(axis=1).min())
    normal = np.gradient(skin, axis=0) @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    plain = [skin + (clearance + wall) * normal for wall in (0.0, part.definition.wall_mm)]
    return second_moment_mm4(flat_inner, flat_outer), second_moment_mm4(*plain)


def band(part: Part, along: float) -> tuple[Floats, Floats]:
    """Return where inner and outer face (k, 3) of the mesh cross a pattern place along.

    Points run from ulnar to radial lip.
    """
    shell = part.shell
    edges = np.sort(np.vstack([shell.flat_faces[:, pair] for pair in ([0, 1], [1, 2], [2, 0])]), axis=1)
    before = shell.pattern_points[:, 0] < along
    edges = np.unique(edges[before[edges[:, 0]] != before[edges[:, 1]]], axis=0)
    ends = shell.pattern_points[edges]
    share = ((along - ends[:, 0, 0]) / (ends[:, 1, 0] - ends[:, 0, 0]))[:, None]
    order = np.argsort(ends[:, 0, 1] + share[:, 0] * (ends[:, 1, 1] - ends[:, 0, 1]))
    lines = []
    for vertices in (shell.inner_vertices, shell.outer_vertices):
        first, second = np.moveaxis(shell.mesh.vertices[vertices[edges]], 1, 0)
        lines.append((first + share * (second - first))[order])
    return lines[0], lines[1]


def _skin_below(unrolled: Sheet, along: float, inner: Floats) -> Floats:
    """The limb's skin (n, 3) under a section, between its lips."""
    around = np.linspace(-0.3, 0.3, 2 * SKIN_SAMPLES) * unrolled.reference_girth_mm
    skin = unrolled.points(np.full(len(around), along), around)
    first, last = (int(np.linalg.norm(skin - lip, axis=1).argmin()) for lip in inner[[0, -1]])
    return skin[first : last + 1]


def second_moment_mm4(inner: Floats, outer: Floats) -> float:
    """Return the second moment (mm4) of the band between two lines (n, 2), by Green's theorem.

    It is taken about the band's own axis along the first coordinate.
    """
    ring = np.vstack([inner, outer[::-1]])
    (x, y), (following_x, following_y) = ring.T, np.roll(ring, -1, axis=0).T
    cross = x * following_y - following_x * y
    area = cross.sum() / 2.0
    height = ((y + following_y) * cross).sum() / (6.0 * area)
    about_origin = ((y**2 + y * following_y + following_y**2) * cross).sum() / 12.0
    return float(abs(about_origin - area * height**2))
