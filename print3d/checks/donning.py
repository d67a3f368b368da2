"""Donning: whether the finger gets into the orthosis, and how.

    open shell      laid on over its mouth; or slid on from the tip; or, where both are too narrow, sprung open by what is missing,
                    at a strain of the wall that the material bears again and again
    closed ring     worked over everything between the fingertip and its seat

Sections of the mesh lie across the posed axis (`mechanics/shell_sections.py`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.spatial import KDTree

from print3d.checks.finding import Finding, Limit, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface, at
from print3d.geometry.types import Floats
from print3d.language.message import Message, message
from print3d.limb.limb import Tube, tube_of
from print3d.limb.tube import stations_of
from print3d.mechanics.beams import opening_strain
from print3d.mechanics.shell_sections import (
    ShellSection,
    Side,
    measure_sections,
    measure_wall,
    passing_widths,
)
from print3d.shell.mesh import FaceKind

ORDER = 120
"""Its place among the findings."""

GIRTH_SPACING_MM = 1.0
"""Between the girths of the finger that are compared."""
RING_STICK = (41, 76)
"""Sizes on a ring stick (ISO 8653:2016)."""
DIRECTIONS = 36
"""Directions, 5 degrees apart, in which a ring's narrower widths are looked for; own choice."""


@dataclass(frozen=True)
class Way:
    """One way to put a shell on.

    row : of the finding where there is room to spare, by what of the shell decides
    name : the way
    sections : where it could be too narrow
    needed_mm, found_mm : (n,) what the finger takes at each section, and what is there
    yields_mm : how much less the finger takes because its skin yields
    """

    row: Literal["mouth", "through"]
    name: Message
    sections: Sequence[ShellSection]
    needed_mm: Floats
    found_mm: Floats
    yields_mm: float

    @property
    def missing_mm(self) -> Floats:
        """By how much each section must be sprung open (n,); negative where there is room to spare."""
        return self.needed_mm - self.yields_mm - self.found_mm

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
    tube, findings = tube_of(orthosis.limb), []
    for part in orthosis.parts:
        if part.definition.pattern.period_mm is None:
            findings.append(_open_shell(part, tube, limits))
        else:
            findings += _closed_rings(part, tube, limits)
    return findings


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether the limb is one tube; of others `trough` and `relative_motion` know the way in."""
    return orthosis.limb.tube is not None


def _open_shell(part: Part, tube: Tube, limits: CheckLimits) -> Finding:
    """The easiest way: laid on, slid on, or whichever of the two strains the wall less."""
    mouth, sections = measure_sections(part, tube)
    if not sections:
        return Finding("donning.lip_sections", 0.0, 1.0, "", "at least", message("sources.own_mouth"),
                       about(part.name), values(part=part_name(part.name)))  # fmt: skip
    ways = _ways(mouth, sections, tube, limits.donning_compression_mm.value)
    for way in ways:
        if way.missing_mm.max() <= 0.0:
            return _roomy(part, way, limits)
    return _sprung(part, ways, limits)


def _roomy(part: Part, way: Way, limits: CheckLimits) -> Finding:
    """The tightest place of a way that takes no force."""
    tightest, compression = int(np.argmax(way.missing_mm)), limits.donning_compression_mm
    needed = float(way.needed_mm[tightest])
    how = (
        message("checks.donning.how.there", way=way.name, needed_mm=needed),
        message("checks.donning.how.sections", sections=len(way.sections)),
        message("checks.donning.how.yields", yields_mm=compression.value),
    )
    return Finding(f"donning.{way.row}", float(way.found_mm[tightest]), needed - way.yields_mm, "mm", "at least",
                   compression.source, about(part.name), values(part=part_name(part.name)), how, None,
                   way.sections[tightest].where)  # fmt: skip


def _sprung(part: Part, ways: Sequence[Way], limits: CheckLimits) -> Finding:
    """The strain of the way that strains the wall least."""
    wall, limit = measure_wall(part), limits.donning_strain_percent
    way = min(ways, key=lambda each: float(each.strains(wall).max()))
    worst = int(np.argmax(way.strains(wall)))
    section = way.sections[worst]
    how = (
        message("checks.donning.how.sprung", missing_mm=way.missing_mm[worst], way=way.name),
        message("checks.donning.how.sections", sections=len(way.sections)),
        message("checks.donning.how.beam", wall_mm=wall, radius_mm=section.radius_mm),
    )
    return Finding("donning.sprung", 100.0 * float(way.strains(wall)[worst]), limit.value, "%", "at most", limit.source,
                   about(part.name), values(part=part_name(part.name)), how, None, section.where)  # fmt: skip


def _ways(mouth: Side, sections: Sequence[ShellSection], tube: Tube, compression_mm: float) -> list[Way]:
    """Laid on; and, where the mouth is narrow somewhere, slid on through the sections that do not lie open."""
    stations, heights, mouths, girths = np.array(
        [(each.station_mm, each.lip_height_mm, each.mouth_mm, each.girth_mm) for each in sections]
    ).T
    from_side = {"dorsal": "volar", "volar": "dorsal", "radial": "ulnar", "ulnar": "radial"}[mouth]
    laid = Way(
        "mouth",
        message(f"checks.donning.way.laid_from_{from_side}"),
        sections,
        passing_widths(tube, mouth, stations, heights),
        mouths,
        2.0 * compression_mm,
    )
    narrow = np.flatnonzero(laid.missing_mm > 0.0)
    if not len(narrow):
        return [laid]
    passed = np.array([passing_girth(tube, station) for station in stations[narrow]])
    slid = Way(
        "through",
        message("checks.donning.way.slid"),
        [sections[int(number)] for number in narrow],
        passed,
        girths[narrow],
        2.0 * np.pi * compression_mm,
    )
    return [laid, slid]


def passing_girth(tube: Tube, station_mm: float) -> float:
    """Return the girth that goes through a shell at a station when it is slid on from the tip.

    It is the largest beyond. Over a bend also the phalanx beyond that has to go around it: straight, of length L, in a passage that
    turns by t over that length, it swings by the arc's sagitta L t / 8, which adds twice as much to the girth it sweeps.
    """
    needed = _largest_beyond(tube, station_mm)[0]
    for bend in tube.bends:
        if abs(station_mm - bend.station_mm) < bend.blend_mm:
            swept = bend.beyond_mm * abs(np.radians(bend.angle_deg)) / 4.0
            needed = max(needed, float(tube.girth_mm(np.array([bend.girth_at_mm]))[0]) + swept)
    return needed


def _largest_beyond(tube: Tube, station_mm: float) -> tuple[float, float]:
    """The largest girth, and the largest of the narrower widths, of the finger from a station to its tip."""
    tip = tube.landmarks["tip"]
    beyond = np.append(
        np.arange(station_mm, tip - GIRTH_SPACING_MM, GIRTH_SPACING_MM), tip - GIRTH_SPACING_MM
    )
    half_breadth, half_depth = tube.half_axes(beyond)
    return float(tube.girth_mm(beyond).max()), 2.0 * float(np.minimum(half_breadth, half_depth).max())


def _closed_rings(part: Part, tube: Tube, limits: CheckLimits) -> list[Finding]:
    """Every ring of a part, from the palm on."""
    lines = sorted(measure_rings(part), key=lambda line: float(stations_of(tube, line).mean()))
    names = ring_names("ring" if part.rings else "edge", len(lines))
    return [
        finding
        for (ring, name), line in zip(names, lines, strict=True)
        for finding in _ring(Ring(part.name, ring, name, line), tube, limits.donning_compression_mm)
    ]


@dataclass(frozen=True, eq=False)
class Ring:
    """One closed line of a part that the finger goes through.

    part, id : ids of the part and of the ring on it
    name : of the ring
    line : (n, 3) mm
    """

    part: str
    id: str
    name: Message
    line: Floats


def ring_names(what: Literal["ring", "edge"], count: int) -> list[tuple[str, Message]]:
    """Return id and name of rings or edges of one part, from the palm on."""
    if count > 2:
        return [
            (f"{what}_{number}", message(f"checks.donning.{what}.numbered", number=number))
            for number in range(1, count + 1)
        ]
    which = ("only",) if count == 1 else ("proximal", "distal")
    return [(f"{each}_{what}", message(f"checks.donning.{what}.{each}")) for each in which]


def _ring(ring: Ring, tube: Tube, compression: Limit) -> tuple[Finding, Finding]:
    """Girth and width of one ring against all that lies between the fingertip and its seat."""
    stations = stations_of(tube, ring.line)
    where = at(ring.line[int(np.argmin(stations))])
    girth, width = _largest_beyond(tube, float(stations.min()))
    inner = closed_length(ring.line)
    row, words = about(ring.part, ring=ring.id), {"part": part_name(ring.part), "ring": ring.name}
    yields = message("checks.donning.how.yields_ring", yields_mm=compression.value)
    return (
        Finding("donning.ring_girth", inner, girth - 2.0 * np.pi * compression.value, "mm", "at least", compression.source, row,
                values(**words, size=ring_size(inner)), (message("checks.donning.how.girth", girth_mm=girth), yields), None, where),
        Finding("donning.ring_width", measure_narrowest(ring.line), width - 2.0 * compression.value, "mm", "at least",
                compression.source, row, values(**words), (message("checks.donning.how.width", width_mm=width), yields), None, where),
    )  # fmt: skip


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


def ring_size(girth_mm: float) -> Message:
    """Return the size of a ring by its inner girth: the whole millimetre that is nearest (ISO 8653:2016)."""
    size = int(np.floor(girth_mm + 0.5))
    if RING_STICK[0] <= size <= RING_STICK[1]:
        return message("checks.donning.size.known", size=size)
    return message("checks.donning.size.outside", least=RING_STICK[0], most=RING_STICK[1])
