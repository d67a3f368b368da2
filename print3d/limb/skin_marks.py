"""Nails, creases and knuckles: what tells the back of a hand from its palm at a glance.

They are lines and thin bodies on the posed skin, for pictures and drawings only. Where a mark lies is own choice from the look of a
hand, beside the landmarks that are measured.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.interpolate import PchipInterpolator

from print3d.geometry.frames import DORSAL, apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface, skin_surface
from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.limb.bodies import closed_tube
from print3d.limb.joint_id import JointId, RayName, SegmentName
from print3d.limb.limb import Chain, Limb, Tube, palmar_creases_of
from print3d.limb.nail import nail_grid

ABOVE_MM = 0.12
"""A mark stands out of the skin by this, more than a facet of the skin is off."""
BELOW_MM = 0.3
"""And reaches this far into it."""
NAIL_ABOVE_MM = 0.3
"""So far the nail stands out."""
CREASE_MM = 0.7
"""Breadth of a crease on a finger; own choice, seen at arm's length on paper."""
PALM_CREASE_MM = 1.6
"""Breadth of one on the palm or over a knuckle."""
CREASES: tuple[tuple[str, float, SegmentName], ...] = (("web", 0.0, "proximal"), ("pip_crease", -0.9, "middle"), ("pip_crease", 0.9, "middle"), ("dip_crease", 0.0, "distal"))  # fmt: skip
"""Landmark, mm distal of it, and the segment that a crease of the palm side moves with."""
WRINKLES: tuple[tuple[str, float, float], ...] = (("pip", -3.0, 0.055), ("pip", 0.0, 0.085), ("pip", 3.0, 0.055), ("dip", -1.3, 0.06), ("dip", 1.3, 0.06))  # fmt: skip
"""Joint, mm distal of it, and half-length as a share of the girth of a wrinkle on its back."""
CREASE_SHARE = 0.19
"""A crease reaches this share of the girth to either side of the middle of the palm side."""
POINTS = 25
"""Points of a line."""
KNUCKLE_MM = 6.0
"""Half-length of the wrinkle over a knuckle of a hand of mean size."""
FAR_MM = 150.0
"""Skin is looked for from this far outside."""

Sort = Literal["nail", "crease"]


@dataclass(frozen=True, eq=False)
class SkinMark:
    """One mark.

    line, out : (n, 3) mm on the posed skin, a nail's is closed; and unit vectors out of it
    mesh : a thin closed body on it
    ray, segment : what it moves with; None is the hand
    """

    sort: Sort
    line: Floats
    out: Floats
    mesh: Mesh
    ray: RayName | None = None
    segment: SegmentName | None = None


@kept
def skin_marks(limb: Limb) -> tuple[SkinMark, ...]:
    """Return the marks of a limb; none on one whose landmarks are not known."""
    found = [mark for ray, chain in limb.by_ray.items() for mark in _of_finger(limb, ray, chain)]
    knuckles = [joint for joint in limb.joints if joint.joint == "mcp"]
    if limb.measures.hand is not None and len(knuckles) > 1:
        surface = skin_surface(limb)
        found += [*_knuckles(limb, surface, knuckles), *_palm(limb, surface)]
    return tuple(found)


def _of_finger(limb: Limb, ray: RayName, chain: Chain) -> Iterator[SkinMark]:
    tube, frame = chain.tube, limb.place(ray)
    if tube is None or not {"nail_fold", "pip", "dip", "web"} <= set(tube.landmarks):
        return
    yield _nail(tube, frame, ray)
    half = np.linspace(-1.0, 1.0, POINTS)
    for name, beside, segment in CREASES:
        station = tube.landmarks[name] + beside + 0.8 * half**2
        yield _crease(tube, frame, (station, 0.5 + CREASE_SHARE * half), ray, segment)
    for name, beside, share in WRINKLES:
        station = tube.landmarks[name] + beside - 0.6 * np.sign(beside) * half**2
        yield _crease(tube, frame, (station, np.mod(share * half, 1.0)), ray, "middle" if name == "pip" else "distal")  # fmt: skip


def _nail(tube: Tube, frame: Floats, ray: RayName) -> SkinMark:
    grid = nail_grid(tube, 21, 13)
    ways = np.cross(np.gradient(grid, axis=0), np.gradient(grid, axis=1))
    out = _units(ways[5:-5].mean(axis=(0, 1)))
    if out @ (grid[10, 6] - tube.spine.at(np.array([tube.landmarks["nail_fold"]]))[0][0]) < 0.0:
        out = -out
    rows = np.concatenate([grid + NAIL_ABOVE_MM * out, (grid - BELOW_MM * out)[:, ::-1]], axis=1)
    outline = np.vstack([grid[:, -1], grid[::-1, 0]])
    ways = _units(out + 0.5 * _units(outline - outline.mean(axis=0)))
    return SkinMark(
        "nail", apply(frame, outline), ways @ frame[:3, :3].T, _closed(rows).moved(frame), ray, "distal"
    )


def _crease(
    tube: Tube, frame: Floats, place: tuple[Floats, Floats], ray: RayName, segment: SegmentName
) -> SkinMark:
    """A line at stations and girth fractions."""
    line = tube.skin_points(*place)
    axis, dorsal = tube.spine.at(place[0])
    middle = axis + tube.section_middle(place[0])[:, None] * dorsal
    out = _units(line - middle)
    mesh = _strip(line, out, CREASE_MM).moved(frame)
    return SkinMark("crease", apply(frame, line), out @ frame[:3, :3].T, mesh, ray, segment)


def _knuckles(limb: Limb, surface: Surface, joints: Sequence[JointId]) -> Iterator[SkinMark]:
    size = np.linspace(-KNUCKLE_MM, KNUCKLE_MM, POINTS)
    for joint in joints:
        at = limb.joints[joint]
        along = np.cross(at.axis, at.dorsal)
        for beside in (-2.0, 2.0):
            bow = beside * (1.0 - 0.5 * (size / KNUCKLE_MM) ** 2)
            line = at.centre + size[:, None] * at.axis + bow[:, None] * along
            yield from _projected(surface, line, at.dorsal)


def _palm(limb: Limb, surface: Surface) -> Iterator[SkinMark]:
    """The two creases across the palm, and the one around the base of the thumb."""
    by_ray = {joint.ray: at.centre for joint, at in limb.joints.items() if joint.joint == "mcp"}
    index, middle, ring, little = (by_ray[ray] for ray in ("index", "middle", "ring", "little"))
    long, wide = middle[0], index[1] - little[1]
    radial_edge = np.array([index[0] - 0.08 * long, index[1] + 0.17 * wide])
    crease = {ray: [each.value, by_ray[ray][1]] for ray, each in palmar_creases_of(limb).items()}
    lines = (
        [np.array(crease["little"]) + [0.02 * long, -0.16 * wide], crease["little"], crease["ring"], crease["middle"],
         middle[:2] + [0.06 * long, 0.12 * wide]],
        [radial_edge, index[:2] - [0.12 * long, 0.0], middle[:2] - [0.22 * long, 0.0], ring[:2] - [0.34 * long, 0.0],
         little[:2] - [0.42 * long, 0.0]],
        [radial_edge, index[:2] - [0.2 * long, 0.08 * wide], [0.52 * long, middle[1]], [0.25 * long, middle[1] - 0.05 * wide],
         [0.06 * long, middle[1]]],
    )  # fmt: skip
    for corners in lines:
        yield from _projected(
            surface, np.column_stack([_smooth(np.array(corners)), np.zeros(POINTS)]), -DORSAL
        )


def _smooth(corners: Floats) -> Floats:
    """POINTS points (POINTS, 2) on a smooth line through corners (k, 2)."""
    place = np.linspace(0.0, 1.0, len(corners))
    return np.asarray(PchipInterpolator(place, corners, axis=0)(np.linspace(0.0, 1.0, POINTS)))


def _projected(surface: Surface, line: Floats, out: Floats) -> Iterator[SkinMark]:
    """A line brought onto the skin from outside; nothing where it misses the limb."""
    _, far = surface.first_hit(line + FAR_MM * out, -out)
    hit = np.isfinite(far)
    if hit.sum() < POINTS // 2:
        return
    on_skin = line[hit] + (FAR_MM - far[hit, None]) * out
    ways = np.tile(out, (len(on_skin), 1))
    yield SkinMark("crease", on_skin, ways, _strip(on_skin, ways, PALM_CREASE_MM))


def _strip(line: Floats, out: Floats, breadth_mm: float) -> Mesh:
    """A thin closed body along a line (n, 3), pointed at its ends."""
    ways = _units(np.gradient(line, axis=0))
    aside = _units(np.cross(ways, out))
    half = breadth_mm / 2.0 * np.sqrt(np.sin(np.linspace(0.05, np.pi - 0.05, len(line))))[:, None] * aside
    above, below = ABOVE_MM * out, BELOW_MM * out
    return _closed(
        np.stack([line + half + above, line - half + above, line - half - below, line + half - below], axis=1)
    )


def _closed(rows: Floats) -> Mesh:
    body = closed_tube(rows, rows[0].mean(axis=0), rows[-1].mean(axis=0))
    return body if body.volume_mm3() > 0.0 else Mesh(body.vertices, body.faces[:, ::-1])


def _units(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-9))
