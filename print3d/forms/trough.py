"""What kinds on hand and forearm share: an outline on the rolled-out back becomes one draped part.

A kind says where its trim lines run, where straps pass and what is bony; this file turns that into outline, strap slots, marking,
vents, clearance map, faces and mesh.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import shapely.ops

from print3d.errors import ShapingError
from print3d.forms.clearance import BonyPoint, Clearance, flare_mm
from print3d.forms.letters_and_vents import KeepOut, Label, letters_of, mark_height_mm, room_for_vents
from print3d.forms.orthosis import Part, PlacedStrap, part_name
from print3d.geometry.types import Floats
from print3d.inputs.options import BETWEEN_RIMS_MM, OrthosisOptions, StrapOptions
from print3d.inputs.problems import OPEN, Problem
from print3d.language.message import message
from print3d.limb.hand import HandLimb
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.shell.assemble import Blueprint, assemble
from print3d.shell.curves import ARC_SEGMENTS, loop_of
from print3d.shell.definition import Facets
from print3d.shell.drape import Extent
from print3d.shell.hollows import bridged
from print3d.shell.pattern import Loop
from print3d.shell.slots import STRAP_PLAY_MM
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
SLOT_ROUNDS = 3
"""Rounds after which a slot's length on the shell is within 0.01 mm of what is wanted (measured)."""
SLOT_SAMPLES = 40
"""Points of a slot's middle line, about 1 mm apart, by which it is measured on the shell; own choice."""
BENT_MM = 0.3
"""A slot is made longer by this: laid straight, one along a bend passes up to 0.8 mm less than its middle line is long (measured), and the
play of a strap takes up the rest."""
NORMAL_STEP_MM = 0.02
"""Step of the differences that give the skin's normal; own choice."""


@dataclass(frozen=True)
class Strap:
    """A strap across the palm side: one slot along either lateral edge.

    station_mm : of its middle
    """

    name: str
    station_mm: float
    width_mm: float


@dataclass(frozen=True, eq=False)
class ForearmPlan:
    """Everything a kind decides about one part.

    outline : in the pattern plane, corners rounded
    flared_along : pattern coordinate of the proximal edge if that flares
    solid_zones : pattern-plane shapes without vents
    openings : holes that are neither vents nor slots
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
    return skin.limb.gap_mm(_inner_face(skin, clearance, places))


def _inner_face(skin: UnrolledHand[HandLimb], clearance: Clearance, places: Floats) -> Floats:
    """Points (n, 3) of the shell's inner face at pattern places (n, 2)."""
    along, around = places.T
    on_skin = skin.points(along, around)
    farther = skin.points(along + NORMAL_STEP_MM, around) - on_skin
    normal = np.cross(farther, skin.points(along, around + NORMAL_STEP_MM) - on_skin)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return np.asarray(on_skin + clearance(along, around)[:, None] * normal)


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
    """One slot along either lateral edge, following it."""
    options, scale = plan.options, plan.skin.scale(strap.station_mm)
    gap = options.straps.slot_gap_mm / scale
    wanted = _between_round_ends(strap.width_mm + STRAP_PLAY_MM + BENT_MM, options.straps)
    length = wanted / scale
    line = _slot_line(plan, options.vents.edge_margin_mm / scale + gap / 2.0, gap / 2.0)
    middle = float(plan.skin.along(strap.station_mm))
    slots = []
    for side in (-1.0, 1.0):
        beyond = shapely.box(middle - length, min(0.0, side * 1e3), middle + length, max(0.0, side * 1e3))
        beside = shapely.line_merge(line.intersection(beyond))
        along = shapely.LineString([(middle, 0.0), (middle, side * 1e3)]).intersection(beside)
        if beside.geom_type != "LineString" or along.geom_type != "Point" or beside.length < length:
            refused = message(
                "refusals.shape.strap_at_edge",
                strap=message(f"refusals.shape.strap.{strap.name}"),
                width_mm=strap.width_mm,
                part=part_name(plan.name),
                station_mm=strap.station_mm,
            )
            raise ShapingError(Problem("orthosis.straps", OPEN, refused))
        at = float(beside.project(along))
        piece = _piece(beside, at, length)
        for _ in range(SLOT_ROUNDS):
            piece = _piece(beside, at, piece.length * wanted / _true_length(plan, piece))
        slots.append(loop_of(piece.buffer(gap / 2.0, quad_segs=ARC_SEGMENTS), "slot", LOOP_SPACING_MM / 2.0))
    return slots[0], slots[1]


def _slot_line(plan: ForearmPlan, depth: float, half_gap: float) -> shapely.LinearRing:
    """The line that lies `depth` inside the trim line.

    Its bends are wide enough for a slot about it and that slot's rim.
    """
    bend = half_gap + plan.options.rim_radius_mm + BETWEEN_RIMS_MM
    inside = plan.outline.buffer(-(depth + bend)).buffer(bend, quad_segs=ARC_SEGMENTS)
    if inside.geom_type != "Polygon" or inside.is_empty:
        wanted = message("refusals.shape.slot_margin", part=part_name(plan.name))
        raise ShapingError(
            Problem("orthosis.vents.edge_margin_mm", plan.options.vents.edge_margin_mm, wanted)
        )
    return inside.exterior


def _between_round_ends(width_mm: float, straps: StrapOptions) -> float:
    """Length of a slot's middle line for a strap.

    Of its round ends only the part counts where the strap's thickness fits.
    """
    gap, thick = straps.slot_gap_mm, straps.thickness_mm
    return width_mm - float(np.sqrt(max(gap**2 - thick**2, 0.0)))


def _piece(line: shapely.LineString, at: float, length: float) -> shapely.LineString:
    """The piece of a line about a place on it, moved along where the line ends."""
    start = min(max(at - length / 2.0, 0.0), max(line.length - length, 0.0))
    return shapely.ops.substring(line, start, start + length)


def _true_length(plan: ForearmPlan, line: shapely.LineString) -> float:
    """How long (mm) a line of the pattern is on the shell.

    A sheared pattern is true in one direction only.
    """
    places = shapely.line_interpolate_point(line, np.linspace(0.0, line.length, SLOT_SAMPLES))
    points = _inner_face(plan.skin, clearance_map(plan), shapely.get_coordinates(places))
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


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
    placed = [_round_on_skin(plan.skin, vent) for vent in place_vents(grid, allowed)]
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
