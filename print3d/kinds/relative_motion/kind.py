"""Relative motion (yoke) orthosis: one finger's MCP is held more extended, or more flexed, than its neighbours'.

A band runs over and under the proximal phalanges between web and PIP. More extended: it lifts the injured finger and lies over its
neighbours (extensor zones IV-VII, sagittal band); more flexed: the reverse (boutonniere). The difference is 15 to 20 degrees (Merritt
and Howell, in Rehabilitation of the Hand, chapter 107), up to 25 in some hands (from memory); all fingers move on together.
"""

from collections.abc import Mapping
from typing import Literal

import numpy as np
from pydantic import Field

from print3d.errors import ShapingError
from print3d.forms.band_options import BandOptions
from print3d.forms.gutter import CREASE_MARGIN_MM, FACE_BEYOND_MM, LOOP_SPACING_MM
from print3d.forms.limb_of_case import free_flexion_deg, measures_of_case
from print3d.forms.orthosis import AngleDifference, FreeArc, Orthosis, Part
from print3d.forms.yoke_band import FingerCrossing, yoke_band
from print3d.forms.yoke_outline import (
    LEAST_WIDTH_MM,
    SHIFT_MM,
    WIDEST_TURN,
    BandLimits,
    band_outline,
    best_slopes,
    refuse_narrow,
)
from print3d.geometry.frames import inverse
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS, FingerName
from print3d.inputs.problems import OPEN, Problem
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import message
from print3d.limb.estimates import estimate_hand
from print3d.limb.four_fingers import FourFingers, Ray, build_four_fingers, gap_mm
from print3d.limb.joint_id import JointId
from print3d.shell.assemble import Blueprint, assemble
from print3d.shell.curves import loop_of
from print3d.shell.drape import Extent, even

WEB_MARGIN_MM = 3.0
"""From the web to the band, so that no edge lies in it; common practice, no single source."""
CREASE_PASSED_MM = 0.5
"""From the palmar crease to the band; own choice."""
DORSAL_PIP_MARGIN_MM = 5.5
"""On the back the skin over the PIP lengthens when it flexes; the edge stays this far from the centre."""
HOOK_MM = 5.0
"""The band ends this far past the widest place of an outer finger, which it would slip off sideways otherwise; own choice."""
BESIDE_MM = 0.5
"""Left between two fingers, or between finger and band; own choice."""
PASSING_MM = 1.5
"""Left besides where the band passes between two fingers, or it would stand on edge there; own choice."""
MOST_SPREAD_DEG = 25.0
"""About how far fingers spread (from memory); further is no resting position."""
SPREAD_BISECTIONS = 9
"""Halvings of the spread that is sought: to 0.05 degrees."""
YOKES_OF_THREE: Mapping[FingerName, tuple[FingerName, ...]] = {
    "index": ("index", "middle", "ring"),
    "middle": ("index", "middle", "ring"),
    "ring": ("middle", "ring", "little"),
    "little": ("middle", "ring", "little"),
}
"""An outer finger takes two neighbours on one side; common practice, no single source."""


class RelativeMotionOptions(BandOptions):
    """Options of the relative motion orthosis."""

    kind: Literal["relative_motion"] = "relative_motion"
    injured_finger: Literal["more_extended", "more_flexed"] = Field(
        "more_extended", description="Which way the injured finger's MCP differs from its neighbours'"
    )
    mcp_difference_deg: float = Field(20.0, ge=10.0, le=30.0, description="By how much; 15 to 25 is usual")
    neighbour_mcp_flexion_deg: float = Field(
        30.0, ge=0.0, le=60.0, description="MCP flexion of the neighbours at which the band is shaped"
    )
    fingers: Literal["three", "four"] = Field("three", description="How many fingers the yoke takes")
    band_width_mm: float = Field(
        10.0,
        ge=LEAST_WIDTH_MM,
        le=20,
        description="Width of the band along the fingers, where they leave room for it",
    )

    def fingers_around(self, finger: FingerName) -> tuple[FingerName, ...]:
        """Return the fingers that the yoke takes."""
        return YOKES_OF_THREE[finger] if self.fingers == "three" else FINGERS


def build(case: Case, options: RelativeMotionOptions) -> Orthosis:
    """Build the orthosis of a case; the case's finger is the injured one.

    Raises LimbError or ShapingError if the fingers or the options leave no room for it.
    """
    injured: FingerName = case.header.finger
    yoke = options.fingers_around(injured)
    extended = 1.0 if options.injured_finger == "more_extended" else -1.0
    hand = _hand_of_case(case)
    is_over = {name: (name != injured) == (extended > 0) for name in yoke}
    limits: dict[FingerName, BandLimits] = {
        name: _band_limits(case, options, hand, name, is_over=is_over[name]) for name in yoke
    }
    lever = limits[injured].middle_mm
    play = float(np.degrees(2.0 * options.clearance_mm / lever))
    built_deg = options.mcp_difference_deg + play
    for name in FINGERS:
        flexion = options.neighbour_mcp_flexion_deg - extended * built_deg * (name == injured)
        hand = hand.posed(name, mcp_flexion_deg=flexion)
    hand = _spread(hand, _crossings(hand, limits, is_over, options), options)
    crossings = _crossings(hand, limits, is_over, options)
    neighbours = tuple(JointId(name, "mcp") for name in yoke if name != injured)
    return Orthosis(
        "relative_motion",
        hand,
        (_part(options, hand, crossings, limits),),
        "proximal",
        {},
        tuple(
            FreeArc(pip, 0.0, free_flexion_deg(case, pip))
            for pip in (JointId(name, "pip") for name in FINGERS)
        ),
        differences=(
            AngleDifference(JointId(injured, "mcp"), neighbours, extended * options.mcp_difference_deg),
        ),
    )


def _hand_of_case(case: Case) -> FourFingers:
    hand = estimate_hand(case.measured.hand_measures(), case.measured.sex)
    return build_four_fingers({name: measures_of_case(case, name) for name in FINGERS}, hand)


def _band_limits(
    case: Case, options: RelativeMotionOptions, hand: FourFingers, finger: FingerName, *, is_over: bool
) -> BandLimits:
    """Where the band may lie on one finger: beyond the web, and clear of the PIP's flexion.

    Raises ShapingError where a proximal phalanx is too short.
    """
    limb = hand.rays[finger].limb
    limits = BandLimits(
        limb,
        is_over,
        low_mm=_lowest_mm(hand.rays[finger], is_over=is_over),
        high_dorsal_mm=limb.landmarks["pip"] - DORSAL_PIP_MARGIN_MM,
        high_crease_mm=limb.landmarks["pip_crease"] - CREASE_MARGIN_MM,
        pip_flexion_deg=free_flexion_deg(case, JointId(finger, "pip")),
        outside_mm=options.clearance_mm + options.wall_mm,
        compression_mm=options.soft_tissue_compression.motion_mm,
        asked_width_mm=options.band_width_mm,
    )
    refuse_narrow(finger, options.band_width_mm, limits.high_mm - limits.low_mm)
    return limits


def _lowest_mm(ray: Ray, *, is_over: bool) -> float:
    """The first station for a band: beyond the web.

    On the palm side it is beyond the crease, which lies farther out.
    """
    beyond_web = ray.web_mm + WEB_MARGIN_MM
    return beyond_web if is_over else max(beyond_web, ray.limb.landmarks["web"] + CREASE_PASSED_MM)


def _crossings(
    hand: FourFingers,
    limits: Mapping[FingerName, BandLimits],
    is_over: Mapping[FingerName, bool],
    options: RelativeMotionOptions,
) -> list[FingerCrossing]:
    """The fingers that the band passes, ulnar to radial."""
    level = [
        FingerCrossing(hand.rays[name], is_over[name], limits[name].middle_mm)
        for name in reversed(list(limits))
    ]
    return best_slopes(hand, level, [limits[each.ray.limb.finger] for each in level])


def _spread(
    hand: FourFingers, crossings: list[FingerCrossing], options: RelativeMotionOptions
) -> FourFingers:
    """Spread the fingers until neighbours, and a band that passes between them, stand clear; index and little finger alike."""
    spreads = [ray.spread_deg for ray in _spread_from(hand, 0.0, crossings, options).rays.values()]
    return _spread_from(hand, -(max(spreads) + min(spreads)) / 2, crossings, options)


def _spread_from(
    hand: FourFingers, middle_deg: float, crossings: list[FingerCrossing], options: RelativeMotionOptions
) -> FourFingers:
    """Spread the fingers away from the middle one, which is turned by `middle_deg`, as little as need be."""
    hand = hand.spread({"middle": middle_deg})
    by_name = {each.ray.limb.finger: each for each in crossings}
    still = FINGERS.index("middle")
    for towards in (-1, 1):
        for number in range(still + towards, -1 if towards < 0 else len(FINGERS), towards):
            name, inner = FINGERS[number], FINGERS[number - towards]
            known = [by_name[each].is_over for each in (name, inner) if each in by_name]
            through = options.wall_mm + 2 * options.clearance_mm
            wanted = BESIDE_MM
            if len(known) == 1:
                wanted += through
            elif len(known) == 2 and known[0] != known[1]:
                wanted = through + PASSING_MM
            half_width = options.band_width_mm / 2
            zones = (
                _facing_zone(hand, (name, inner), by_name, half_width),
                _facing_zone(hand, (inner, name), by_name, half_width),
            )
            hand = _spread_beside(hand, (name, inner), zones, wanted)
    return hand


def _facing_zone(
    hand: FourFingers,
    pair: tuple[FingerName, FingerName],
    by_name: Mapping[FingerName, FingerCrossing],
    half_width_mm: float,
) -> tuple[float, float]:
    """Stations of the first finger of a pair that the band passes on its way to the second.

    Where the band does not pass that finger, they are those that a band beside it passes.
    """
    name, other = pair
    limb = hand.rays[name].limb
    if name not in by_name:
        return _lowest_mm(hand.rays[name], is_over=True), limb.landmarks["pip"]
    middle = by_name[name].station_mm
    reached = middle
    if other in by_name:
        there = hand.rays[other].hand_from_finger() @ [by_name[other].station_mm, 0.0, 0.0, 1.0]
        own = (inverse(hand.rays[name].hand_from_finger()) @ there)[0]
        reached = (middle + float(own)) / 2
    return min(middle, reached) - half_width_mm, max(middle, reached) + half_width_mm


def _spread_beside(
    hand: FourFingers,
    pair: tuple[FingerName, FingerName],
    zones: tuple[tuple[float, float], tuple[float, float]],
    wanted_mm: float,
) -> FourFingers:
    """Turn the first finger of a pair away from the second until the gap between them is wide enough."""
    name, inner = pair
    side = 1.0 if FINGERS.index(name) < FINGERS.index(inner) else -1.0
    parallel = hand.rays[inner].spread_deg

    def spread(by_deg: float) -> FourFingers:
        return hand.spread({name: parallel + side * by_deg})

    def gap(by_deg: float) -> float:
        turned = spread(by_deg)
        return gap_mm(turned.rays[name], turned.rays[inner], zones)

    if gap(0.0) >= wanted_mm:
        return spread(0.0)
    low, high = 0.0, MOST_SPREAD_DEG
    if gap(high) < wanted_mm:
        wanted = message(
            "kinds.relative_motion.refusal.close_fingers",
            one=message(f"common.finger.{name}"),
            other=message(f"common.finger.{inner}"),
            gap_mm=gap(high),
            spread_deg=MOST_SPREAD_DEG,
            needed_mm=wanted_mm,
        )
        raise ShapingError(Problem("orthosis.wall_mm", OPEN, wanted))
    for _ in range(SPREAD_BISECTIONS):
        middle = (low + high) / 2
        low, high = (low, middle) if gap(middle) >= wanted_mm else (middle, high)
    return spread(high)


def _part(
    options: RelativeMotionOptions,
    hand: FourFingers,
    crossings: list[FingerCrossing],
    limits: Mapping[FingerName, BandLimits],
) -> Part:
    wall = options.wall_mm
    ends = [WIDEST_TURN + HOOK_MM / each.girth_mm() for each in (crossings[0], crossings[-1])]
    reach = options.band_width_mm / 2 + SHIFT_MM
    band = yoke_band(crossings, options.clearance_mm + wall / 2, reach + FACE_BEYOND_MM, (-ends[0], ends[1]))
    outline = band_outline(hand, band, crossings, [limits[each.ray.limb.finger] for each in crossings])
    blueprint = Blueprint(
        boundary=lambda spacing: (loop_of(outline, "outline", spacing),),
        loop_spacing_mm=LOOP_SPACING_MM,
        holes=(),
        skin=band.surface.points,
        extent=Extent.around_outline(outline, FACE_BEYOND_MM),
        clearance=even(-wall / 2),
        wall_mm=wall,
        rim_radius_mm=options.rim_radius_mm,
    )
    shell = assemble(blueprint)
    mesh = shell.mesh
    around = mesh.pattern_points[:, 1]
    skin = np.concatenate(
        [
            (mesh.inner_vertices if each.is_over else mesh.outer_vertices)[
                (around >= start) & (around <= stop)
            ]
            for each, (start, stop) in zip(crossings, band.arcs_mm, strict=True)
        ]
    )
    return Part("yoke", shell.definition, mesh, np.full(len(skin), options.clearance_mm), skin)


def hours(_case: Case, _options: RelativeMotionOptions) -> Wear:
    """Return the usual hours."""
    return Wear(24.0, message("kinds.relative_motion.hours.usual"))


KIND = Kind("relative_motion", RelativeMotionOptions, build, takes_all_fingers=True, hours=hours)
