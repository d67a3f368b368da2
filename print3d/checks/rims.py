"""Rims: how round the skin-side edge of every trim line and opening is."""

import numpy as np
from numpy.typing import NDArray

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import at
from print3d.orthoses.built import Orthosis, Part

Floats = NDArray[np.float64]


def check_rims(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the sharpest place of all skin-side edges."""
    findings = []
    for part in orthosis.parts:
        radii = [measure_rim_radii(part, number) for number in range(len(part.mesh.rims))]
        sharpest = [float(each.min()) for each in radii]
        number = int(np.argmin(sharpest))
        place = part.mesh.rims[number][0][int(np.argmin(radii[number]))]
        findings.append(
            Finding("rims", f"{part.name}: sharpest skin-side edge (radius)", sharpest[number],
                    limits.rim_radius_mm.value, "mm", "at least",
                    f"circle through the rim's section, at {sum(map(len, radii))} places", limits.rim_radius_mm.source,
                    at(part.mesh.mesh.vertices[place]))
        )  # fmt: skip
    return findings


def measure_rim_radii(part: Part, number: int) -> Floats:
    """Return the radius (n,) of one rim's skin-side quarter at every sample of its loop.

    The circle runs through the first, the middle and the last point of the quarter next to the skin.
    """
    rim = part.mesh.rims[number]
    quarter = (len(part.definition.rim_profile()) + 1) // 2
    last = quarter - 1
    a, b, c = (part.mesh.mesh.vertices[rim[row]] for row in (0, last // 2, last))
    return circumradius(a, b, c)


def circumradius(a: Floats, b: Floats, c: Floats) -> Floats:
    """Return the radius (n,) of the circles through three points (n, 3) each: product of sides over 4 areas."""
    sides = [np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))]
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return np.asarray(sides[0] * sides[1] * sides[2] / np.maximum(4.0 * area, 1e-12))
