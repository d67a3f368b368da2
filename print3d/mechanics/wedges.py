"""A shell as wedges, one for each triangle of its flat pattern, for finite elements.

outer   2n ____ ....            the pattern is triangulated once more, coarsely, and every point takes its two places from
          |    |                the finished mesh; a trim line is cut back until a square edge holds as much material
inner    n ____|                as the rounded rim. Letters are left out: they stiffen nothing that counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import KDTree

from print3d.errors import MeshingError
from print3d.forms.orthosis import Part
from print3d.geometry.triangulation import EdgePieces, Region, triangulate
from print3d.geometry.types import Floats, Ints
from print3d.language.message import message
from print3d.shell.definition import ShellDefinition
from print3d.shell.mesh import FaceKind, ShellMesh
from print3d.shell.pattern import Loop

LOOP_SHARE = 0.7
"""Loops are sampled more finely than the inside, so that the triangulation keeps their edges; own choice."""
SLOT_SHARE = 0.5
"""Loops of slots are sampled more finely by this again; own choice."""
LEAST_ON_LOOP = 10
"""Points of a vent at least: a polygon of ten is 3 percent narrower than its circle."""
LEAST_SPACINGS = 2.0
"""Two points of wedges narrower than two spacings of the finished mesh could take the same place there."""
FINER = (1.0, 0.6, 0.35)
"""Where two vents come close, loops are sampled more finely still."""


@dataclass(frozen=True, eq=False)
class Wedges:
    """Six-cornered elements.

    inner, outer : (n, 3) mm, limb frame, the two places of each pattern point
    triangles : (t, 3) into them, counter-clockwise seen from outside
    on_loop : (n,) number of the pattern's rimmed loop a point lies on, -1 inside
    """

    inner: Floats
    outer: Floats
    triangles: Ints
    on_loop: Ints

    @property
    def points(self) -> Floats:
        """All corners (2 n, 3), inner ones first."""
        return np.vstack([self.inner, self.outer])

    @property
    def elements(self) -> Ints:
        """Corners (t, 6) into `points`."""
        return np.hstack([self.triangles, self.triangles + len(self.inner)])

    def volume_mm3(self) -> float:
        """Return the volume of the body that the wedges fill, its sides bilinear between inner and outer face."""
        a, b, c = (self.points[self.elements[:, [k, k + 3]]] for k in range(3))
        share = 0.5 + np.array([-0.5, 0.5]) * np.sqrt(0.6)
        total = 0.0
        for at, weight in zip((share[0], 0.5, share[1]), (5.0, 8.0, 5.0), strict=True):
            p, q, r = (each[:, 0] + at * (each[:, 1] - each[:, 0]) for each in (a, b, c))
            rise = sum(each[:, 1] - each[:, 0] for each in (a, b, c)) / 3.0
            total += weight / 18.0 * float(np.einsum("ij,ij->", np.cross(q - p, r - p) / 2.0, rise))
        return total


def wedges_of(part: Part, spacing_mm: float) -> Wedges:
    """Return a finished part as wedges about `spacing_mm` wide.

    Raises MeshingError if that is too fine for the finished mesh, whose points they use, or if two loops come so close that no
    triangulation keeps their edges.
    """
    least = LEAST_SPACINGS * part.definition.facets.spacing_mm
    if spacing_mm < least:
        raise MeshingError(message("refusals.mesh.wedges", spacing_mm=spacing_mm, least_mm=least))
    for finer in FINER:
        try:
            return _wedges(part.definition, part.shell, spacing_mm, finer * LOOP_SHARE * spacing_mm)
        except MeshingError:
            if finer == FINER[-1]:
                raise
    raise AssertionError


def _wedges(definition: ShellDefinition, shell: ShellMesh, spacing: float, step: float) -> Wedges:
    pattern, cut = definition.pattern, _cut_back(definition)
    slots = [loop for loop in pattern.rimmed if loop.kind == "slot"]
    kept = [_kept(loop, step * (SLOT_SHARE if loop.kind == "slot" else 1.0)) for loop in pattern.rimmed]
    loops = [definition.inset(loop, cut)[each] for loop, each in zip(pattern.rimmed, kept, strict=True)]
    steps = [loop.step_mm for loop in pattern.rimmed]
    region = Region(loops, len(loops), steps, pattern.period_mm)
    flat, triangles = triangulate(region, spacing, _halved_near(slots, spacing) if slots else None)
    edges = [
        _square_edge(definition, shell, rim[:, each]) for rim, each in zip(shell.rims, kept, strict=True)
    ]
    rimmed = np.hstack(edges)
    inside = _both_faces(definition, shell, flat[rimmed.shape[1] :])
    return Wedges(
        np.vstack([rimmed[0], inside[0]]),
        np.vstack([rimmed[1], inside[1]]),
        triangles,
        np.concatenate(
            [*(np.full(len(each), k) for k, each in enumerate(kept)), np.full(inside.shape[1], -1)]
        ),
    )


def _halved_near(slots: Sequence[Loop], spacing: float) -> EdgePieces:
    """Cut edges in two that lie nearer to a slot than `spacing`: there straps pull at narrow bars."""
    tree = KDTree(np.vstack([slot.points for slot in slots]))

    def pieces(_points: Floats, _edges: Ints, middles: Floats) -> Ints:
        return np.where(tree.query(middles)[0] < spacing, 2, 1)

    return pieces


def _kept(loop: Loop, step: float) -> Ints:
    """Numbers of the points of a loop that are about `step` apart."""
    n = max(LEAST_ON_LOOP, int(np.ceil(loop.length_mm / step)))
    return np.unique(
        np.linspace(0, len(loop.points), min(n, len(loop.points)), endpoint=False).astype(np.int64)
    )


def _cut_back(definition: ShellDefinition) -> float:
    """How far a square edge lies inside the pattern's loop if it holds as much as the rounded one."""
    inset, depth = definition.rim_profile().T
    return float(np.trapezoid(inset, depth)) / definition.wall_mm


def _square_edge(definition: ShellDefinition, shell: ShellMesh, rim: Ints) -> Floats:
    """Inner and outer corner (2, k, 3) of the square edge at some points of one rim (rows, k)."""
    place = shell.mesh.vertices[rim]
    outermost = (place[(len(rim) - 1) // 2] + place[len(rim) // 2]) / 2.0
    outwards = outermost - (place[0] + place[-1]) / 2.0
    share = 1.0 - _cut_back(definition) / definition.rim_radius_mm
    return place[[0, -1]] + share * outwards


def _both_faces(definition: ShellDefinition, shell: ShellMesh, flat: Floats) -> Floats:
    """Inner and outer place (2, k, 3) of points (k, 2) of the pattern plane.

    That of the finished mesh's nearest point, letters left out, and from there along the faces as they were asked for: near a rim,
    where the mesh is rounded already, several points have the same nearest one.
    """
    plain = np.flatnonzero(np.isin(shell.outer_vertices, shell.mesh.faces[shell.face_kind == FaceKind.OUTER]))
    near = plain[KDTree(shell.pattern_points[plain]).query(flat)[1]]
    (along, around), (near_along, near_around) = flat.T, shell.pattern_points[near].T
    faces = []
    for numbers, depth in ((shell.inner_vertices, 0.0), (shell.outer_vertices, definition.wall_mm)):
        depths = np.full(len(flat), depth)
        beyond = definition.points(along, around, depths) - definition.points(near_along, near_around, depths)
        faces.append(shell.mesh.vertices[numbers[near]] + beyond)
    return np.stack(faces)
