"""What the finger kinds share: trim lines on a rolled-out finger become one draped part.

A kind says where its trim lines run and what they keep clear of; this file turns that into outline, strap
slots, marking, vents, clearance map, faces and mesh.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import shapely

from print3d.errors import ShapingError
from print3d.forms.clearance import BonyPoint, Clearance, flare_mm, inner_face
from print3d.forms.letters_and_vents import KeepOut, Label, letters_of, mark_height_mm, room_for_vents
from print3d.forms.orthosis import Part, PlacedStrap, part_name
from print3d.forms.straps import place_on_finger
from print3d.geometry.types import Floats
from print3d.inputs.options import BETWEEN_RIMS_MM, OrthosisOptions
from print3d.inputs.problems import Problem
from print3d.language.message import message
from print3d.limb.finger import FingerLimb
from print3d.limb.limb import Side
from print3d.limb.unrolled import UnrolledFinger
from print3d.shell.assemble import Blueprint, assemble
from print3d.shell.curves import loop_of, rounded
from print3d.shell.drape import Extent, FoldError
from print3d.shell.pattern import Loop
from print3d.shell.slots import STRAP_PLAY_MM, straight_line
from print3d.shell.vents import VentGrid, place_vents

TrimLine = Callable[[Floats], Floats]

CREASE_MARGIN_MM = 2.5
"""A free joint's edge stays 2 to 3 mm from its flexion crease; common practice, no single source."""
WEB_MARGIN_MM = 3.0
"""From the web crease to a proximal edge; common practice, no single source."""
GUTTER_SHARE = 0.5
"""A gutter takes half to two thirds of the finger's girth; common practice, no single source."""
CORNER_MM = 4.0
"""Corners of a finger orthosis in the flat; 5 mm is common practice on larger ones, no single source."""
LOOP_SPACING_MM = 0.4
"""Spacing of an outline's samples: chords are 0.005 mm off corners of 4 mm (plane geometry)."""
LINE_SAMPLES = 121
"""Points of a trim line before it is sampled evenly, under 0.4 mm apart; own choice."""
FACE_BEYOND_MM = 0.6
"""The faces reach this far beyond the outline, so that no rim is evaluated at their very edge."""
RELIEF_MM = 1.0
"""Extra clearance over a bony point; 1 to 3 mm is common practice, no single source."""
RELIEF_REACH_MM = 8.0
"""Distance over which that clearance fades; own choice."""
BENT_MM = 0.3
"""A slot is made longer by this: as the shell bends with the finger, up to 0.2 mm less passes than its middle line is long (measured at 45 degrees)."""
LETTER_MARGIN_MM = 1.2
"""Vents stay this far from letters; own choice."""


@dataclass(frozen=True)
class Trim:
    """Trim lines in the pattern plane.

    proximal, distal : around (n,) -> along (n,) of the two ends
    half_width_mm : the lateral trim lines lie at plus and minus this
    """

    proximal: TrimLine
    distal: TrimLine
    half_width_mm: float

    def outline(self) -> shapely.Polygon:
        """Return the outline before its corners are rounded."""
        around = np.linspace(-self.half_width_mm, self.half_width_mm, LINE_SAMPLES)
        distal = np.column_stack([self.distal(around), around])
        proximal = np.column_stack([self.proximal(around), around])
        return shapely.Polygon(np.vstack([distal, proximal[::-1]]))


@dataclass(frozen=True, eq=False)
class FingerPlan:
    """Everything a kind decides about one part.

    strap_stations : stations (mm) over which a strap runs; each gets a slot at either lateral edge
    solid_zones : pattern-plane shapes without vents (joints)
    bony_points : stations (mm) of bony points on the pattern's middle line: relieved, and kept free of vents
    relief : further clearance (along, around -> mm), where a segment must move past the shell
    """

    name: str
    skin: UnrolledFinger[FingerLimb]
    trim: Trim
    options: OrthosisOptions
    label: Label | None = None
    strap_stations: Sequence[float] = ()
    solid_zones: Sequence[shapely.Geometry] = ()
    bony_points: Sequence[float] = ()
    relief: Clearance | None = None


def girth_blend(skin: UnrolledFinger[FingerLimb], dorsal_along: float, volar_along: float) -> TrimLine:
    """Return a trim line that runs smoothly from one place on the dorsal line to another on the volar line."""

    def line(around: Floats) -> Floats:
        fraction = skin.centre_fraction + around / skin.reference_girth_mm
        return dorsal_along + (volar_along - dorsal_along) * (1.0 - np.cos(2.0 * np.pi * fraction)) / 2.0

    return line


def volar_trim_mm(limb: FingerLimb, joint: str, flexion_deg: float, options: OrthosisOptions) -> float:
    """Return how far from a joint centre a volar edge must end so that the joint can flex.

    At flexion t the neighbouring segment's volar skin, at depth b below the axis, comes to meet the edge, whose
    outside lies at depth o, which is b with clearance, flare and wall: the edge must stay (b - o cos t) / sin t away (plane geometry).
    For less than 90 degrees the 90-degree distance is kept.
    """
    station = np.array([limb.landmarks[joint]])
    _, half_depth = limb.half_axes(station)
    volar = float(half_depth[0] - limb.section_middle(station)[0])
    outside = volar + options.clearance_mm + options.flare.height_mm + options.wall_mm
    angle = np.radians(max(flexion_deg, 90.0))
    return float((volar - outside * np.cos(angle)) / np.sin(angle))


def slot_room_mm(options: OrthosisOptions) -> float:
    """Return the length along the finger that a strap slot takes with its margins."""
    return options.straps.width_mm + STRAP_PLAY_MM + BENT_MM + 2.0 * options.vents.edge_margin_mm


def least_between_slots_mm(options: OrthosisOptions) -> float:
    """Return how far apart the slots of two straps lie at least: their roundings, and a bridge between them."""
    return 2.0 * options.rim_radius_mm + options.vents.edge_margin_mm / 2.0


def slot_around_mm(options: OrthosisOptions, half_width_mm: float) -> float:
    """Return how far around the pattern's middle line the slots of a shell lie."""
    return half_width_mm - options.vents.edge_margin_mm - options.straps.slot_gap_mm / 2


def build_part(plan: FingerPlan) -> Part:
    """Turn a plan into a finished part.

    Raises ShapingError where outline, slots, letters or wall do not fit.
    """
    options, skin = plan.options, plan.skin
    outline = rounded(plan.trim.outline(), CORNER_MM)
    slots = _slots(plan, outline)
    marks = _marks(plan, outline)
    vents = _vents(plan, outline, slots, marks)
    clearance = clearance_map(plan)
    blueprint = Blueprint(
        boundary=lambda spacing: (loop_of(outline, "outline", spacing),),
        loop_spacing_mm=LOOP_SPACING_MM,
        holes=(*slots, *vents),
        skin=skin.points,
        extent=Extent.around_outline(outline, FACE_BEYOND_MM),
        clearance=clearance,
        wall_mm=options.wall_mm,
        rim_radius_mm=options.rim_radius_mm,
        marks=marks,
        mark_height_mm=mark_height_mm(options.marking),
    )
    with _options_named(plan):
        shell = assemble(blueprint)
    planned = clearance(*shell.mesh.pattern_points.T)
    side: Side = "dorsal" if skin.centre_fraction == 0.0 else "volar"
    return Part(
        plan.name,
        shell.definition,
        shell.mesh,
        planned,
        shell.mesh.inner_vertices,
        straps=_straps(plan, side) if slots else (),
        side=side,
    )


def _straps(plan: FingerPlan, side: Side) -> tuple[PlacedStrap, ...]:
    """The straps of a shell, each over the open side."""
    open_side: Side = "volar" if side == "dorsal" else "dorsal"
    places = [place_on_finger(plan.skin.limb, station, open_side) for station in plan.strap_stations]
    return tuple(PlacedStrap(place, plan.options.straps.width_mm) for place in places)


def has_room_for_straps(plan: FingerPlan) -> bool:
    """Whether the slots of a plan fit beside its edges and each other."""
    try:
        _slots(plan, rounded(plan.trim.outline(), CORNER_MM))
    except ShapingError:
        return False
    return True


@contextmanager
def _options_named(plan: FingerPlan) -> Iterator[None]:
    """Say which options bend the shell too sharply where it folds.

    Near an end those are the flare's, else wall and clearance.
    """
    options, flare = plan.options, plan.options.flare
    try:
        yield
    except FoldError as fold:
        at = np.array([fold.around])
        to_end = min(fold.along - plan.trim.proximal(at)[0], plan.trim.distal(at)[0] - fold.along)
        if to_end <= flare.length_mm and flare.height_mm > 0.0:
            why = message(
                "refusals.shape.flare",
                length_mm=flare.length_mm,
                part=part_name(plan.name),
                wall_mm=options.wall_mm,
            )
            key, found = "orthosis.flare.height_mm", flare.height_mm
        else:
            is_dorsal = plan.skin.centre_fraction == 0.0
            why = message(
                "refusals.shape.bent_dorsal" if is_dorsal else "refusals.shape.bent",
                clearance_mm=options.clearance_mm,
            )
            key, found = "orthosis.wall_mm", options.wall_mm
        raise FoldError(fold.along, fold.around, why, key, found) from fold


def clearance_map(plan: FingerPlan) -> Clearance:
    """Return the planned clearance: even, rising over the flares of both ends and over bony points."""
    trim, options = plan.trim, plan.options
    bony = [BonyPoint((place, 0.0), RELIEF_MM, RELIEF_REACH_MM) for place in _bony_places(plan)]

    def clearance(along: Floats, around: Floats) -> Floats:
        to_end = np.minimum(along - trim.proximal(around), trim.distal(around) - along)
        gap = options.clearance_mm + flare_mm(to_end, options.flare.height_mm, options.flare.length_mm)
        for point in bony:
            gap = gap + point.relief(along, around)
        return gap if plan.relief is None else gap + plan.relief(along, around)

    return clearance


def _bony_places(plan: FingerPlan) -> list[float]:
    """The bony points in pattern coordinates along."""
    return [float(plan.skin.along(station)) for station in plan.bony_points]


def _slots(plan: FingerPlan, outline: shapely.Polygon) -> tuple[Loop, ...]:
    straps = plan.options.straps
    if straps.style != "slots":
        return ()
    room = outline.buffer(-2 * plan.options.rim_radius_mm - BETWEEN_RIMS_MM)
    around = slot_around_mm(plan.options, plan.trim.half_width_mm)
    face = inner_face(plan.skin.points, clearance_map(plan))
    length = straps.width_mm + STRAP_PLAY_MM + BENT_MM - straps.slot_gap_mm
    slots: list[Loop] = []
    for station in plan.strap_stations:
        for side in (-1.0, 1.0):
            centre = (float(plan.skin.along(station)), side * around)
            line = straight_line(face, centre, 0.0, length)
            slot = line.slot(straps.slot_gap_mm / plan.skin.scale(station), LOOP_SPACING_MM)
            shape = shapely.Polygon(slot.points)
            if not room.contains(shape):
                wanted = message(
                    "refusals.shape.slot",
                    slot_mm=straps.width_mm + STRAP_PLAY_MM,
                    part=part_name(plan.name),
                    station_mm=station,
                )
                raise ShapingError(Problem("orthosis.straps.width_mm", straps.width_mm, wanted))
            room = room.difference(shape.buffer(least_between_slots_mm(plan.options)))
            slots.append(slot)
    return tuple(slots)


def _marks(plan: FingerPlan, outline: shapely.Polygon) -> tuple[Loop, ...]:
    marking, label = plan.options.marking, plan.label
    if marking.style == "none" or label is None:
        return ()
    marks = letters_of(label, marking)
    if not outline.buffer(-plan.options.rim_radius_mm - 0.3).contains(
        shapely.MultiPoint(np.vstack([m.points for m in marks]))
    ):
        raise ShapingError(message("refusals.shape.marking", text=label.text, part=part_name(plan.name)))
    return marks


def _vents(
    plan: FingerPlan, outline: shapely.Polygon, slots: Sequence[Loop], marks: Sequence[Loop]
) -> tuple[Loop, ...]:
    vents = plan.options.vents
    if vents.grid == "none":
        return ()
    start, stop = plan.skin.station(np.array(outline.bounds)[[0, 2]])
    shrunk = min(1.0, plan.skin.scale(start), plan.skin.scale(stop))
    bony = [(at, 0.0) for at in _bony_places(plan)]
    keep_out_zones = KeepOut(
        slots,
        plan.options.vent_to_slot_mm,
        bony,
        plan.solid_zones,
        marks,
        LETTER_MARGIN_MM,
    )
    allowed = room_for_vents(outline, vents, keep_out_zones, shrunk)
    return place_vents(
        VentGrid(vents.grid, vents.diameter_mm, vents.spacing_mm, plan.skin.scale_along), allowed
    )
