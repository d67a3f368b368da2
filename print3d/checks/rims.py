"""Rims: how round the skin-side edge of every trim line and opening is."""

import numpy as np
from numpy.typing import NDArray

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import at
from print3d.orthoses.built import Orthosis, Part

Floats = NDArray[np.float64]
WINDOW = 3
"""A circle spans two of so many parts of the skin-side quarter: short enough for a corner, long enough to be steady."""


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
                    f"circles through the rim's section, at {sum(map(len, radii))} places", limits.rim_radius_mm.source,
                    at(part.mesh.mesh.vertices[place]))
        )  # fmt: skip
    return findings


def measure_rim_radii(part: Part, number: int) -> Floats:
    """Return the least radius (n,) within one rim's skin-side quarter at every sample of its loop.

    Circles run through three points of the section each. One circle over the whole quarter would read 0.7 r at a
    square corner and miss it.
    """
    rim = part.mesh.rims[number]
    rows = part.mesh.mesh.vertices[rim[: (len(part.definition.rim_profile()) + 1) // 2]]
    step = max(1, (len(rows) - 1) // WINDOW)
    starts = range(len(rows) - 2 * step)
    return np.min([circumradius(*rows[start : start + 2 * step + 1 : step]) for start in starts], axis=0)


def circumradius(a: Floats, b: Floats, c: Floats) -> Floats:
    """Return the radius (n,) of the circles through three points (n, 3) each: product of sides over 4 areas."""
    sides = [np.linalg.norm(p - q, axis=1) for p, q in ((a, b), (b, c), (c, a))]
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return np.asarray(sides[0] * sides[1] * sides[2] / np.maximum(4.0 * area, 1e-12))
