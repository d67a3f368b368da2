r"""Strap slots: a strap of the asked width and thickness passes each.

Its way out over the bar beside the slot is clear.

    ____________________  trim line
       bar                the strap comes through the slot and is folded back over the bar
     ( slot         )     a strap of thickness t passes where the slot is at least t high: not in its round ends
    ____________________

A strap is stiff across its thickness and bends the other ways, so it follows a slot along a bend: slots are straightened first.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import KDTree
from shapely.affinity import translate

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.forms.rim_walls import rim_walls
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats
from print3d.language.message import message

ORDER = 40
"""Its place among the findings."""

CHORDS = 41
"""Heights at which the widest strap is looked for."""
MIDDLE = 0.6
"""Share of a slot's length over which its height is measured: its round ends are left out."""
FINER = 8
"""Places on each edge of a slot's rim; own choice."""
STRAIGHTENED = message("checks.slots.how.straightened")


@dataclass(frozen=True, eq=False)
class Slot:
    """One slot and the strap it is for.

    strap_mm : width of the strap
    walls : (2, n, 3) mm, edges of its straight wall
    bar_mm, bar_at : least distance to a trim line, and (3,) where
    """

    strap_mm: float
    walls: Floats
    bar_mm: float
    bar_at: Floats

    @property
    def where(self) -> tuple[float, float, float] | None:
        """Its middle."""
        return at(self.walls.mean(axis=(0, 1)))


def check_slots(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check for every part the slots that are narrowest for their straps, lowest, and nearest to a trim line."""
    findings = []
    for part in orthosis.parts:
        slots = slots_of(part)
        if not slots:
            continue
        findings += [
            _passing(part, slots, limits),
            _lowest(part, slots, limits),
            _bar(part, min(slots, key=lambda slot: slot.bar_mm), limits),
        ]
    return findings


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a part has slots."""
    return any(loop.kind == "slot" for part in orthosis.parts for loop in part.definition.pattern.holes)


def _passing(part: Part, slots: Sequence[Slot], limits: CheckLimits) -> Finding:
    thick, play = limits.strap_thickness_mm, limits.strap_play_mm
    passing = [passing_width_mm(slot.walls, thick.value) for slot in slots]
    tightest = min(range(len(slots)), key=lambda k: passing[k] - slots[k].strap_mm)
    asked = slots[tightest].strap_mm
    return Finding(
        "slots.strap",
        passing[tightest],
        asked + play.value,
        "mm",
        "at least",
        message("sources.strap_width_spare", asked_mm=asked, spare_mm=play.value, source=play.source),
        about(part.name),
        values(part=part_name(part.name), asked_mm=asked),
        (STRAIGHTENED, message("checks.slots.how.thick", thick_mm=thick.value)),
        where=slots[tightest].where,
    )


def _lowest(part: Part, slots: Sequence[Slot], limits: CheckLimits) -> Finding:
    thick, play = limits.strap_thickness_mm, limits.strap_play_mm
    heights = [height_mm(slot.walls) for slot in slots]
    lowest = int(np.argmin(heights))
    return Finding(
        "slots.height",
        heights[lowest],
        thick.value + play.value,
        "mm",
        "at least",
        message(
            "sources.strap_thickness_spare",
            thick_mm=thick.value,
            thickness=thick.source,
            spare_mm=play.value,
            source=play.source,
        ),
        about(part.name),
        values(part=part_name(part.name)),
        (STRAIGHTENED,),
        where=slots[lowest].where,
    )


def _bar(part: Part, nearest: Slot, limits: CheckLimits) -> Finding:
    limit = limits.strap_bar_mm
    return Finding(
        "slots.bar",
        nearest.bar_mm,
        limit.value,
        "mm",
        "at least",
        limit.source,
        about(part.name),
        values(part=part_name(part.name)),
        where=at(nearest.bar_at),
    )


def slots_of(part: Part) -> list[Slot]:
    """Return every slot of a part with its strap and its bar."""
    loops, walls = part.definition.pattern.rimmed, rim_walls(part)
    numbers = [k for k, loop in enumerate(loops) if loop.kind == "slot"]
    if not numbers:
        return []
    trim = np.vstack([_fine(walls[k]) for k in range(len(part.definition.pattern.boundary))])
    tree, slots = KDTree(trim), []
    for number, strap in zip(numbers, part.slot_straps_mm, strict=True):
        rim = walls[number].reshape(-1, 3)
        away, _ = tree.query(rim)
        nearest = int(np.argmin(away))
        slots.append(Slot(strap, walls[number], float(away[nearest]), rim[nearest]))
    return slots


def passing_width_mm(walls: Floats, thickness_mm: float) -> float:
    """Return the width of the widest strap of a thickness that goes through a slot.

    edges : (2, n, 3) of the slot's wall
    """
    return min(_widest_strap(straightened(line), thickness_mm) for line in walls)


def height_mm(walls: Floats) -> float:
    """Return the least height of a slot over the middle of its length."""
    return min(_least_height(straightened(line)) for line in walls)


def straightened(line: Floats) -> shapely.Polygon:
    """Return a slot's edge (n, 3) in the plane, x along its middle line.

    A parabola through it is laid flat.
    """
    centred = line - line.mean(axis=0)
    x, y, z = (centred @ np.linalg.svd(centred, full_matrices=False)[2].T).T
    in_plane, out_of_plane = np.polyfit(x, y, 2), np.polyfit(x, z, 2)
    places = np.linspace(x.min(), x.max(), 200)
    slopes = [np.polyval(np.polyder(fit), places) for fit in (in_plane, out_of_plane)]
    speed = np.sqrt(1.0 + slopes[0] ** 2 + slopes[1] ** 2)
    along = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2.0 * np.diff(places))])
    across = (y - np.polyval(in_plane, x)) / np.hypot(1.0, np.polyval(np.polyder(in_plane), x))
    return shapely.Polygon(np.column_stack([np.interp(x, places, along), across])).buffer(0)


def _widest_strap(slot: shapely.Polygon, thickness_mm: float) -> float:
    """The longest level line on which the lower side of a strap fits, its upper side `thickness_mm` above it."""
    room = slot.intersection(translate(slot, 0.0, -thickness_mm))
    if room.is_empty:
        return 0.0
    low_x, low, high_x, high = room.bounds
    lines = [
        shapely.LineString([(low_x - 1.0, y), (high_x + 1.0, y)]) for y in np.linspace(low, high, CHORDS)
    ]
    return max(_longest(room.intersection(line)) for line in lines)


def _least_height(slot: shapely.Polygon) -> float:
    low_x, low, high_x, high = slot.bounds
    middle, half = (low_x + high_x) / 2.0, MIDDLE * (high_x - low_x) / 2.0
    places = np.linspace(middle - half, middle + half, CHORDS)
    lines = [shapely.LineString([(x, low - 1.0), (x, high + 1.0)]) for x in places]
    return min(_longest(slot.intersection(line)) for line in lines)


def _longest(cut: shapely.Geometry) -> float:
    pieces = shapely.get_parts(cut)
    return float(max((piece.length for piece in pieces), default=0.0))


def _fine(wall: Floats) -> Floats:
    """Points (k, 3) close together on both edges of a wall."""
    share = np.arange(FINER)[:, None, None, None] / FINER
    return np.asarray((1.0 - share) * wall + share * np.roll(wall, -1, axis=1)).reshape(-1, 3)
