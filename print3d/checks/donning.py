"""Donning: whether the finger gets into the orthosis, and how.

    open shell      laid on over its mouth; or slid on from the tip; or, where both are too narrow, sprung open by what is missing,
                    at a strain of the wall that the material bears again and again
    closed ring     worked over everything between the fingertip and its seat

Sections lie across the posed axis. Mouth and girth are read from the mesh where the sections cut it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from print3d.checks.beams import opening_strain
from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import Surface, at
from print3d.geometry.mesh import Mesh
from print3d.limb.finger import SECTION_EXPONENT, FingerLimb
from print3d.orthoses.built import Orthosis, Part
from print3d.shell.mesh import FaceKind

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SPACING_MM = 1.0
"""Between sections, and between the girths of the finger that are compared."""
AXIS_STEP_MM, AXIS_BEYOND_MM = 0.1, 30.0
"""The axis is followed in such steps, and so far beyond the MCP centre and the tip."""
SLID_BEND_DEG = 30.0
"""A shell bent more than this is not slid on: a phalanx of 25 mm stands off the middle of the bend by an eighth of length times
angle, 1.6 mm, which clearance, skin and a thinner phalanx still make room for; own choice."""
RING_STICK = (41, 76)
"""Sizes on a ring stick (ISO 8653:2016)."""
DIRECTIONS = 36
SIDES = {"dorsal": (0.0, 1.0), "volar": (0.0, -1.0), "radial": (1.0, 0.0), "ulnar": (-1.0, 0.0)}
"""Where a mouth may look, as (radial, dorsal)."""


@dataclass(frozen=True)
class Section:
    """The inner face where one plane across the finger cuts it.

    station_mm : along the straight axis
    mouth_mm : least distance from lip to lip, rounded rims included
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


@dataclass(frozen=True)
class Way:
    """One way to put a shell on.

    name, what : the way, and what of the shell decides, in words
    sections : where it could be too narrow
    needed_mm, found_mm : (n,) what the finger needs at each section, and what is there
    """

    name: str
    what: str
    sections: Sequence[Section]
    needed_mm: Floats
    found_mm: Floats

    @property
    def missing_mm(self) -> Floats:
        """By how much each section must be sprung open (n,); negative where there is room to spare."""
        return self.needed_mm - self.found_mm

    def strains(self, wall_mm: float) -> Floats:
        """Return the strain (n,) of the wall at each section when it is sprung open by what is missing."""
        return np.array(
            [
                opening_strain(
                    each.radius_mm + wall_mm / 2.0, wall_mm, each.half_angle_rad, max(missing, 0.0)
                )
                for each, missing in zip(self.sections, self.missing_mm, strict=True)
            ]
        )


def check_donning(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that every part can be put on."""
    limb, findings = orthosis.limb, []
    if not isinstance(limb, FingerLimb):
        return []
    for part in orthosis.parts:
        if part.definition.pattern.period_mm is None:
            findings.append(_open_shell(part, limb, limits))
        else:
            findings += _closed_rings(part, limb, limits)
    return findings


def _open_shell(part: Part, limb: FingerLimb, limits: CheckLimits) -> Finding:
    """The easiest way: laid on, slid on, or whichever of the two strains the wall less."""
    mouth, sections = measure_sections(part, limb)
    if not sections:
        return Finding("donning", f"{part.name}: sections that run from lip to lip", 0.0, 1.0, "", "at least",
                       "counted across the posed finger", "own choice: without one no mouth can be measured")  # fmt: skip
    squeeze, wall = limits.ring_squeeze_mm, measure_wall(part)
    ways = _ways(mouth, sections, limb, squeeze.value)
    for way in ways:
        tightest = int(np.argmax(way.missing_mm))
        if way.missing_mm[tightest] <= 0.0:
            method = f"{way.name}; {len(way.sections)} sections across the finger; skin yields {squeeze.value:g} mm all around"
            return Finding("donning", f"{part.name}: {way.what}", float(way.found_mm[tightest]),
                           float(way.needed_mm[tightest]), "mm", "at least", method, squeeze.source,
                           way.sections[tightest].where)  # fmt: skip
    way = min(ways, key=lambda each: each.strains(wall).max())
    worst, limit = int(np.argmax(way.strains(wall))), limits.donning_strain_percent
    section = way.sections[worst]
    method = (
        f"sprung open by {way.missing_mm[worst]:.1f} mm while {way.name}; {len(way.sections)} sections; thin curved beam of "
        f"{wall:.1f} mm on a radius of {section.radius_mm:.1f} mm, its inner side"
    )
    return Finding("donning", f"{part.name}: strain of the wall as it is sprung open",
                   100.0 * float(way.strains(wall)[worst]), limit.value, "%", "at most", method, limit.source,
                   section.where)  # fmt: skip


def _ways(mouth: str, sections: Sequence[Section], limb: FingerLimb, squeeze_mm: float) -> list[Way]:
    """Laid on; and, where the shell is not bent too much, slid on through those sections that do not lie open anyway."""
    stations, heights, mouths, girths = np.array(
        [(each.station_mm, each.lip_height_mm, each.mouth_mm, each.girth_mm) for each in sections]
    ).T
    from_side = {"dorsal": "volar", "volar": "dorsal", "radial": "ulnar", "ulnar": "radial"}[mouth]
    laid = Way(
        f"laid on from the {from_side} side",
        "mouth that the finger goes in by, lip to lip",
        sections,
        passing_widths(limb, mouth, stations, heights) - 2.0 * squeeze_mm,
        mouths,
    )
    _, dorsal = limb.spine.at(stations)
    bend = float(np.ptp(np.degrees(np.arctan2(dorsal[:, 0], dorsal[:, 2]))))
    narrow = np.flatnonzero(laid.missing_mm > 0.0)
    if bend > SLID_BEND_DEG or not len(narrow):
        return [laid]
    passed = np.array([_largest_beyond(limb, station)[0] for station in stations[narrow]])
    slid = Way(
        "slid on from the tip",
        "inner girth that the finger goes through, mouth included",
        [sections[number] for number in narrow],
        passed - 2.0 * np.pi * squeeze_mm,
        girths[narrow],
    )
    return [laid, slid]


def passing_widths(limb: FingerLimb, mouth: str, station_mm: Floats, lip_height_mm: Floats) -> Floats:
    """Return the width (n,) of finger that goes in between lips: its widest place, or for low lips its width at their height."""
    breadth, depth = limb.half_axes(station_mm)
    across, deep = (breadth, depth) if mouth in ("dorsal", "volar") else (depth, breadth)
    below = np.clip(-lip_height_mm / deep, 0.0, 1.0)
    return np.asarray(2.0 * across * (1.0 - below**SECTION_EXPONENT) ** (1.0 / SECTION_EXPONENT))


def _largest_beyond(limb: FingerLimb, station_mm: float) -> tuple[float, float]:
    """The largest girth, and the largest of the narrower widths, of the finger from a station to its tip."""
    tip = limb.landmarks["tip"]
    beyond = np.append(np.arange(station_mm, tip - SPACING_MM, SPACING_MM), tip - SPACING_MM)
    half_breadth, half_depth = limb.half_axes(beyond)
    return float(limb.girth_mm(beyond).max()), 2.0 * float(np.minimum(half_breadth, half_depth).max())


def measure_wall(part: Part) -> float:
    """Return the wall of a part's mesh between its two faces, letters left out (median)."""
    vertices = part.mesh.mesh.vertices
    apart = vertices[part.mesh.outer_vertices] - vertices[part.mesh.inner_vertices]
    return float(np.median(np.linalg.norm(apart, axis=1)))


def measure_sections(part: Part, limb: FingerLimb) -> tuple[str, list[Section]]:
    """Return which side the mouth of an open shell is on, and its sections.

    A section counts where the shell runs from lip to lip in one piece, vents and slots aside.
    """
    shell, tip = part.mesh, limb.landmarks["tip"]
    rim = shell.rims[0]
    inner = shell.mesh.faces[shell.face_kind == FaceKind.INNER]
    edges = np.vstack([inner[:, [0, 1]], inner[:, [1, 2]], inner[:, [2, 0]]])
    stations = stations_of(limb, shell.mesh.vertices)
    face_cuts = _cuts(shell.mesh.vertices, stations, edges)
    rim_cuts = [_cuts(shell.mesh.vertices, stations, np.column_stack([row, np.roll(row, -1)])) for row in rim]
    pairs = []
    for number, face in face_cuts.items():
        lips = [cuts[number] for cuts in rim_cuts if len(cuts.get(number, ())) == 2]
        if len(lips) == len(rim) and number * SPACING_MM < tip:
            pairs.append(
                (number * SPACING_MM, _across(limb, number, face), _across(limb, number, np.vstack(lips)))
            )
    mouth = _mouth_side(pairs)
    up = np.array(SIDES[mouth])
    frame = np.column_stack([[up[1], -up[0]], up])
    turned = [(station, face @ frame, rim @ frame) for station, face, rim in pairs]
    return mouth, [_section(limb, frame, *each) for each in turned if np.prod(_ends(each[2])) < 0.0]


def stations_of(limb: FingerLimb, points: Floats) -> Floats:
    """Return the station (n,) of the place of the posed axis that is nearest to each point (n, 3)."""
    along = np.arange(-AXIS_BEYOND_MM, limb.landmarks["tip"] + AXIS_BEYOND_MM, AXIS_STEP_MM)
    axis, dorsal = limb.spine.at(along)
    _, nearest = KDTree(axis[:, [0, 2]]).query(points[:, [0, 2]])
    apart = points - axis[nearest]
    forward = apart[:, 0] * dorsal[nearest, 2] - apart[:, 2] * dorsal[nearest, 0]
    return np.asarray(along[nearest] + forward)


def _cuts(vertices: Floats, stations: Floats, edges: Ints) -> dict[int, Floats]:
    """Points (n, 3) where edges cross the planes at whole multiples of the spacing, by number of the plane."""
    start, stop = (stations[edges] / SPACING_MM).T
    first = np.floor(np.minimum(start, stop)).astype(np.int64)
    count = np.floor(np.maximum(start, stop)).astype(np.int64) - first
    crossing = np.repeat(np.arange(len(edges)), count)
    number = first[crossing] + 1 + np.arange(len(crossing)) - np.repeat(np.cumsum(count) - count, count)
    share = ((number - start[crossing]) / (stop - start)[crossing])[:, None]
    ends = vertices[edges[crossing]]
    points = ends[:, 0] + share * (ends[:, 1] - ends[:, 0])
    order = np.argsort(number, kind="stable")
    numbers, begins = np.unique(number[order], return_index=True)
    return dict(zip(numbers.tolist(), np.split(points[order], begins[1:]), strict=True))


def _across(limb: FingerLimb, number: int, points: Floats) -> Floats:
    """Points of one section as (n, 2): radial and dorsal of the middle of the finger's own section."""
    station = np.array([number * SPACING_MM])
    axis, dorsal = limb.spine.at(station)
    height = (points - axis[0]) @ dorsal[0] - limb.section_middle(station)[0]
    return np.column_stack([points[:, 1], height])


def _mouth_side(pairs: Sequence[tuple[float, Floats, Floats]]) -> str:
    """The side that lies away from the material and between the lips."""

    def heading(points: Floats) -> Floats:
        return np.asarray((points / np.linalg.norm(points, axis=1, keepdims=True)).mean(axis=0))

    towards = sum((heading(rim) - heading(face) for _, face, rim in pairs), start=np.zeros(2))
    return max(SIDES, key=lambda side: float(np.dot(SIDES[side], towards)))


def _ends(points: Floats) -> tuple[float, float]:
    """How far points (n, 2) reach to either side of the mouth's middle line."""
    return float(points[:, 0].min()), float(points[:, 0].max())


def _section(limb: FingerLimb, frame: Floats, station: float, face: Floats, rim: Floats) -> Section:
    """Measure one section from the points (n, 2) of its inner face and of its lips' rims: across the mouth, and out of it.

    frame : (2, 2) these two directions as columns of (radial, dorsal)
    """
    face_angle, rim_angle = (np.arctan2(each[:, 0], -each[:, 1]) for each in (face, rim))
    right, left = rim[rim[:, 0] > 0.0], rim[rim[:, 0] <= 0.0]
    lips = np.array([right[np.argmin(right[:, 0])], left[np.argmax(left[:, 0])]])
    ordered = face[np.argsort(face_angle)]
    arc = float(np.linalg.norm(np.diff(ordered, axis=0), axis=1).sum())
    axis, dorsal = limb.spine.at(np.array([station]))
    radial, height = frame @ lips.mean(axis=0)
    middle = axis[0] + (height + limb.section_middle(np.array([station]))[0]) * dorsal[0]
    return Section(
        station,
        float(lips[0, 0] - lips[1, 0]),
        float(lips[:, 1].mean()),
        arc + float(np.linalg.norm(ordered[-1] - ordered[0])),
        arc / float(np.ptp(face_angle)),
        float(np.ptp(rim_angle)) / 2.0,
        at(middle + np.array([0.0, radial, 0.0])),
    )


def _closed_rings(part: Part, limb: FingerLimb, limits: CheckLimits) -> list[Finding]:
    """Every ring passes all that lies between the fingertip and its seat."""
    squeeze, findings = limits.ring_squeeze_mm, []
    lines = measure_rings(part)
    names = {1: ("ring",), 2: ("proximal ring", "distal ring")}.get(
        len(lines), tuple(f"ring {number} from the palm" for number in range(1, len(lines) + 1))
    )
    lines = sorted(lines, key=lambda line: float(stations_of(limb, line).mean()))
    for name, line in zip(names, lines, strict=True):
        seat = float(stations_of(limb, line).min())
        girth, width = _largest_beyond(limb, seat)
        inner = closed_length(line)
        method = (
            f"worked over the finger from the tip to its seat, where {{}} is the most; skin yielding {squeeze.value:g} mm "
            "all around; the ring not stretched"
        )
        where = at(line[int(np.argmin(stations_of(limb, line)))])
        findings += [
            Finding("donning", f"{part.name}, {name}: inner girth, {ring_size(inner)}", inner,
                    girth - 2.0 * np.pi * squeeze.value, "mm", "at least", method.format(f"a girth of {girth:.1f} mm"),
                    squeeze.source, where),
            Finding("donning", f"{part.name}, {name}: narrowest inner width", measure_narrowest(line),
                    width - 2.0 * squeeze.value, "mm", "at least",
                    method.format(f"a depth of {width:.1f} mm") + "; a ring may be turned about the finger", squeeze.source, where),
        ]  # fmt: skip
    return findings


def measure_rings(part: Part) -> list[Floats]:
    """Return the tightest line (n, 3) around each ring's inner face: of its centre line and the two beside it at its edges.

    The pattern says where these lines run; the mesh, where they are. A band without centre lines is taken by its edges.
    """
    shell, period = part.mesh, part.definition.pattern.period_mm
    faces = shell.mesh.faces[shell.face_kind == FaceKind.INNER]
    surface = Surface(Mesh(shell.mesh.vertices, faces))
    if not part.rings:
        return [shell.mesh.vertices[rim[0]] for rim in shell.rims[:2]]
    edges = np.vstack([shell.pattern_points[np.isin(shell.inner_vertices, rim[0])] for rim in shell.rims])
    around = np.vstack([edges + [0.0, turn * (period or 0.0)] for turn in (-1.0, 0.0, 1.0)])
    tightest = []
    for ring in part.rings:
        reach = float(KDTree(around).query(ring)[0].min())
        beside = [ring + [shift, 0.0] for shift in (-reach, 0.0, reach)]
        lines = [surface.nearest(part.definition.inner.points(*line.T))[2] for line in beside]
        tightest.append(min(lines, key=closed_length))
    return tightest


def closed_length(line: Floats) -> float:
    """Return the length of a closed line (n, 3)."""
    return float(np.linalg.norm(line - np.roll(line, 1, axis=0), axis=1).sum())


def measure_narrowest(line: Floats) -> float:
    """Return the least width of a closed line (n, 3), seen along the axis of its mean plane."""
    centred = line - line.mean(axis=0)
    plane = np.linalg.svd(centred, full_matrices=False)[2][:2]
    angle = np.linspace(0.0, np.pi, DIRECTIONS, endpoint=False)
    return float(np.ptp(centred @ plane.T @ np.array([np.cos(angle), np.sin(angle)]), axis=0).min())


def ring_size(girth_mm: float) -> str:
    """Return the size of a ring by its inner girth: the whole millimetre that is nearest (ISO 8653:2016)."""
    size = int(np.floor(girth_mm + 0.5))
    if RING_STICK[0] <= size <= RING_STICK[1]:
        return f"ISO 8653 size {size}"
    return "outside the sizes {} to {} of ISO 8653".format(*RING_STICK)
