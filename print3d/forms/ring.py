r"""What the ring kinds share: two rings around the PIP, joined on one side, as one wrap-around pattern.

    open side (centre of the pattern)              joined side (the seam)
       ____                                    ____
      (    )  proximal ring  ------------------\  /
       PIP     lens-shaped opening               ><   bar across the PIP
      (____)  distal ring    ------------------/  \

The rings are cosines of the way around, so that they run into the bar without a corner. Three places bear, two rings on
the open side and the bar on the other: together they stop the joint one way.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
import shapely
from pydantic import Field
from scipy.optimize import least_squares

from print3d.errors import ShapingError
from print3d.forms.band_options import BandOptions, width_problems
from print3d.forms.gutter import FACE_BEYOND_MM, LOOP_SPACING_MM
from print3d.forms.midline import midline_height
from print3d.forms.orthosis import SLIDE_MM, Part, Stop
from print3d.geometry.frames import apply, flexion_rotation, rigid
from print3d.geometry.types import Floats
from print3d.inputs.problems import Problem
from print3d.inputs.table import GivenValues, Section
from print3d.language.message import message
from print3d.limb.finger import FingerLimb
from print3d.limb.joint_id import JointId, SegmentName
from print3d.limb.unrolled import UnrolledJoint
from print3d.shell.assemble import Blueprint, assemble
from print3d.shell.curves import edge, loop_of, rounded
from print3d.shell.drape import Extent, FoldError, even

NAME = "figure-of-eight_ring"
LENS_CORNER_MM = 1.2
"""Rounding of the two corners where the rings meet the bar: a little more than a rim; own choice."""
LENS_SAMPLES = 161
"""Points of an edge of the opening before it is sampled evenly, under 0.5 mm apart; own choice."""
RING_SAMPLES = 241
"""Points of a ring's middle line and borders, under 0.3 mm apart; own choice."""
USUAL_LEVER_DEPTHS = 1.25
"""Rings lie this many half-depths of the finger from the axis where there is room; further on they turn less but reach the web; own choice."""
END_MARGIN_MM = 2.0
"""From a ring's edge to web or DIP crease; 2 to 3 mm is common practice, no single source."""
GUESS_RAD = 0.15
"""Turn from which the play is sought, about 9 degrees; own choice."""
PLAY_ROUNDS = 3
"""The play depends a little on the angle the rings are built on; after three rounds it changes by less than 0.1 degree."""
LEAST_LEVER_MM = 6.0
"""Nearer to the axis than this a ring has no lever to stop a joint; own choice."""


LeverArm = Annotated[
    float | None,
    Field(
        ge=LEAST_LEVER_MM, le=25, description="PIP axis to the middle of each ring; left out, as far as fits"
    ),
]


class RingTable(Section):
    """The sizes a ring is made to.

    Its bands are narrower than those of a whole orthosis, and its wall thicker, so that it stands being squeezed on the largest adult
    finger: 2.4 mm were strained to 10.4 MPa of 9, 2.8 mm to 8.0 (finite elements, PETG).
    """

    wall_mm: float = Field(2.8, ge=1.2, le=5, description="Thickness of rings and bar")
    clearance_mm: float = Field(0.2, ge=0, le=3, description="Between skin and inner face")
    rim_radius_mm: float = Field(
        1.25, ge=0.5, le=2.5, description="Rounding of every edge; below half the wall"
    )
    band_width_mm: float = Field(4.0, ge=2.5, le=12, description="Width of rings and bar")
    lever_mm: LeverArm = None

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return what does not fit rim, wall and width."""
        return _size_problems(given)


class RingOptions(BandOptions):
    """What the ring kinds take."""

    band_width_mm: float = Field(5.0, ge=2.5, le=12, description="Width of rings and bar")
    lever_mm: LeverArm = None


def ring_of(options: RingOptions) -> RingTable:
    """Return the sizes of the ring that a whole orthosis is."""
    return RingTable(**options.model_dump(include=set(RingTable.model_fields)))


def _size_problems(given: GivenValues) -> list[Problem]:
    rim, wall = given.get("rim_radius_mm"), given.get("wall_mm")
    if rim is None or wall is None or rim < wall / 2:
        return width_problems(given)
    wanted = message("refusals.options.ring_rim_wall", wall_mm=wall, most=wall / 2)
    return [Problem("rim_radius_mm", rim, wanted), *width_problems(given)]


@dataclass(frozen=True, eq=False)
class RingPlan:
    """One ring orthosis about a PIP.

    skin : unrolled about the open side
    lever_mm : from the PIP centre along the finger to the middle of either ring on the open side
    bar_station_mm : where the bar crosses the joined side
    """

    skin: UnrolledJoint[FingerLimb]
    lever_mm: float
    bar_station_mm: float
    shape: RingTable

    def middle(self, side: float) -> Callable[[Floats], Floats]:
        """Return the middle line (around -> along) of the proximal (side -1) or distal (+1) ring."""
        bar, ring = self._ends(side)

        def line(around: Floats) -> Floats:
            share = (1.0 + np.cos(2.0 * np.pi * around / self.skin.reference_girth_mm)) / 2.0
            return bar + (ring - bar) * share

        return line

    def border(self, side: float, towards: float) -> Callable[[Floats], Floats]:
        """Return the edge of a ring that lies proximally (towards -1) or distally (+1) of its middle line."""
        line, girth = self.middle(side), self.skin.reference_girth_mm
        bar, ring = self._ends(side)

        def edge_line(around: Floats) -> Floats:
            slope = np.pi * (ring - bar) / girth * np.sin(2.0 * np.pi * around / girth)
            return line(around) + towards * self.shape.band_width_mm / 2.0 * np.sqrt(1.0 + slope**2)

        return edge_line

    def _ends(self, side: float) -> tuple[float, float]:
        """Pattern coordinates along of the bar and of one ring on the open side."""
        skin = self.skin
        bar = skin.along(self.bar_station_mm, skin.reference_girth_mm / 2)
        return bar, skin.along(skin.limb.landmarks["pip"] + side * self.lever_mm, 0.0)


def stopping_plan(limb: FingerLimb, shape: RingTable, stop: Stop, compression_mm: float) -> RingPlan:
    """Plan rings that stop the PIP: built on a finger that is short of the angle by the rings' play.

    Rings on the back stop extension; on the palm side they stop flexion. Raises ShapingError where the rings do not fit.
    """
    is_dorsal = stop.blocked == "extension"
    reach = lever_mm(limb, shape.band_width_mm, shape.lever_mm)
    bar = limb.landmarks["pip_crease" if is_dorsal else "pip"]
    pose, away = stop.at_deg, 1.0 if is_dorsal else -1.0
    for _ in range(PLAY_ROUNDS):
        posed = limb.posed(pip_flexion_deg=pose)
        skin = UnrolledJoint(
            posed, 0.0 if is_dorsal else 0.5, reach + shape.band_width_mm + 2 * FACE_BEYOND_MM
        )
        plan = RingPlan(skin, reach, bar, shape)
        pose = stop.at_deg + away * stop_play_deg(plan, compression_mm)
    return plan


def build_rings(plan: RingPlan) -> Part:
    """Turn a plan into a finished part.

    Raises ShapingError where the rings do not fit.
    """
    shape, skin = plan.shape, plan.skin
    girth = skin.reference_girth_mm
    proximal, distal = plan.border(-1.0, -1.0), plan.border(1.0, 1.0)
    around = np.linspace(-girth / 2, girth / 2, RING_SAMPLES)
    low, high = float(proximal(around).min()), float(distal(around).max())
    material = shapely.box(low, -girth / 2, high, girth / 2)
    extent = Extent((low - FACE_BEYOND_MM, high + FACE_BEYOND_MM), (-girth / 2, girth / 2), material, girth)
    blueprint = Blueprint(
        boundary=lambda spacing: (
            edge(distal, girth, spacing, is_distal=True),
            edge(proximal, girth, spacing, is_distal=False),
        ),
        loop_spacing_mm=LOOP_SPACING_MM,
        holes=(loop_of(_lens(plan), "opening", LOOP_SPACING_MM),),
        skin=skin.points,
        extent=extent,
        clearance=even(shape.clearance_mm),
        wall_mm=shape.wall_mm,
        rim_radius_mm=shape.rim_radius_mm,
    )
    with _options_named(shape):
        shell = assemble(blueprint)
    inside = shell.mesh.inner_vertices
    rings = tuple(np.column_stack([plan.middle(side)(around), around])[:-1] for side in (-1.0, 1.0))
    planned = np.full(len(inside), shape.clearance_mm)
    return Part(NAME, shell.definition, shell.mesh, planned, inside, rings, JointId(skin.limb.finger, "pip"))


@contextmanager
def _options_named(shape: RingTable) -> Iterator[None]:
    """Say which options bend the rings too sharply where they fold."""
    try:
        yield
    except FoldError as fold:
        why = message("refusals.shape.ring_bent", clearance_mm=shape.clearance_mm)
        raise FoldError(fold.along, fold.around, why, "orthosis.wall_mm", shape.wall_mm) from fold


def _lens(plan: RingPlan) -> shapely.Polygon:
    """The opening between the two rings on the open side."""
    girth = plan.skin.reference_girth_mm
    around = np.linspace(-girth / 2, girth / 2, LENS_SAMPLES)
    low, high = plan.border(-1.0, 1.0)(around), plan.border(1.0, -1.0)(around)
    open_here = high - low > 0.0
    if not open_here.any():
        wanted = message("refusals.shape.no_opening", apart_mm=2 * plan.lever_mm)
        raise ShapingError(Problem("orthosis.band_width_mm", plan.shape.band_width_mm, wanted))
    low, high, around = low[open_here], high[open_here], around[open_here]
    ring = np.vstack([np.column_stack([high, around]), np.column_stack([low, around])[::-1]])
    return rounded(shapely.Polygon(ring), LENS_CORNER_MM)


def lever_mm(limb: FingerLimb, band_width_mm: float, asked_mm: float | None) -> float:
    """Return how far from the PIP centre the rings lie.

    As asked, else as far as the segments allow, up to the finger's depth.
    Raises ShapingError where web and DIP crease leave no room.
    """
    landmarks = limb.landmarks
    half = band_width_mm / 2.0 + END_MARGIN_MM
    room = min(landmarks["pip"] - landmarks["web"], landmarks["dip_crease"] - landmarks["pip"]) - half
    _, half_depth = limb.half_axes(np.array([landmarks["pip"]]))
    lever = min(room, USUAL_LEVER_DEPTHS * float(half_depth[0])) if asked_mm is None else asked_mm
    if lever > room or lever < LEAST_LEVER_MM:
        wanted = message(
            "refusals.shape.lever",
            lever_mm=lever,
            least=LEAST_LEVER_MM,
            most=max(room, 0.0),
            band_width_mm=band_width_mm,
        )
        if asked_mm is not None:
            raise ShapingError(Problem("orthosis.lever_mm", asked_mm, wanted))
        raise ShapingError(message("refusals.shape.lengths", why=wanted))
    return float(lever)


def stop_play_deg(plan: RingPlan, compression_mm: float) -> float:
    """Return how far beyond the angle that the rings are built on the joint goes before they stop it.

    Plane geometry in the finger's middle plane: the rigid segments turn about the PIP until rings and bar are all pressed in
    by `compression_mm`. Three equations, one per bearing place, for the turn and for the rings' own tilt and rise; the rings have slid
    along the finger to where that takes the farthest turn.
    """
    return max(_turn_deg(plan, compression_mm, slide) for slide in (-SLIDE_MM, 0.0, SLIDE_MM))


def _turn_deg(plan: RingPlan, compression_mm: float, slide_mm: float) -> float:
    limb, is_dorsal = plan.skin.limb, plan.skin.centre_fraction == 0.0
    sides = (is_dorsal, is_dorsal, not is_dorsal)
    places = [_bearing_points(plan, number) for number in range(3)]
    beside: tuple[tuple[SegmentName, ...], ...] = (("proximal",), ("middle",), ("proximal", "middle"))

    def excess(unknown: Floats) -> Floats:
        turn, tilt, rise = unknown
        pose = replace(limb.pose, pip_flexion_deg=limb.pose.pip_flexion_deg + float(np.degrees(turn)))
        found = []
        for points, segments, on_dorsal in zip(places, beside, sides, strict=True):
            # the rings follow half of the turn, so that tilt stays small
            moved = apply(
                rigid(flexion_rotation(turn / 2 + tilt), np.zeros(3)),
                points + np.array([slide_mm, 0.0, rise]),
            )
            heights = [
                midline_height(limb, segment, moved, pose, is_dorsal=on_dorsal) for segment in segments
            ]
            found.append(float(np.min(heights)) + compression_mm)
        return np.array(found)

    guess = np.array([-GUESS_RAD if is_dorsal else GUESS_RAD, 0.0, 0.0])
    solved = least_squares(excess, guess, x_scale=np.array([0.1, 0.1, 1.0]))
    return float(abs(np.degrees(solved.x[0])))


def _bearing_points(plan: RingPlan, number: int) -> Floats:
    """Points (3, 3) across the flat of a ring or the bar in the middle plane, from the PIP centre.

    number : 0 the proximal ring, 1 the distal ring, 2 the bar
    """
    skin, clearance = plan.skin, plan.shape.clearance_mm
    pip = skin.limb.landmarks["pip"]
    station = (pip - plan.lever_mm, pip + plan.lever_mm, plan.bar_station_mm)[number]
    flat = plan.shape.band_width_mm / 2 - plan.shape.rim_radius_mm
    stations = station + flat * np.array([-1.0, 0.0, 1.0])
    is_dorsal = (skin.centre_fraction == 0.0) == (number < 2)
    points = skin.limb.skin_points(stations, np.full(3, 0.0 if is_dorsal else 0.5))
    _, dorsal = skin.limb.spine.at(stations)
    return (
        points
        + (clearance if is_dorsal else -clearance) * dorsal
        - skin.limb.segment_transform("middle")[:3, 3]
    )
