"""Nail in sight: how much of the nail shows past shell and straps.

Enough of it is wanted that it can be pressed white and seen to turn pink again.

         eye            seen straight from above; of a vent or window as much counts as lies over the nail
          |
 ___   ___v_____        shell
(   nail   )
"""

import numpy as np
from numpy.typing import NDArray

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis
from print3d.forms.straps import straps_of
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.nearest import Surface, at
from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.language.message import message
from print3d.limb.joint_id import RayName
from print3d.limb.limb import Tube
from print3d.limb.nail import cells_of, nail_grid

ORDER = 145
"""Its place among the findings."""
LEAST_MM2 = 5.0
"""Less of a nail tells pale from pink no more: a hole 2.5 mm wide; own choice."""
WATCH_MM2 = 20.0
"""A fifth of a nail, 5 mm across: a fingertip can press beside it and the colour is seen to come back; own choice."""
ROWS = 61
"""Points along a nail, some 0.25 mm apart; own choice, a fiftieth of the least that has to show."""
COLUMNS = 41
"""Points across it, as far apart."""
NEAR_MM = 30.0
"""Only what lies this near to a nail fold covers its fingertip; own choice."""
OFF_SKIN_MM = 0.01
"""Lines of sight begin this far above the nail."""


def check_nail(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check how much of each nail shows."""
    bodies = [part.shell.mesh for part in orthosis.parts]
    bodies += [strap.body for strap in straps_of(orthosis, limits.strapping)]
    cover = joined(bodies)
    return [_of_nail(orthosis, ray, tube, cover) for ray, tube in covered_tips(orthosis)]


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether it reaches beyond a nail fold."""
    return bool(covered_tips(orthosis))


@kept
def covered_tips(orthosis: Orthosis) -> tuple[tuple[RayName, Tube], ...]:
    """Return the fingers whose last phalanx lies in or under a part, with the finger as sections."""
    points = np.vstack([part.shell.mesh.vertices for part in orthosis.parts])
    found = []
    for ray, chain in orthosis.limb.by_ray.items():
        tube = chain.tube
        if tube is None or "nail_fold" not in tube.landmarks:
            continue
        grid = apply(orthosis.limb.place(ray), nail_grid(tube, 3, 3).reshape(-1, 3))
        first, last = grid[1], grid[-2]
        from_fold = points - first
        is_beyond = from_fold @ (last - first) > 0.0
        if np.any(is_beyond & (np.linalg.norm(from_fold, axis=1) < NEAR_MM)):
            found.append((ray, tube))
    return tuple(found)


def _of_nail(orthosis: Orthosis, ray: RayName, tube: Tube, cover: Mesh) -> Finding:
    grid = nail_grid(tube, ROWS, COLUMNS)
    placed = apply(orthosis.limb.place(ray), grid.reshape(-1, 3)).reshape(grid.shape)
    middles, normals, areas = cells_of(placed)
    shows = seen(cover, middles, areas @ normals)
    return Finding(
        "nail.in_sight",
        float(areas[shows].sum()),
        LEAST_MM2,
        "mm²",
        "at least",
        message("checks.nail.source.own"),
        about(finger=ray),
        values(finger=message(f"common.finger.{ray}"), nail_mm2=float(areas.sum())),
        watch=WATCH_MM2,
        where=at(placed.reshape(-1, 3).mean(axis=0)),
    )


def seen(cover: Mesh, points: Floats, direction: Floats) -> NDArray[np.bool_]:
    """Return which points (n, 3) nothing hides from an eye in a direction (3,)."""
    towards = direction / np.linalg.norm(direction)
    above = _in_line(cover, points, towards)
    if not len(above.faces):
        return np.ones(len(points), dtype=bool)
    face, _ = Surface(above).first_hit(points + OFF_SKIN_MM * towards, towards)
    return np.asarray(face < 0)


def _in_line(cover: Mesh, points: Floats, towards: Floats) -> Mesh:
    """Return the triangles that lines of sight along a direction (3,) may meet, found by boxes across it."""
    across = np.linalg.svd(towards[None])[2][1:].T
    seen_at, eyes = cover.vertices @ across, points @ across
    low, high = eyes.min(axis=0) - OFF_SKIN_MM, eyes.max(axis=0) + OFF_SKIN_MM
    beside = np.hstack([seen_at < low, seen_at > high])
    first, second, third = cover.faces.T
    is_beside = (beside[first] & beside[second] & beside[third]).any(axis=1)
    return Mesh(cover.vertices, cover.faces[~is_beside])
