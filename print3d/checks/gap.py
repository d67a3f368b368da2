"""Skin gap: the distance from the inner face to the posed skin, everywhere."""

import numpy as np

from print3d.checks.finding import Finding, Limit, Sense, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import Surface, at, skin_surface
from print3d.geometry.types import Floats
from print3d.language.message import message

ORDER = 70
"""Its place among the findings."""

PERCENTILE = 95.0
"""Of the places of a part: single ones in sharp bends do not decide; own choice."""


def check_gap(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that nothing presses into the skin and that the planned clearance is there."""
    skin = skin_surface(orthosis.limb)
    return [finding for part in orthosis.parts for finding in _of_part(part, skin, limits)]


def _of_part(part: Part, skin: Surface, limits: CheckLimits) -> list[Finding]:
    gap = measure_gap(part, skin)
    inner = part.shell.mesh.vertices[part.skin_vertices]
    off = np.abs(gap - part.planned_gap_mm)
    how = message("checks.gap.how.signed", points=len(gap))

    def row(name: str, measured: float, limit: Limit, sense: Sense, place: int) -> Finding:
        return Finding(
            f"gap.{name}",
            measured,
            limit.value,
            "mm",
            sense,
            limit.source,
            about(part.name),
            values(part=part_name(part.name), percent=PERCENTILE),
            (how,),
            where=at(inner[place]),
        )

    deepest = limits.penetration_mm
    tightest, farthest = int(np.argmin(gap)), int(np.argmax(off))
    return [
        row("least", float(gap[tightest]), Limit(-deepest.value, deepest.source), "at least", tightest),
        row("plan", float(np.percentile(off, PERCENTILE)), limits.gap_deviation_mm, "at most", farthest),
    ]


def measure_gap(part: Part, skin: Surface) -> Floats:
    """Return the gap (n_flat,) mm at every point of the part's skin side, negative inside the skin."""
    return skin.signed(part.shell.mesh.vertices[part.skin_vertices])
