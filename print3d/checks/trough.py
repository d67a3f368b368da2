r"""Donning of an open shell on hand and forearm.

Checked is whether the limb gets in between its lips, laid in from the palm side.

   __-------__           section across the limb: the widest place that has to pass lies on the back's side of the line from lip to
 /     limb    \         lip; where the mouth is narrower the shell is sprung open, at a strain of its wall that the material
(lip)- - - - (lip)       bears again and again
"""

from dataclasses import dataclass

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats
from print3d.language.message import message
from print3d.limb.limb import Limb, sheet_of
from print3d.mechanics.beams import opening_strain

ORDER = 130
"""Its place among the findings."""

STEP_MM = 5.0
"""Between sections, along the pattern."""
SKIN_SAMPLES = 361
"""Points of the skin's section, a degree apart; own choice."""


@dataclass(frozen=True)
class Mouth:
    """One section of a trough.

    found_mm : least distance from lip to lip, over the rounded edge
    needed_mm : how wide the limb is where it has to pass
    radius_mm, half_angle_rad : of the circle through both lips and the middle of the back
    where : on the radial lip
    """

    found_mm: float
    needed_mm: float
    radius_mm: float
    half_angle_rad: float
    where: tuple[float, float, float]

    def strain(self, wall_mm: float, yields_mm: float) -> float:
        """Return the strain of the wall when the mouth is sprung open by what is missing."""
        missing = max(self.needed_mm - yields_mm - self.found_mm, 0.0)
        return opening_strain(self.radius_mm + wall_mm / 2.0, wall_mm, self.half_angle_rad, missing)


def check_trough(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check that hand and forearm go in between the lips of every part."""
    return [_finding(part, measure_mouths(part, orthosis.limb), limits) for part in orthosis.parts]


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether an open shell is laid on a limb that is no tube.

    How fingers get into a yoke is checked with it.
    """
    return orthosis.limb.tube is None and not orthosis.differences


def _finding(part: Part, mouths: list[Mouth], limits: CheckLimits) -> Finding:
    if not mouths:
        return Finding("trough.lip_sections", 0.0, 1.0, "", "at least", message("sources.own_mouth"),
                       about(part.name), values(part=part_name(part.name)))  # fmt: skip
    compression, limit, wall = (
        limits.donning_compression_mm,
        limits.donning_strain_percent,
        part.definition.wall_mm,
    )
    yields = 2.0 * compression.value
    tightest = max(mouths, key=lambda mouth: mouth.needed_mm - mouth.found_mm)
    if tightest.found_mm >= tightest.needed_mm - yields:
        how = (
            message("checks.trough.how.laid", sections=len(mouths), apart_mm=STEP_MM),
            message("checks.trough.how.wide", needed_mm=tightest.needed_mm),
            message("checks.trough.how.yields", yields_mm=compression.value),
        )
        return Finding("trough.mouth", tightest.found_mm, tightest.needed_mm - yields, "mm", "at least", compression.source,
                       about(part.name), values(part=part_name(part.name)), how, None, tightest.where)  # fmt: skip
    worst = max(mouths, key=lambda mouth: mouth.strain(wall, yields))
    missing = worst.needed_mm - yields - worst.found_mm
    sprung = (
        message("checks.trough.how.sprung", missing_mm=missing, sections=len(mouths)),
        message("checks.trough.how.beam", wall_mm=wall, radius_mm=worst.radius_mm),
    )
    return Finding("trough.sprung", 100.0 * worst.strain(wall, yields), limit.value, "%", "at most", limit.source,
                   about(part.name), values(part=part_name(part.name)), sprung, None, worst.where)  # fmt: skip


def measure_mouths(part: Part, limb: Limb) -> list[Mouth]:
    """Return the mouths of a part along the limb, up to the first fingertip.

    There is one wherever the part has a lip on either side.

    Raises NotMeasurableError if the side that the part lies on is not known rolled out flat.
    """
    skin = sheet_of(limb, part.side or "dorsal")
    loop = part.definition.pattern.boundary[0].points
    rim = part.shell.mesh.vertices[part.shell.rims[0]]
    end = min(float(loop[:, 0].max()), skin.tip_along_mm)
    mouths = []
    for along in np.arange(loop[:, 0].min() + STEP_MM, end, STEP_MM):
        lips = _lips(loop, rim, float(along))
        if lips is not None:
            around = np.linspace(-0.5, 0.5, SKIN_SAMPLES) * skin.reference_girth_mm
            mouths.append(mouth_between(lips, skin.points(np.full(SKIN_SAMPLES, along), around)))
    return mouths


def _lips(loop: Floats, rim: Floats, along: float) -> tuple[Floats, Floats] | None:
    """The rounded edge (rows, 3) on the ulnar and on the radial side of a place along.

    None where a side has no single edge there.
    """
    here, there = loop[:, 0] < along, np.roll(loop[:, 0], -1) < along
    crossings = np.flatnonzero(here != there)
    if len(crossings) != 2 or loop[crossings, 1].prod() >= 0.0:
        return None
    ulnar, radial = crossings[np.argsort(loop[crossings, 1])]
    return rim[:, ulnar], rim[:, radial]


def mouth_between(lips: tuple[Floats, Floats], skin: Floats) -> Mouth:
    """Return the mouth between two lips (rows, 3) over a section of the skin (n, 3).

    The middle point of the section lies on the back.
    """
    apart = np.linalg.norm(lips[0][:, None] - lips[1][None], axis=2)
    ulnar, radial = np.unravel_index(int(apart.argmin()), apart.shape)
    first, second = lips[0][ulnar], lips[1][radial]
    across, found = (second - first) / apart.min(), float(apart.min())
    from_lips = skin - (first + second) / 2.0
    back = from_lips[len(skin) // 2]
    up = back - (back @ across) * across
    rise = float(np.linalg.norm(up))
    passing = from_lips[from_lips @ (up / rise) >= 0.0] @ across
    radius = (found**2 / 4.0 + rise**2) / (2.0 * rise)
    half_angle = float(np.arctan2(found / 2.0, radius - rise))
    return Mouth(found, float(np.ptp(passing)), radius, half_angle, at(second))
