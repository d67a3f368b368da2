"""Skin gap: the distance from the inner face to the posed skin, everywhere."""

import numpy as np

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.nearest import Surface, at, skin_surface
from print3d.geometry.types import Floats

ORDER = 70
"""Its place among the findings."""

PERCENTILE = 95.0
"""Of the places of a part: single ones in sharp bends do not decide; own choice."""


def check_gap(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that nothing presses into the skin and that the planned clearance is there."""
    skin = skin_surface(orthosis.limb)
    findings = []
    for part in orthosis.parts:
        gap = measure_gap(part, skin)
        inner = part.shell.mesh.vertices[part.skin_vertices]
        tightest = int(np.argmin(gap))
        off = np.abs(gap - part.planned_gap_mm)
        farthest = int(np.argmax(off))
        method = f"signed distance of {len(gap)} points of the skin side to the posed skin"
        findings.append(
            Finding("gap", f"{part.name}: least gap to the skin", float(gap[tightest]), -limits.penetration_mm.value,
                    "mm", "at least", method, limits.penetration_mm.source, at(inner[tightest]))
        )  # fmt: skip
        findings.append(
            Finding("gap", f"{part.name}: gap off its plan (95 of 100 places are nearer)", float(np.percentile(off, PERCENTILE)),
                    limits.gap_deviation_mm.value, "mm", "at most", method, limits.gap_deviation_mm.source,
                    at(inner[farthest]))
        )  # fmt: skip
    return findings


def measure_gap(part: Part, skin: Surface) -> Floats:
    """Return the gap (n_flat,) mm at every point of the part's skin side, negative inside the skin."""
    return skin.signed(part.shell.mesh.vertices[part.skin_vertices])
