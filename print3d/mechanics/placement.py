"""An orthosis that was built for one finger, placed on another.

It goes where the skin's creases say, then as its plan says.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.frames import apply, flexion_rotation, inverse, rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface, skin_surface
from print3d.geometry.types import Floats
from print3d.limb.finger import FingerLimb
from print3d.shell.assemble import with_facets
from print3d.shell.definition import Facets

Joint = Literal["pip", "dip"]

LEVER_ARM_MM = 10.0
"""The lever arm at which a tilt counts as a shift; about half of a finger's breadth, own choice."""
FACET_MM = 0.024
"""Facets of a shell in a study lie this near to it, as those of the fingers do to the skin (`fit.ROW_MM`)."""
SPACING_MM = 1.2
"""Spacing of a shell's points in a study, twice the usual one; own choice."""
MOST_POINTS = 500
"""A part is placed by about this number of points of its skin side; own choice."""
ROUNDS = 3
"""After three rounds a part moves by less than 0.001 mm."""


@dataclass(frozen=True, eq=False)
class PlacedOrthosis:
    """An orthosis on a finger it was not built for.

    orthosis : on that finger, in its frame
    skin : of that finger, posed as the orthosis was built
    gaps_mm : per part, (n,) from its skin side to the skin, negative where it presses in
    """

    orthosis: Orthosis
    skin: Surface
    gaps_mm: tuple[Floats, ...]


def reference_joint(orthosis: Orthosis) -> Joint:
    """Return the joint at whose crease an orthosis is placed.

    It is the one it stops or holds, the PIP where there are both.
    """
    joints = {each.joint for each in (*(stop.joint for stop in orthosis.stops), *orthosis.held)}
    return "dip" if joints and "pip" not in joints else "pip"


def place_on_finger(orthosis: Orthosis, built_for: FingerLimb, finger: FingerLimb) -> PlacedOrthosis:
    """Put an orthosis on a finger that is posed as the one it was built for.

    Its place at the crease of the reference joint is kept; from there it shifts dorsally and tilts until its gaps are off their
    plan by least, in the sense of least squares: a strap or the ring itself holds it so. On the finger it was built for it stays.
    """
    skin = skin_surface(finger)
    by_crease = crease_placement(reference_joint(orthosis), built_for, finger)
    placed = tuple(_moved(part, by_crease) for part in orthosis.parts)
    pivot = finger.segment_transform("middle")[:3, 3]
    parts, gaps = [], []
    for part in placed:
        settled = _moved(part, _settled(part, skin, pivot))
        parts.append(settled)
        gaps.append(skin.signed(settled.shell.mesh.vertices[settled.skin_vertices]))
    return PlacedOrthosis(replace(orthosis, limb=finger, parts=tuple(parts)), skin, tuple(gaps))


def with_larger_facets(orthosis: Orthosis) -> Orthosis:
    """Return the orthosis in some 40 percent fewer facets, which lie within `FACET_MM` of the shell."""
    return replace(orthosis, parts=tuple(_with_larger_facets(part) for part in orthosis.parts))


def printed(orthosis: Orthosis, offset_mm: float) -> Orthosis:
    """Return the orthosis as it comes from a printer that lays every surface further out.

    offset_mm : how much further out; negative is further in
    """
    if offset_mm == 0.0:
        return orthosis
    return replace(orthosis, parts=tuple(_grown(part, offset_mm) for part in orthosis.parts))


def crease_placement(joint: Joint, built_for: FingerLimb, finger: FingerLimb) -> Floats:
    """Return the placement (4, 4) that brings crease onto crease, along the segment beyond the joint."""
    segment: Literal["middle", "distal"] = "middle" if joint == "pip" else "distal"
    off = [limb.landmarks[f"{joint}_crease"] - limb.landmarks[joint] for limb in (finger, built_for)]
    shift = rigid(np.eye(3), np.array([off[0] - off[1], 0.0, 0.0]))
    return np.asarray(
        finger.segment_transform(segment) @ shift @ inverse(built_for.segment_transform(segment))
    )


def _settled(part: Part, skin: Surface, pivot: Floats) -> Floats:
    """Placement (4, 4) at which the part's gaps are off their plan by least (Gauss and Newton).

    It is a tilt and a dorsal shift.
    """
    every = max(1, len(part.skin_vertices) // MOST_POINTS)
    points = part.shell.mesh.vertices[part.skin_vertices[::every]]
    planned, place = part.planned_gap_mm[::every], np.zeros(2)
    for _ in range(ROUNDS):
        gap, slope = gaps_and_slopes(apply(tilted(place, pivot), points), skin, pivot)
        place = place + np.linalg.lstsq(slope, planned - gap)[0]
    return tilted(place, pivot)


def gaps_and_slopes(points: Floats, skin: Surface, pivot: Floats) -> tuple[Floats, Floats]:
    """Return the signed distance (n,) of points, and how it changes (n, 2).

    It does with tilt at `LEVER_ARM_MM` and with a dorsal shift.
    """
    distance, faces, near = skin.nearest(points)
    normal = skin.face_normals[faces]
    sign = np.where(np.einsum("ij,ij->i", points - near, normal) < 0.0, -1.0, 1.0)
    lever = points - pivot
    tilt = (normal[:, 0] * lever[:, 2] - normal[:, 2] * lever[:, 0]) / LEVER_ARM_MM
    return sign * distance, np.column_stack([tilt, normal[:, 2]])


def tilted(place: Floats, pivot: Floats) -> Floats:
    """Return the placement (4, 4) of a tilt about the pivot at `LEVER_ARM_MM` and a dorsal shift (2,)."""
    turn = flexion_rotation(place[0] / LEVER_ARM_MM)
    return rigid(turn, pivot - turn @ pivot + np.array([0.0, 0.0, place[1]]))


def _moved(part: Part, placement: Floats) -> Part:
    """The part elsewhere, its faces with it."""
    mesh = Mesh(apply(placement, part.shell.mesh.vertices), part.shell.mesh.faces)
    inner, outer = (
        replace(face, poles=apply(placement, face.poles.reshape(-1, 3)).reshape(face.poles.shape))
        for face in (part.definition.inner, part.definition.outer)
    )
    definition = replace(part.definition, inner=inner, outer=outer)
    return replace(part, shell=replace(part.shell, mesh=mesh), definition=definition)


def _with_larger_facets(part: Part) -> Part:
    """The part with its mesh made again in larger facets.

    What is planned for the skin side is read off between the points of the old mesh.
    """
    made = with_facets(part.definition, Facets(FACET_MM, SPACING_MM, FACET_MM))
    old, flat = part.shell.pattern_points[part.skin_vertices], made.mesh.pattern_points
    planned = LinearNDInterpolator(old, part.planned_gap_mm)(flat)
    outside = np.isnan(planned)
    planned[outside] = NearestNDInterpolator(old, part.planned_gap_mm)(flat[outside])
    return replace(
        part,
        definition=made.definition,
        shell=made.mesh,
        planned_gap_mm=planned,
        skin_vertices=made.mesh.inner_vertices,
    )


def _grown(part: Part, offset_mm: float) -> Part:
    """The part with every vertex moved along its normal, the mean of the faces around it."""
    mesh = part.shell.mesh
    areas, n = np.tile(mesh.area_vectors(), (3, 1)), len(mesh.vertices)
    corners = mesh.faces.T.ravel()
    normals = np.column_stack([np.bincount(corners, each, n) for each in areas.T])
    normals = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    grown = Mesh(mesh.vertices + offset_mm * normals, mesh.faces)
    return replace(part, shell=replace(part.shell, mesh=grown))
