"""What kinds on hand and forearm share: an outline on the rolled-out back becomes one draped part.

A kind says where its trim lines run, where straps pass and what is bony; this file turns that into outline, strap slots, marking,
vents, clearance map, faces and mesh.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from print3d.errors import ShapingError
from print3d.forms.clearance import BonyPoint, Clearance, flare_mm, inner_face
from print3d.forms.letters_and_vents import KeepOut, Label, letters_of, mark_height_mm, room_for_vents
from print3d.forms.orthosis import Part, PlacedStrap, part_name
from print3d.geometry.spline import SurfaceFunction
from print3d.geometry.types import Floats
from print3d.inputs.options import BETWEEN_RIMS_MM, OrthosisOptions, StrapOptions
from print3d.inputs.problems import OPEN, Problem
from print3d.language.message import message
from print3d.limb.hand import HandLimb
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.shell.assemble import Blueprint, assemble
from print3d.shell.curves import loop_of
from print3d.shell.definition import Facets
from print3d.shell.drape import Extent
from print3d.shell.hollows import bridged
from print3d.shell.pattern import Loop
from print3d.shell.slots import LINE_POINTS, STRAP_PLAY_MM, SlotLine, straight_line
from print3d.shell.vents import VentGrid, place_vents, well_apart

LOOP_SPACING_MM = 0.8
"""Spacing of an outline's samples, half of it where the outline is bent more; own choice."""
OUTLINE_MM = 0.03
"""Where an edge of the outline would stand further off a face, the outline is sampled twice as finely; few hands need it."""
SPACING_SHARE = 0.007
"""Spacing of the mesh as a share of hand length, where the shell is gently curved; it is finer where fingers round off at the sides."""
CHORD_ERROR_MM = 0.02
"""How far a facet of a rim or a vent may lie from the true surface; a tenth of what a printer is off, own choice."""
FACET_ERROR_MM = 0.02
"""The same of the two faces."""
FACE_BEYOND_MM = 1.0
"""The faces reach this far beyond the outline, so that no rim is evaluated at their very edge."""
LETTER_MARGIN_MM = 2.0
"""Vents stay this far from letters; own choice."""
BENT_MM = 0.3
"""A slot is made longer by this: as the shell bends with the limb, less passes than its middle line is long; the play takes up the rest;
own choice."""
SLOT_ROUNDS = 2
"""Rounds after which a slot touches its room from inside within 0.1 mm; own choice."""
ROUND_END_MM = 0.5
"""The room for slots ends round: this far from its end it is wide enough; own choice."""
STRAIGHT_DEG = 4.0
"""A slot whose middle line turns by no more on the shell is straight enough: below what the check accepts; own choice."""
TRIED = sorted(
    (
        (share, float(depth), float(turn))
        for share in (0.0, 0.4, 0.7, 1.0)
        for depth in (0, 3)
        for turn in (-12, -6, 0, 6, 12)
    ),
    key=lambda tried: (10.0 * tried[0] + 2.0 * tried[1] + abs(tried[2]) / 2.0, tried),
)
"""Where a slot is tried, nearest to its place first: share of the way that it may slide, depth inside the trim line (mm), turn from
the way that the edge runs (degrees); own choice."""


@dataclass(frozen=True)
class StrapEnd:
    """Where a strap passes its slot.

    slides_mm : so far distally (negative: proximally) it may be moved to where the shell is straight
    """

    station_mm: float
    slides_mm: float = 0.0


@dataclass(frozen=True)
class Strap:
    """A strap across the palm side: one slot along either lateral edge.

    ends : ulnar and radial
    """

    name: str
    ends: tuple[StrapEnd, StrapEnd]
    width_mm: float

    @classmethod
    def across(cls, name: str, station_mm: float, width_mm: float, slides_mm: float = 0.0) -> "Strap":
        """Return a strap straight across."""
        end = StrapEnd(station_mm, slides_mm)
        return cls(name, (end, end), width_mm)

    @property
    def station_mm(self) -> float:
        """Of its middle."""
        return (self.ends[0].station_mm + self.ends[1].station_mm) / 2.0


@dataclass(frozen=True, eq=False)
class ForearmPlan:
    """Everything a kind decides about one part.

    outline : in the pattern plane, corners rounded
    flared_along : pattern coordinate of the proximal edge if that flares
    solid_zones : pattern-plane shapes without vents
    openings : holes that are neither vents nor slots
    vented : places in the pattern plane at which a vent is wanted before all others
    lifts : further clearances: over ridges, and where two parts lie over each other
    stiffened_along : between which places along ridges stand at their full height
    """

    name: str
    skin: UnrolledHand[HandLimb]
    outline: shapely.Polygon
    flared_along: float | None
    options: OrthosisOptions
    straps: Sequence[Strap]
    bony_points: Sequence[BonyPoint]
    solid_zones: Sequence[shapely.Geometry]
    label: Label
    openings: tuple[Loop, ...] = ()
    vented: tuple[tuple[float, float], ...] = ()
    lifts: tuple[Clearance, ...] = ()
    stiffened_along: tuple[float, float] | None = None


def build_forearm_part(plan: ForearmPlan) -> Part:
    """Turn a plan into a finished part.

    Raises ShapingError where outline, slots, letters or wall do not fit.
    """
    options = plan.options
    slots = _all_slots(plan)
    marks = () if options.marking.style == "none" else letters_of(plan.label, options.marking)
    holes = (*slots, *plan.openings, *_vents(plan, slots, marks))
    extent = Extent.around_outline(plan.outline, FACE_BEYOND_MM)
    clearance = bridged(plan.skin.points, extent, clearance_map(plan), options.wall_mm)
    blueprint = Blueprint(
        boundary=lambda spacing: (loop_of(plan.outline, "outline", spacing),),
        loop_spacing_mm=LOOP_SPACING_MM,
        holes=holes,
        skin=plan.skin.points,
        extent=extent,
        clearance=clearance,
        wall_mm=options.wall_mm,
        rim_radius_mm=options.rim_radius_mm,
        marks=marks,
        mark_height_mm=mark_height_mm(options.marking),
        facets=Facets(CHORD_ERROR_MM, SPACING_SHARE * plan.skin.limb.hand_length_mm, FACET_ERROR_MM),
        outline_error_mm=OUTLINE_MM,
    )
    shell = assemble(blueprint)
    return Part(
        plan.name,
        shell.definition,
        shell.mesh,
        planned_gap_mm(plan.skin, clearance, shell.mesh.pattern_points),
        shell.mesh.inner_vertices,
        stiffened_along=plan.stiffened_along,
        straps=tuple(PlacedStrap(strap.name, strap.width_mm) for strap in plan.straps),
        side="dorsal",
        flares_proximally=plan.flared_along is not None,
    )


def planned_gap_mm(skin: UnrolledHand[HandLimb], clearance: Clearance, places: Floats) -> Floats:
    """Return the gap (n,) planned at pattern places (n, 2): to the nearest skin, which lies deeper between two fingers."""
    return skin.limb.gap_mm(inner_face(skin.points, clearance)(*places.T))


def clearance_map(plan: ForearmPlan) -> Clearance:
    """Return the planned clearance: even, rising over the proximal flare and over bony points."""
    options = plan.options

    def clearance(along: Floats, around: Floats) -> Floats:
        gap = options.clearance_mm + _flare(plan, along)
        for point in plan.bony_points:
            gap = gap + point.relief(along, around)
        for lift in plan.lifts:
            gap = gap + lift(along, around)
        return gap

    return clearance


def _flare(plan: ForearmPlan, along: Floats) -> Floats:
    """How far the proximal end is lifted (n,)."""
    if plan.flared_along is None:
        return np.zeros_like(along)
    flare, scale = plan.options.flare, plan.skin.scale(float(plan.skin.station(plan.flared_along)))
    return flare_mm(along - plan.flared_along, flare.height_mm, flare.length_mm / scale)


def _all_slots(plan: ForearmPlan) -> tuple[Loop, ...]:
    """The slots of all straps; raises ShapingError if those of two straps crowd each other."""
    slots: list[Loop] = []
    room = plan.outline
    for strap in plan.straps:
        for slot in _slots(plan, strap):
            shape = shapely.Polygon(slot.points)
            if not room.contains(shape):
                wanted = message(
                    "refusals.shape.slots_crowd",
                    strap=message(f"refusals.shape.strap.{strap.name}"),
                    part=part_name(plan.name),
                    straps=[
                        message(f"refusals.shape.strap_width.{each.name}", width_mm=each.width_mm)
                        for each in plan.straps
                    ],
                )
                raise ShapingError(Problem("orthosis.straps", OPEN, wanted))
            room = room.difference(shape.buffer(plan.options.vents.edge_margin_mm))
            slots.append(slot)
    return tuple(slots)


def _slots(plan: ForearmPlan, strap: Strap) -> tuple[Loop, Loop]:
    """One slot along either lateral edge: straight on the shell, and as near to the edge as that lets it."""
    one, other = (
        _slot(plan, strap, side, place) for side, place in zip((-1.0, 1.0), strap.ends, strict=True)
    )
    return one, other


def _slot(plan: ForearmPlan, strap: Strap, side: float, end: StrapEnd) -> Loop:
    """The slot of a strap's end, near its place where the shell is straight enough, else where straightest."""
    wanted = _between_round_ends(strap.width_mm + STRAP_PLAY_MM + BENT_MM, plan.options.straps)
    face = inner_face(plan.skin.points, clearance_map(plan))
    found: list[tuple[SlotLine, float]] = []
    for share, depth, turn in TRIED:
        if share > 0.0 and not end.slides_mm:
            continue
        station = end.station_mm + share * end.slides_mm
        scale = plan.skin.scale(station)
        gap = plan.options.straps.slot_gap_mm / scale
        room = _slot_room(plan, plan.options.vents.edge_margin_mm / scale + gap / 2.0)
        places = _within(room, float(plan.skin.along(station)), wanted / scale)
        edge = _edge_of(room, places, side)
        if edge is None:
            continue
        line = _beside(edge - side * depth / scale, places, turn, face, wanted)
        found.append((line, gap))
        if line.turn_deg <= STRAIGHT_DEG:
            break
    if not found:
        refused = message(
            "refusals.shape.strap_at_edge",
            strap=message(f"refusals.shape.strap.{strap.name}"),
            width_mm=strap.width_mm,
            part=part_name(plan.name),
            station_mm=end.station_mm,
        )
        raise ShapingError(Problem("orthosis.straps", OPEN, refused))
    line, gap = min(found, key=lambda each: each[0].turn_deg)
    return line.slot(gap, LOOP_SPACING_MM / 2.0)


def _beside(
    edge: Floats, places: Floats, turn_deg: float, face: SurfaceFunction, length_mm: float
) -> SlotLine:
    """The line that is straight on the shell and touches an edge (n,) from inside, given at places along (n,).

    turn_deg : by which it is turned from the way that the edge runs
    """
    slope, around = np.polyfit(places - places.mean(), edge, 1)
    tilted = float(np.tan(np.arctan(slope) + np.radians(turn_deg)))
    for _ in range(SLOT_ROUNDS):
        line = straight_line(face, (float(places.mean()), float(around)), tilted, length_mm)
        side = np.sign(around)
        around -= side * (side * (line.flat[:, 1] - np.interp(line.flat[:, 0], places, edge))).max()
    return line


def _slot_room(plan: ForearmPlan, depth: float) -> shapely.Polygon:
    """Where middle lines of slots may lie: `depth` inside the trim line."""
    inside = plan.outline.buffer(-depth)
    if inside.geom_type != "Polygon" or inside.is_empty:
        wanted = message("refusals.shape.slot_margin", part=part_name(plan.name))
        raise ShapingError(
            Problem("orthosis.vents.edge_margin_mm", plan.options.vents.edge_margin_mm, wanted)
        )
    return inside


def _within(room: shapely.Polygon, middle: float, length: float) -> Floats:
    """Places (n,) along a slot, moved along where the room ends."""
    half = length / 2.0
    middle = min(max(middle, room.bounds[0] + ROUND_END_MM + half), room.bounds[2] - ROUND_END_MM - half)
    return middle + length * np.linspace(-0.5, 0.5, LINE_POINTS)


def _edge_of(room: shapely.Polygon, places: Floats, side: float) -> Floats | None:
    """How far around (n,) a shape reaches on one side at places along (n,); None where it does not."""
    lines = shapely.linestrings([[(place, 0.0), (place, side * 1e3)] for place in places])
    reach = shapely.bounds(shapely.intersection(lines, room))[:, [1, 3]]
    return None if np.isnan(reach).any() else np.asarray(side * np.abs(reach).max(axis=1))


def _between_round_ends(width_mm: float, straps: StrapOptions) -> float:
    """Length of a slot's middle line for a strap.

    Of its round ends only the part counts where the strap's thickness fits.
    """
    gap, thick = straps.slot_gap_mm, straps.thickness_mm
    return width_mm - float(np.sqrt(max(gap**2 - thick**2, 0.0)))


def _vents(plan: ForearmPlan, slots: Sequence[Loop], marks: Sequence[Loop]) -> tuple[Loop, ...]:
    vents = plan.options.vents
    if vents.grid == "none":
        return ()
    low, _, high, _ = plan.outline.bounds
    shrunk = min(1.0, float(plan.skin.scale_along(np.linspace(low, high, 50)).min()))
    bony = [point.place for point in plan.bony_points]
    openings = (*slots, *plan.openings)
    keep_out_zones = KeepOut(
        openings, plan.options.vent_to_slot_mm, bony, plan.solid_zones, marks, LETTER_MARGIN_MM
    )
    allowed = room_for_vents(plan.outline, vents, keep_out_zones, shrunk)
    grid = VentGrid(vents.grid, vents.diameter_mm, vents.spacing_mm, plan.skin.scale_along, CHORD_ERROR_MM)
    placed = [_round_on_skin(plan.skin, vent) for vent in place_vents(grid, allowed, plan.vented)]
    # guard: vents well apart
    return well_apart(placed, 2 * plan.options.rim_radius_mm + BETWEEN_RIMS_MM)


def _round_on_skin(skin: UnrolledHand[HandLimb], vent: Loop) -> Loop:
    """The vent as an ellipse in the pattern that is a circle of the same area on the skin.

    They differ where the skin shears the pattern.
    """
    centre = vent.points.mean(axis=0)
    step = 0.5 * np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    beside = skin.points(*(centre + step).T)
    tangents = np.array([beside[0] - beside[1], beside[2] - beside[3]])
    squared, axes = np.linalg.eigh(tangents @ tangents.T)
    stretch = np.sqrt(squared / np.sqrt(squared.prod()))
    return Loop(vent.kind, centre + (vent.points - centre) @ axes @ np.diag(1.0 / stretch) @ axes.T)
