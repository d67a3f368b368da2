r"""Strap slots: a strap of the asked width and thickness passes each, and its way out over the bar beside it is clear.

    ____________________  trim line
       bar                the strap comes through the slot and is folded back over the bar
     ( slot         )     a strap of thickness t passes where the slot is at least t high: not in its round ends
    ____________________

A strap is stiff across its thickness and bends the other ways, so it follows a slot along a bend: slots are straightened first.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import KDTree
from shapely.affinity import translate

from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis, Part
from print3d.forms.rim_walls import rim_walls
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats

ORDER = 40
"""Its place among the findings."""

CHORDS = 41
"""Heights at which the widest strap is looked for."""
MIDDLE = 0.6
"""Share of a slot's length over which its height is measured: its round ends are left out."""
FINER = 8
"""Places on each edge of a slot's rim; own choice."""
METHOD = "slot on the finished mesh where its rims stand narrowest, straightened along its middle"


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
        thick, play = limits.strap_thickness_mm, limits.strap_play_mm
        passing = [passing_width_mm(slot.walls, thick.value) for slot in slots]
        tightest = min(range(len(slots)), key=lambda k: passing[k] - slots[k].strap_mm)
        heights = [height_mm(slot.walls) for slot in slots]
        lowest, nearest = int(np.argmin(heights)), min(slots, key=lambda slot: slot.bar_mm)
        asked = slots[tightest].strap_mm
        findings += [
            Finding("slots", f"{part.name}: widest strap that passes its slot (asked {asked:g})", passing[tightest],
                    asked + play.value, "mm", "at least", f"{METHOD}; strap {thick.value:g} mm thick",
                    f"strap of {asked:g} mm and {play.value:g} mm to spare: {play.source}", slots[tightest].where),
            Finding("slots", f"{part.name}: lowest slot, for the strap's thickness", heights[lowest],
                    thick.value + play.value, "mm", "at least", METHOD,
                    f"{thick.value:g} mm thick ({thick.source}) and {play.value:g} mm to spare: {play.source}",
                    slots[lowest].where),
            Finding("slots", f"{part.name}: narrowest bar that a strap is folded over", nearest.bar_mm,
                    limits.strap_bar_mm.value, "mm", "at least", "nearest points of slot and trim line",
                    limits.strap_bar_mm.source, at(nearest.bar_at)),
        ]  # fmt: skip
    return findings


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
    """Return the width of the widest strap of a thickness that goes through both edges (2, n, 3) of a slot's wall."""
    return min(_widest_strap(straightened(line), thickness_mm) for line in walls)


def height_mm(walls: Floats) -> float:
    """Return the least height of a slot over the middle of its length."""
    return min(_least_height(straightened(line)) for line in walls)


def straightened(line: Floats) -> shapely.Polygon:
    """Return a slot's edge (n, 3) in the plane, x along its middle line: a parabola through it is laid flat."""
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
