r"""Trim line: how sharp its sharpest bend is, within the shell.

  ____              A corner or a notch of the outside edge catches on sleeves, and presses where skin lies against it.
 /    \___/        It is measured along the middle of the edge's wall; what the edge bends with the shell, around a finger
|                   or over a knuckle, does not count.
"""

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.forms.rim_walls import rim_walls
from print3d.geometry.nearest import at
from print3d.geometry.surface_bends import radii_in_surface

ORDER = 55
"""Its place among the findings."""

WINDOW_MM = 2.0
"""A bend is measured over twice this length: so long that facets do not show, so short that a kink of 20 degrees does; own choice."""


def check_trim_line(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the sharpest bend of every part's outside edge; parts on a finger are small and have smaller corners."""
    limit = limits.hand_trim_radius_mm if orthosis.carrier == "hand" else limits.finger_trim_radius_mm
    findings = []
    for part in orthosis.parts:
        radius, where = measure_trim_radius(part)
        findings.append(
            Finding(
                "trim_line.radius",
                radius,
                limit.value,
                "mm",
                "at least",
                limit.source,
                about(part.name),
                values(part=part_name(part.name), window_mm=2.0 * WINDOW_MM),
                where=where,
            )
        )
    return findings


def measure_trim_radius(part: Part) -> tuple[float, tuple[float, float, float] | None]:
    """Return the radius (mm) of the sharpest bend of a part's outside edges, and where it is."""
    walls, vertices = rim_walls(part), part.shell.mesh.vertices
    sharpest, where = np.inf, None
    for number in range(len(part.definition.pattern.boundary)):
        rim = vertices[part.shell.rims[number]]
        radii, places = radii_in_surface(walls[number].mean(axis=0), rim[-1] - rim[0], WINDOW_MM)
        if radii.min() < sharpest:
            sharpest, where = float(radii.min()), at(places[int(np.argmin(radii))])
    return sharpest, where
