"""Relative motion (yoke) orthosis: one finger's MCP is held more extended, or more flexed, than its neighbours'.

A band weaves over and under the proximal phalanges between web and PIP. More extended: it lifts the injured finger and lies over its
neighbours (extensor zones IV-VII, sagittal band); more flexed: the reverse (boutonniere). The difference is 15 to 20 degrees (Merritt
and Howell, in Rehabilitation of the Hand, chapter 107), up to 25 in some hands (from memory); all fingers move on together.
"""

from collections.abc import Mapping
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from pydantic import Field

from print3d.errors import ShapingError
from print3d.geometry.frames import RADIAL
from print3d.inputs.case import Case
from print3d.limb.estimates import estimate_hand
from print3d.limb.finger import FingerName
from print3d.limb.four_fingers import FINGERS, FourFingers, build_four_fingers
from print3d.orthoses.bare import BareOptions
from print3d.orthoses.built import AngleDifference, FreeArc, Orthosis, Part
from print3d.orthoses.finger_shell import CREASE_MARGIN_MM, volar_trim_mm
from print3d.orthoses.kind import Kind
from print3d.orthoses.limb_of_case import free_flexion_deg, measures_of_case
from print3d.orthoses.weave import Pass, Weave, weave
from print3d.shell.curves import loop_of, rounded
from print3d.shell.definition import ShellDefinition
from print3d.shell.drape import Extent, drape
from print3d.shell.mesh import build_mesh
from print3d.shell.pattern import Pattern

Floats = NDArray[np.float64]

WEB_MARGIN_MM, OBLIQUE_MM = 3.0, 1.5
"""From the web crease to the band, so that no edge lies in the web (common practice, no single source); and more on the palm side,
where the band runs on obliquely from a finger."""
DORSAL_PIP_MARGIN_MM = 6.5
LEAST_WIDTH_MM = 4.0
"""A narrower band cuts in; own choice."""
WRAP_SHARE = 0.31
"""The band ends this share of the girth from the middle of the back (or palm) of an outer finger: a little past its widest place."""
BESIDE_MM = 0.5
"""Between two fingers that the band does not part."""
STEEPEST_DEG = 50.0
"""Steeper than this the band would stand on edge between two fingers; own choice."""
SQUARENESS = 1.12
"""A finger's section reaches so much farther than its half-breadth where a slanting band touches it."""
LOOP_SPACING_MM = 0.4
FACE_BEYOND_MM = 0.6
CORNER_MM = 3.5
YOKES_OF_THREE: Mapping[FingerName, tuple[FingerName, ...]] = {
    "index": ("index", "middle", "ring"),
    "middle": ("index", "middle", "ring"),
    "ring": ("middle", "ring", "little"),
    "little": ("middle", "ring", "little"),
}
"""An outer finger takes two neighbours on one side; common practice, no single source."""


class RelativeMotionOptions(BareOptions):
    """Options of the relative motion orthosis."""

    kind: Literal["relative_motion"] = "relative_motion"
    injured_finger: Literal["more_extended", "more_flexed"] = Field(
        "more_extended", description="Which way the injured finger's MCP differs from its neighbours'"
    )
    mcp_difference_deg: float = Field(20.0, ge=10.0, le=30.0, description="By how much; 15 to 25 is usual")
    neighbour_mcp_flexion_deg: float = Field(
        20.0, ge=0.0, le=60.0, description="MCP flexion of the neighbours at which the band is shaped"
    )
    fingers: Literal["three", "four"] = Field("three", description="How many fingers the yoke takes")
    band_width_mm: float = Field(
        8.0, ge=LEAST_WIDTH_MM, le=20, description="Width of the band along the fingers"
    )


def build(case: Case[Any]) -> Orthosis:
    """Build the orthosis of a case; the case's finger is the injured one.

    Raises LimbError or ShapingError if the fingers or the options leave no room for it.
    """
    options: RelativeMotionOptions = case.orthosis
    injured: FingerName = case.case.finger
    yoke = YOKES_OF_THREE[injured] if options.fingers == "three" else FINGERS
    extended = 1.0 if options.injured_finger == "more_extended" else -1.0
    straight = _hand_of_case(case)
    stations = {
        name: _room(case, straight, name, is_under=(name == injured) == (extended > 0)) for name in yoke
    }
    lever = sum(stations[injured]) / 2
    play = float(np.degrees(2.0 * options.clearance_mm / lever))
    built_deg = options.mcp_difference_deg + play
    hand = straight
    for name in FINGERS:
        flexion = options.neighbour_mcp_flexion_deg - extended * built_deg * (name == injured)
        hand = hand.posed(name, mcp_flexion_deg=flexion)
    hand = hand.spread(_spreads(hand, yoke, injured, stations, options))
    passes = [
        Pass(hand.rays[name], (name != injured) == (extended > 0), sum(room) / 2, _share(room, options))
        for name, room in reversed([(name, stations[name]) for name in yoke])
    ]
    part = _part(
        options,
        passes,
        weave(passes, options.clearance_mm + options.wall_mm / 2, options.band_width_mm, WRAP_SHARE),
    )
    neighbours = tuple(name for name in yoke if name != injured)
    return Orthosis(
        "relative_motion",
        hand,
        (part,),
        "proximal",
        {},
        tuple(FreeArc("pip", 0.0, free_flexion_deg(case, "pip", name), name) for name in yoke),
        differences=(AngleDifference(injured, neighbours, extended * options.mcp_difference_deg),),
    )


def _hand_of_case(case: Case[Any]) -> FourFingers:
    hand = estimate_hand(case.measured.hand_measures(), case.measured.sex)
    measures = {name: measures_of_case(case, name) for name in FINGERS}
    return build_four_fingers(measures, hand)


def _room(case: Case[Any], hand: FourFingers, finger: FingerName, *, is_under: bool) -> tuple[float, float]:
    """Stations between which the band lies on one finger: beyond the web, and clear of the PIP's flexion.

    Raises ShapingError where a proximal phalanx is too short.
    """
    options: RelativeMotionOptions = case.orthosis
    limb = hand.rays[finger].limb
    landmarks = limb.landmarks
    low = landmarks["web"] + WEB_MARGIN_MM + OBLIQUE_MM * is_under
    reach = (
        volar_trim_mm(limb, "pip", free_flexion_deg(case, "pip", finger), options) - options.squeeze.motion_mm
    )
    crease = landmarks["pip"] - landmarks["pip_crease"] + CREASE_MARGIN_MM
    high = landmarks["pip"] - (max(reach, crease) if is_under else DORSAL_PIP_MARGIN_MM)
    if high - low < LEAST_WIDTH_MM:
        raise ShapingError(
            f"orthosis.band_width_mm = {options.band_width_mm:g}: on the {finger} finger {max(high - low, 0.0):.1f} mm are free "
            f"between web and PIP, a band takes at least {LEAST_WIDTH_MM:g} mm; check measured.{finger}.web_crease_to_pip_crease_mm, "
            "or choose fingers with longer proximal phalanges"
        )
    middle, half = (low + high) / 2, min(high - low, options.band_width_mm) / 2
    return middle - half, middle + half


def _share(room: tuple[float, float], options: RelativeMotionOptions) -> float:
    return (room[1] - room[0]) / options.band_width_mm


def _spreads(
    hand: FourFingers,
    yoke: tuple[FingerName, ...],
    injured: FingerName,
    stations: Mapping[FingerName, tuple[float, float]],
    options: RelativeMotionOptions,
) -> dict[FingerName, float]:
    """Spread (deg) of each finger, so that neighbours stand clear of each other and of a band that passes between them."""
    still = FINGERS.index("middle")
    spreads: dict[FingerName, float] = {"middle": 0.0}
    for towards in (-1, 1):
        numbers = range(still + towards, -1 if towards < 0 else len(FINGERS), towards)
        for number in numbers:
            name, inner = FINGERS[number], FINGERS[number - towards]
            inside = {name, inner} & set(yoke)
            if len(inside) == 2 and injured in inside:
                apart = _apart_mm(hand, (name, inner), stations, options)
            else:
                apart = _side_by_side_mm(hand, name, inner, stations)
                apart += options.wall_mm + 2 * options.clearance_mm if len(inside) == 1 else BESIDE_MM
            spreads[name] = _spread(hand.spread(spreads), name, inner, apart, stations)
    return spreads


def _station(
    hand: FourFingers, name: FingerName, stations: Mapping[FingerName, tuple[float, float]]
) -> float:
    """Station of the band on a finger, or of a finger's middle where the band does not pass it."""
    return sum(stations[name]) / 2 if name in stations else hand.rays[name].limb.landmarks["mid_proximal"]


def _half_breadth(
    hand: FourFingers, name: FingerName, stations: Mapping[FingerName, tuple[float, float]]
) -> float:
    return float(hand.rays[name].limb.half_axes(np.array([_station(hand, name, stations)]))[0][0])


def _side_by_side_mm(
    hand: FourFingers, name: FingerName, inner: FingerName, stations: Mapping[FingerName, tuple[float, float]]
) -> float:
    """Distance sideways between the axes of two fingers that touch."""
    return _half_breadth(hand, name, stations) + _half_breadth(hand, inner, stations)


def _apart_mm(
    hand: FourFingers,
    pair: tuple[FingerName, FingerName],
    stations: Mapping[FingerName, tuple[float, float]],
    options: RelativeMotionOptions,
) -> float:
    """Distance sideways between the axes of two fingers that the band parts: its common tangent is no steeper than it may be.

    As for a crossed belt on two discs, whose tangent leaves their line of centres at the angle whose sine is the sum of radii over
    the distance of centres.
    """
    aside = options.clearance_mm + options.wall_mm / 2
    radii = sum(SQUARENESS * _half_breadth(hand, name, stations) + aside for name in pair)
    first, second = (
        hand.rays[name].hand_from_finger() @ [_station(hand, name, stations), 0.0, 0.0, 1.0] for name in pair
    )
    distal = np.mean([hand.rays[name].hand_from_finger()[:3, 0] for name in pair], axis=0)
    dorsal = np.cross(distal, RADIAL)
    rise = abs(float((first - second)[:3] @ dorsal / np.linalg.norm(dorsal)))
    apart = np.arange(_side_by_side_mm(hand, *pair, stations) + BESIDE_MM, 3.0 * radii, 0.05)
    between = np.hypot(apart, rise)
    steep = np.arcsin(np.minimum(radii / between, 1.0)) - np.arctan2(rise, apart)
    fits = (between > radii) & (np.degrees(steep) <= STEEPEST_DEG)
    return float(apart[np.argmax(fits)])


def _spread(
    hand: FourFingers,
    name: FingerName,
    inner: FingerName,
    apart_mm: float,
    stations: Mapping[FingerName, tuple[float, float]],
) -> float:
    """Spread (deg) that brings a finger so far beside the one nearer to the middle finger; away from it only."""
    ray, beside = hand.rays[name], hand.rays[inner]
    side = 1.0 if FINGERS.index(name) < FINGERS.index(inner) else -1.0
    lever = _station(hand, name, stations) * np.cos(np.radians(ray.limb.pose.mcp_flexion_deg))
    forward = beside.hand_from_finger()[:3, 0]
    beside_y = (
        beside.mcp_centre[1] + (ray.mcp_centre[0] + lever - beside.mcp_centre[0]) * forward[1] / forward[0]
    )
    wanted = side * (beside_y - ray.mcp_centre[1]) + apart_mm
    if wanted >= lever:
        raise ShapingError(
            f"the {name} finger cannot be spread far enough for orthosis.wall_mm beside the {inner} finger"
        )
    natural = side * float(np.degrees(np.arctan2(forward[1], forward[0])))
    return side * max(float(np.degrees(np.arcsin(max(wanted / lever, -1.0)))), natural)


def _part(options: RelativeMotionOptions, passes: list[Pass], band: Weave) -> Part:
    half = options.band_width_mm / 2
    outline = rounded(shapely.box(-half, 0.0, half, band.length_mm), min(CORNER_MM, 0.95 * half))
    material = outline.buffer(FACE_BEYOND_MM)
    extent = Extent(
        (-half - FACE_BEYOND_MM, half + FACE_BEYOND_MM),
        (-FACE_BEYOND_MM, band.length_mm + FACE_BEYOND_MM),
        material,
    )
    wall = options.wall_mm
    inner, outer = drape(
        band.points,
        extent,
        lambda along, _: np.full(len(along), -wall / 2),
        lambda along, _: np.full(len(along), wall),
    )
    pattern = Pattern((loop_of(outline, "outline", LOOP_SPACING_MM),))
    definition = ShellDefinition(pattern, inner, outer, wall, options.rim_radius_mm)
    mesh = build_mesh(definition)
    around = mesh.pattern_points[:, 1]
    towards = []
    for each, (start, stop) in zip(passes, band.arcs, strict=True):
        on_finger = (around >= start) & (around <= stop)
        towards.append((mesh.inner_vertices if each.is_over else mesh.outer_vertices)[on_finger])
    skin = np.concatenate(towards)
    return Part("yoke", definition, mesh, np.full(len(skin), options.clearance_mm), skin)


KIND = Kind("relative_motion", RelativeMotionOptions, build)
