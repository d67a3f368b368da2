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

from print3d.checks.finding import Finding, Limit, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats
from print3d.language.message import Message, message
from print3d.limb.limb import Tube, tube_of
from print3d.limb.tube import stations_of
from print3d.mechanics.beams import opening_strain
from print3d.mechanics.passing import (
    closed_length,
    largest_beyond,
    measure_narrowest,
    measure_rings,
    passing_girth,
)
from print3d.mechanics.shell_sections import (
    ShellSection,
    Side,
    measure_sections,
    measure_wall,
    passing_widths,
)

ORDER = 120
"""Its place among the findings."""

RING_STICK = (41, 76)
"""Sizes on a ring stick (ISO 8653:2016)."""


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
    girth, width = largest_beyond(tube, float(stations.min()))
    inner = closed_length(ring.line)
    row, words = about(ring.part, ring=ring.id), {"part": part_name(ring.part), "ring": ring.name}
    yields = message("checks.donning.how.yields_ring", yields_mm=compression.value)
    return (
        Finding("donning.ring_girth", inner, girth - 2.0 * np.pi * compression.value, "mm", "at least", compression.source, row,
                values(**words, size=ring_size(inner)), (message("checks.donning.how.girth", girth_mm=girth), yields), None, where),
        Finding("donning.ring_width", measure_narrowest(ring.line), width - 2.0 * compression.value, "mm", "at least",
                compression.source, row, values(**words), (message("checks.donning.how.width", width_mm=width), yields), None, where),
    )  # fmt: skip


def ring_size(girth_mm: float) -> Message:
    """Return the size of a ring by its inner girth: the whole millimetre that is nearest (ISO 8653:2016)."""
    size = int(np.floor(girth_mm + 0.5))
    if RING_STICK[0] <= size <= RING_STICK[1]:
        return message("checks.donning.size.known", size=size)
    return message("checks.donning.size.outside", least=RING_STICK[0], most=RING_STICK[1])
