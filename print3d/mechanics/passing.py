"""What of a finger goes through an orthosis: the girth that passes a station, and rings."""

import numpy as np
from scipy.spatial import KDTree

from print3d.forms.orthosis import Part
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.limb.limb import Tube
from print3d.shell.mesh import FaceKind

GIRTH_SPACING_MM = 1.0
"""Between the girths of the finger that are compared."""
DIRECTIONS = 36
"""Directions, 5 degrees apart, in which a ring's narrower widths are looked for; own choice."""


def passing_girth(tube: Tube, station_mm: float) -> float:
    """Return the girth that goes through a shell at a station when it is slid on from the tip.

    It is the largest beyond. Over a bend also the phalanx beyond that has to go around it: straight, of length L, in a passage that
    turns by t over that length, it swings by the arc's sagitta L t / 8, which adds twice as much to the girth it sweeps.
    """
    needed = largest_beyond(tube, station_mm)[0]
    for bend in tube.bends:
        if abs(station_mm - bend.station_mm) < bend.blend_mm:
            swept = bend.beyond_mm * abs(np.radians(bend.angle_deg)) / 4.0
            needed = max(needed, float(tube.girth_mm(np.array([bend.girth_at_mm]))[0]) + swept)
    return needed


def largest_beyond(tube: Tube, station_mm: float) -> tuple[float, float]:
    """Return the largest girth, and the largest of the narrower widths, of the finger from a station to its tip."""
    tip = tube.landmarks["tip"]
    beyond = np.append(
        np.arange(station_mm, tip - GIRTH_SPACING_MM, GIRTH_SPACING_MM), tip - GIRTH_SPACING_MM
    )
    half_breadth, half_depth = tube.half_axes(beyond)
    return float(tube.girth_mm(beyond).max()), 2.0 * float(np.minimum(half_breadth, half_depth).max())


@kept
def measure_rings(part: Part) -> list[Floats]:
    """Return the tightest line (n, 3) around each ring's inner face.

    Lines are the ring's centre line and the two beside it at its edges.

    The pattern says where these lines run; the mesh, where they are. A band without centre lines is taken by its edges.
    """
    shell = part.shell
    if not part.rings:
        return [shell.mesh.vertices[rim[0]] for rim in shell.rims[: len(part.definition.pattern.boundary)]]
    surface = Surface(Mesh(shell.mesh.vertices, shell.mesh.faces[shell.face_kind == FaceKind.INNER]))
    tightest = []
    for ring in part.rings:
        reach = _reach(part, ring)
        beside = [ring + [shift, 0.0] for shift in (-reach, 0.0, reach)]
        lines = [surface.nearest(part.definition.inner.points(*line.T))[2] for line in beside]
        tightest.append(min(lines, key=closed_length))
    return tightest


def _reach(part: Part, ring: Floats) -> float:
    """How far the inner face goes on beside a line (n, 2) of the pattern plane, where it is narrowest."""
    shell, period = part.shell, part.definition.pattern.period_mm or 0.0
    edges = np.vstack([shell.pattern_points[np.isin(shell.inner_vertices, rim[0])] for rim in shell.rims])
    around = np.vstack([edges + [0.0, turn * period] for turn in (-1.0, 0.0, 1.0)])
    return float(KDTree(around).query(ring)[0].min())


def closed_length(line: Floats) -> float:
    """Return the length of a closed line (n, 3)."""
    return float(np.linalg.norm(line - np.roll(line, 1, axis=0), axis=1).sum())


def measure_narrowest(line: Floats) -> float:
    """Return the least width of a closed line (n, 3), seen along the axis of its mean plane."""
    centred = line - line.mean(axis=0)
    plane = np.linalg.svd(centred, full_matrices=False)[2][:2]
    angle = np.linspace(0.0, np.pi, DIRECTIONS, endpoint=False)
    return float(np.ptp(centred @ plane.T @ np.array([np.cos(angle), np.sin(angle)]), axis=0).min())
