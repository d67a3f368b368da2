r"""Sections of an open shell across the posed finger, read from the mesh where planes across the axis cut it.

lips      o         o        the mouth is the least distance from lip to lip, rounded rims included
         (           )
          \         /        the girth goes around the inner face and straight across the mouth
            '-----'
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from print3d.forms.orthosis import Part
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats, Ints
from print3d.kept import kept
from print3d.limb.limb import Tube
from print3d.limb.tube import stations_of
from print3d.shell.mesh import FaceKind

Side = Literal["dorsal", "volar", "radial", "ulnar"]

SPACING_MM = 1.0
"""Between sections."""
SIDES: dict[Side, tuple[float, float]] = {
    "dorsal": (0.0, 1.0), "volar": (0.0, -1.0), "radial": (1.0, 0.0), "ulnar": (-1.0, 0.0)
}  # fmt: skip
"""Where a mouth may look, as (radial, dorsal)."""


@dataclass(frozen=True)
class ShellSection:
    """The inner face where one plane across the finger cuts it.

    station_mm : along the straight axis
    mouth_mm : least distance from lip to lip
    lip_height_mm : how far beyond the middle of the finger's section, towards the mouth, the lips stand
    girth_mm : around the inner face and straight across the mouth
    radius_mm : of the circle whose arc the inner face is
    half_angle_rad : from the middle of the material to a lip
    where : (x, y, z) mm, limb frame, between the lips
    """

    station_mm: float
    mouth_mm: float
    lip_height_mm: float
    girth_mm: float
    radius_mm: float
    half_angle_rad: float
    where: tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Cut:
    """Where one plane cuts a shell, in the plane's own (radial, dorsal) about the middle of the finger's section.

    middle, dorsal : (3,) that middle and that direction in the limb frame
    face, lips : (n, 2) points of the inner face, (m, 2) points of the rims
    """

    station_mm: float
    middle: Floats
    dorsal: Floats
    face: Floats
    lips: Floats


@kept
def measure_sections(part: Part, tube: Tube) -> tuple[Side, list[ShellSection]]:
    """Return which side the mouth of an open shell is on, and its sections.

    A section counts where the shell runs from lip to lip in one piece, vents and slots aside.
    """
    cuts = _cuts(part, tube)
    mouth = _mouth_side(cuts)
    return mouth, [
        _section(cut, mouth) for cut in cuts if np.prod(_span(cut.lips @ _mouth_frame(mouth))) < 0.0
    ]


def measure_wall(part: Part) -> float:
    """Return the wall of a part's mesh between its two faces, letters left out (median)."""
    vertices = part.shell.mesh.vertices
    apart = vertices[part.shell.outer_vertices] - vertices[part.shell.inner_vertices]
    return float(np.median(np.linalg.norm(apart, axis=1)))


def passing_widths(tube: Tube, mouth: Side, station_mm: Floats, lip_height_mm: Floats) -> Floats:
    """Return the width (n,) of finger that goes in between lips.

    It is the finger's widest place, or for low lips its width at their height.
    """
    breadth, depth = tube.half_axes(station_mm)
    across, deep = (breadth, depth) if mouth in ("dorsal", "volar") else (depth, breadth)
    below = np.clip(-lip_height_mm / deep, 0.0, 1.0)
    return np.asarray(2.0 * across * (1.0 - below**tube.exponent) ** (1.0 / tube.exponent))


def _cuts(part: Part, tube: Tube) -> list[Cut]:
    """All planes that every line of the outline's rim crosses just twice, at the two lips."""
    shell, rim = part.shell, part.shell.rims[0]
    inner = shell.mesh.faces[shell.face_kind == FaceKind.INNER]
    edges = np.vstack([inner[:, [0, 1]], inner[:, [1, 2]], inner[:, [2, 0]]])
    used = np.union1d(inner, rim)
    vertices = shell.mesh.vertices
    stations = np.full(len(vertices), np.nan)
    stations[used] = stations_of(tube, vertices[used])
    on_face = _crossings(vertices, stations, edges)
    on_rim = [_crossings(vertices, stations, np.column_stack([row, np.roll(row, -1)])) for row in rim]
    planes = [
        plane
        for plane in on_face
        if plane * SPACING_MM < tube.landmarks["tip"] and all(len(row.get(plane, ())) == 2 for row in on_rim)
    ]
    at_mm = SPACING_MM * np.array(planes, dtype=float)
    axis, dorsal = tube.spine.at(at_mm)
    middle = axis + tube.section_middle(at_mm)[:, None] * dorsal
    cuts = []
    for plane, station, origin, up in zip(planes, at_mm, middle, dorsal, strict=True):
        lips = np.vstack([row[plane] for row in on_rim])
        across = [np.column_stack([each[:, 1], (each - origin) @ up]) for each in (on_face[plane], lips)]
        cuts.append(Cut(float(station), origin, up, *across))
    return cuts


def _crossings(vertices: Floats, stations: Floats, edges: Ints) -> dict[int, Floats]:
    """Points (n, 3) where edges cross the planes at whole multiples of the spacing, by number of the plane."""
    start, stop = (stations[edges] / SPACING_MM).T
    first = np.floor(np.minimum(start, stop)).astype(np.int64)
    count = np.floor(np.maximum(start, stop)).astype(np.int64) - first
    crossing = np.repeat(np.arange(len(edges)), count)
    plane = first[crossing] + 1 + np.arange(len(crossing)) - np.repeat(np.cumsum(count) - count, count)
    share = ((plane - start[crossing]) / (stop - start)[crossing])[:, None]
    ends = vertices[edges[crossing]]
    points = ends[:, 0] + share * (ends[:, 1] - ends[:, 0])
    order = np.argsort(plane, kind="stable")
    planes, begins = np.unique(plane[order], return_index=True)
    return dict(zip(planes.tolist(), np.split(points[order], begins[1:]), strict=True))


def _mouth_side(cuts: Sequence[Cut]) -> Side:
    """The side that lies away from the material and between the lips."""

    def heading(points: Floats) -> Floats:
        return np.asarray((points / np.linalg.norm(points, axis=1, keepdims=True)).mean(axis=0))

    towards = sum((heading(cut.lips) - heading(cut.face) for cut in cuts), start=np.zeros(2))
    return max(SIDES, key=lambda side: float(np.dot(SIDES[side], towards)))


def _mouth_frame(mouth: Side) -> Floats:
    """The directions across the mouth and out of it, as columns (2, 2) of (radial, dorsal)."""
    radial, dorsal = SIDES[mouth]
    return np.array([[dorsal, radial], [-radial, dorsal]])


def _span(points: Floats) -> tuple[float, float]:
    """How far points (n, 2) reach to either side of the mouth's middle line."""
    return float(points[:, 0].min()), float(points[:, 0].max())


def _section(cut: Cut, mouth: Side) -> ShellSection:
    frame = _mouth_frame(mouth)
    face, rim = cut.face @ frame, cut.lips @ frame
    face_angle, rim_angle = (np.arctan2(each[:, 0], -each[:, 1]) for each in (face, rim))
    right, left = rim[rim[:, 0] > 0.0], rim[rim[:, 0] <= 0.0]
    lips = np.array([right[np.argmin(right[:, 0])], left[np.argmax(left[:, 0])]])
    ordered = face[np.argsort(face_angle)]
    arc = float(np.linalg.norm(np.diff(ordered, axis=0), axis=1).sum())
    radial, height = frame @ lips.mean(axis=0)
    return ShellSection(
        station_mm=cut.station_mm,
        mouth_mm=float(lips[0, 0] - lips[1, 0]),
        lip_height_mm=float(lips[:, 1].mean()),
        girth_mm=arc + float(np.linalg.norm(ordered[-1] - ordered[0])),
        radius_mm=arc / float(np.ptp(face_angle)),
        half_angle_rad=float(np.ptp(rim_angle)) / 2.0,
        where=at(cut.middle + np.array([0.0, radial, 0.0]) + height * cut.dorsal),
    )
