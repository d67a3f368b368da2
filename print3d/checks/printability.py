"""Printability: whether the process can make each part, in the best position that was found (`printing/plan.py`)."""

from collections.abc import Iterator

import numpy as np

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.nearest import at, surface_of
from print3d.mechanics.inscribed_spheres import SEPARATION_DEG, spheres_beside_rim
from print3d.printing.plan import PrintPlan, plan_print
from print3d.shell.mesh import FaceKind

ORDER = 200
"""Its place among the findings."""

LOOKED_FOR_MM = 4.0
"""Slits wider than this, or than four times the least one, are not told apart."""


def check_printability(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check room, layers, supports and gaps of every part in its best position."""
    findings = []
    for part in orthosis.parts:
        plan = plan_print(part, limits.printer, limits.material)
        findings += [_room(plan, limits), _layers(plan, limits), _slit(part, limits)]
        if limits.printer.max_overhang_deg is not None:
            findings += _supports(part, plan, limits)
    return findings


def measure_narrowest_slit(part: Part, longest_mm: float) -> tuple[float, tuple[float, float, float] | None]:
    """Return the width (mm) of the narrowest slit between a rim and what faces it across air, and where it is.

    `longest_mm` if there is no narrower one. Round holes have no two sides; `checks/openings.py` measures them.
    """
    surface, best, where = surface_of(part.shell.mesh), longest_mm, None
    for number in range(len(part.shell.rims)):
        points, balls = spheres_beside_rim(surface, part, number, longest_mm)
        width = np.where(balls.separation_deg > SEPARATION_DEG, balls.diameter, np.inf)
        narrowest = int(np.argmin(width))
        if width[narrowest] < best:
            best, where = float(width[narrowest]), at(points[narrowest])
    return best, where


def _room(plan: PrintPlan, limits: CheckLimits) -> Finding:
    size = " x ".join(f"{side:.0f}" for side in plan.size_mm)
    bed = " x ".join(f"{side:.0f}" for side in limits.printer.bed_mm)
    return Finding(
        "printability", f"{plan.part}: room left in the build space", plan.room_mm, limits.bed_room_mm.value, "mm",
        "at least", f"{size} mm in {bed} mm, best of some 270 positions and turns", limits.bed_room_mm.source,
    )  # fmt: skip


def _layers(plan: PrintPlan, limits: CheckLimits) -> Finding:
    return Finding(
        "printability", f"{plan.part}: strength left across the layers", 100.0 * plan.strength,
        limits.layer_strength_percent.value, "%", "at least",
        "layer factor of the material over cos2 of the angle between bending and upward direction",
        limits.layer_strength_percent.source, at(plan.weakest_at), limits.watched_layer_strength_percent.value,
    )  # fmt: skip


def _slit(part: Part, limits: CheckLimits) -> Finding:
    longest = max(LOOKED_FOR_MM, 4.0 * limits.gap_mm.value)
    gap, where = measure_narrowest_slit(part, longest)
    return Finding(
        "printability", f"{part.name}: narrowest slit", gap, limits.gap_mm.value, "mm", "at least",
        f"largest balls between rims and what faces them, up to {longest:g} mm", limits.gap_mm.source, where,
    )  # fmt: skip


def _supports(part: Part, plan: PrintPlan, limits: CheckLimits) -> Iterator[Finding]:
    areas = np.linalg.norm(part.shell.mesh.area_vectors(), axis=1)
    skin = float(areas[part.shell.face_kind == FaceKind.INNER].sum())
    yield Finding(
        "printability", f"{plan.part}: skin side marked by supports", 100.0 * plan.supports.skin_mm2 / skin,
        limits.skin_supported_percent.value, "%", "at most",
        "rays down from what hangs over, in the best position", limits.skin_supported_percent.source,
        None if plan.supports.skin_at is None else at(plan.supports.skin_at),
        limits.watched_skin_supported_percent.value,
    )  # fmt: skip
    yield Finding(
        "printability", f"{plan.part}: supports against the part's own mass",
        100.0 * plan.support_mass_g / plan.mass_g, limits.support_percent.value, "%", "at most",
        f"{plan.supports.volume_mm3 / 1000.0:.1f} cm3 below overhangs, filled in part",
        limits.support_percent.source,
    )  # fmt: skip
