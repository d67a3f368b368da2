r"""Strap slots: a strap of the asked width and thickness passes each.

Its way out over the bar beside the slot is clear.

    ____________________  trim line
       bar                the strap comes through the slot and is folded back over the bar
     ( slot         )     a strap of thickness t passes where the slot is at least t high: not in its round ends
    ____________________

A strap is stiff across its thickness and bends the other ways, so it follows a slot along a bend: slots are straightened first. But
folded back over a bent bar it pulls on one half and rolls, so the bend is a finding of its own.
"""

from collections.abc import Iterator, Sequence
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
from print3d.geometry.types import Floats, Ints
from print3d.language.message import message

ORDER = 40
"""Its place among the findings."""

CHORDS = 41
"""Heights at which the widest strap is looked for."""
MIDDLE = 0.6
"""Share of a slot's length over which its height is measured: its round ends are left out."""
FINER = 8
"""Places on each edge of a slot's rim; own choice."""
LINE_POINTS = 41
"""Places of a slot's middle line; own choice."""
CHORD_SHARE = 0.25
"""Its directions are those of chords over this share of it: facets do not show, a kink does; own choice."""
ROUND_END = 0.75
"""The middle line ends this many slot widths before its ends, which are round; own choice."""
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
    """Check for every part the slots that are narrowest, lowest, nearest to a trim line, and bent most."""
    findings = []
    for part in orthosis.parts:
        slots = slots_of(part)
        if not slots:
            continue
        findings += [
            _passing(part, slots, limits),
            _lowest(part, slots, limits),
            _bar(part, min(slots, key=lambda slot: slot.bar_mm), limits),
            *_straight(part, slots, limits),
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


def _straight(part: Part, slots: Sequence[Slot], limits: CheckLimits) -> Iterator[Finding]:
    bends = [bend_of(slot.walls.mean(axis=0)) for slot in slots]
    for row, unit, limit, watched, found in (
        ("straight", "deg", limits.slot_turn_deg, None, [each.turn_deg for each in bends]),
        ("bow", "mm", limits.slot_bow_mm, limits.watched_slot_bow_mm, [each.bow_mm for each in bends]),
    ):
        most = int(np.argmax(found))
        yield Finding(
            f"slots.{row}",
            found[most],
            limit.value,
            unit,
            "at most",
            limit.source,
            about(part.name),
            values(part=part_name(part.name)),
            watch=None if watched is None else watched.value,
            where=slots[most].where,
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


@dataclass(frozen=True)
class SlotBend:
    """How the middle line of a slot bends.

    turn_deg : most that it turns between two of its places within the shell: in the shell laid flat
    bow_mm : how far it leaves the line between its ends as worn, whichever way
    """

    turn_deg: float
    bow_mm: float


def bend_of(line: Floats) -> SlotBend:
    """Return how a slot bends along its middle line.

    line : (n, 3), an edge of its wall
    """
    centred = line - line.mean(axis=0)
    x = centred @ np.linalg.svd(centred, full_matrices=False)[2][0]
    first, last = int(np.argmin(x)), int(np.argmax(x))
    there, back = (
        np.roll(np.arange(len(line)), -start)[: (stop - start) % len(line) + 1]
        for start, stop in ((first, last), (last, first))
    )
    width = float(
        np.linalg.norm(np.subtract(*(_at_place(line, x, side, x.mean()) for side in (there, back))))
    )
    places = np.linspace(x.min() + ROUND_END * width, x.max() - ROUND_END * width, LINE_POINTS)
    one, other = (_at_place(line, x, side, places) for side in (there, back))
    step = int(CHORD_SHARE * LINE_POINTS)
    middle, across = (one + other) / 2.0, (other - one)[step // 2 :][: LINE_POINTS - step]
    ways = middle[step:] - middle[:-step]
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    out = np.cross(ways, across)
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    sideways = np.einsum("ij,ij->i", np.cross(ways[:-1], ways[1:]), out[1:])
    turned = np.concatenate([[0.0], np.cumsum(np.arcsin(sideways))])
    chord = (middle[-1] - middle[0]) / np.linalg.norm(middle[-1] - middle[0])
    beside = middle - middle[0] - np.outer((middle - middle[0]) @ chord, chord)
    return SlotBend(float(np.degrees(np.ptp(turned))), float(np.linalg.norm(beside, axis=1).max()))


def _at_place(line: Floats, x: Floats, side: Ints, places: Floats | float) -> Floats:
    """Points of one long side of a slot at places along it; `side` numbers its points."""
    order = side[np.argsort(x[side])]
    return np.column_stack([np.interp(places, x[order], column) for column in line[order].T])


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
