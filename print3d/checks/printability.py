"""Printability: whether the process can make each part, in the best position that was found (`printing/plan.py`)."""

from collections.abc import Iterator

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
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
    """Return the width (mm) of the narrowest slit of a rim, and where it is.

    A slit lies between the rim and what faces it across air.

    `longest_mm` if there is no narrower one. Round holes have no two sides; `checks/openings.py` measures them.
    """
    surface, best, where = surface_of(part.shell.mesh), longest_mm, None
    for number in range(len(part.shell.rims)):
        points, spheres = spheres_beside_rim(surface, part, number, longest_mm)
        width = np.where(spheres.separation_deg > SEPARATION_DEG, spheres.diameter, np.inf)
        narrowest = int(np.argmin(width))
        if width[narrowest] < best:
            best, where = float(width[narrowest]), at(points[narrowest])
    return best, where


def _room(plan: PrintPlan, limits: CheckLimits) -> Finding:
    size, bed = plan.size_mm, limits.printer.bed_mm
    words = values(
        part=part_name(plan.part),
        x_mm=size[0], y_mm=size[1], z_mm=size[2],
        bed_x_mm=bed[0], bed_y_mm=bed[1], bed_z_mm=bed[2],
    )  # fmt: skip
    limit = limits.bed_room_mm
    return Finding(
        "printability.room",
        plan.room_mm,
        limit.value,
        "mm",
        "at least",
        limit.source,
        about(plan.part),
        words,
    )


def _layers(plan: PrintPlan, limits: CheckLimits) -> Finding:
    limit, watched = limits.layer_strength_percent, limits.watched_layer_strength_percent
    return Finding(
        "printability.layers", 100.0 * plan.strength, limit.value, "%", "at least", limit.source, about(plan.part),
        values(part=part_name(plan.part)), watch=watched.value, where=at(plan.weakest_at),
    )  # fmt: skip


def _slit(part: Part, limits: CheckLimits) -> Finding:
    limit, longest = limits.gap_mm, max(LOOKED_FOR_MM, 4.0 * limits.gap_mm.value)
    gap, where = measure_narrowest_slit(part, longest)
    return Finding(
        "printability.slit", gap, limit.value, "mm", "at least", limit.source, about(part.name),
        values(part=part_name(part.name), up_to_mm=longest), where=where,
    )  # fmt: skip


def _supports(part: Part, plan: PrintPlan, limits: CheckLimits) -> Iterator[Finding]:
    areas = np.linalg.norm(part.shell.mesh.area_vectors(), axis=1)
    skin = float(areas[part.shell.face_kind == FaceKind.INNER].sum())
    marked, watched, most = (
        limits.skin_supported_percent,
        limits.watched_skin_supported_percent,
        limits.support_percent,
    )
    yield Finding(
        "printability.marked", 100.0 * plan.supports.skin_mm2 / skin, marked.value, "%", "at most", marked.source,
        about(plan.part), values(part=part_name(plan.part)), watch=watched.value,
        where=None if plan.supports.skin_at is None else at(plan.supports.skin_at),
    )  # fmt: skip
    yield Finding(
        "printability.support_mass", 100.0 * plan.support_mass_g / plan.mass_g, most.value, "%", "at most", most.source,
        about(plan.part), values(part=part_name(plan.part), below_cm3=plan.supports.volume_mm3 / 1000.0),
    )  # fmt: skip
