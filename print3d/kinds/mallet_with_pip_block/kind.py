"""Mallet orthosis with a PIP flexion block, for a mallet finger that develops a swan neck.

The DIP is held as in the mallet orthosis; the PIP cannot extend beyond 25 to 30 degrees of flexion but flexes on (a dorsal PIP
block at 30: Brigham and Women's Hospital protocol, 2020).

    one piece       a dorsal mallet orthosis whose hood runs on over the PIP and stops the proximal phalanx
    two pieces      a volar mallet orthosis, and a figure-of-eight ring put on before it
"""

from dataclasses import replace
from functools import partial
from typing import Literal, Self

import numpy as np
from pydantic import Field
from scipy.optimize import brentq

from print3d.errors import ShapingError
from print3d.forms.fingertip_gutter import DipHyperextension, ProximalEnd, distal_of_pip, mallet_plan
from print3d.forms.gutter import WEB_MARGIN_MM, FingerPlan, build_part, clearance_map, has_room_for_straps
from print3d.forms.limb_of_case import finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.midline import midline_height
from print3d.forms.orthosis import FreeArc, Orthosis, Part, Stop
from print3d.forms.ring import PLAY_ROUNDS, RingTable, build_rings, lever_mm, stopping_plan
from print3d.forms.strap_widths import strap_remarks, with_fitting_straps
from print3d.geometry.smooth_step import smooth_step
from print3d.geometry.types import Floats
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.inputs.problems import Problem
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import Message, message
from print3d.limb.finger import FingerLimb, FingerPose

LEAST_HOOD_MM = 8.0
"""A shorter hood has no lever arm on the proximal phalanx; own choice."""
MOST_HOOD_MM = 18.0
"""A longer hood has only weight; own choice."""
SIDE_RELIEF_MM = 1.2
"""The hood's sides stand this much farther off; own choice by the sweep."""
SIDE_BEGINS_MM = 6.0
"""They do so from this far distal of the PIP on; own choice by the sweep."""
SIDE_REACH_MM = 8.0
"""They rise over this length; own choice by the sweep."""
SIDE_FROM = 0.08
"""Share of the girth from the middle of the back from which the sides rise: the middle bears; own choice."""
SIDE_WIDTH = 0.12
"""Share of the girth over which they rise; own choice."""
KNUCKLE_RELIEF_MM = 1.0
"""A flexed PIP stands out more than the skin drawn over it; relief of 1 to 3 mm over bony points is common practice."""
KNUCKLE_REACH_MM = 10.0
"""Distance over which that relief fades; own choice."""
BETWEEN_PARTS_MM = 1.5
"""Free room between mallet orthosis and ring; own choice."""
MIDLINE_SAMPLES = 60
"""Points of the hood's middle line, under 0.4 mm apart; own choice."""
MOST_PLAY_DEG = 40.0
"""No hood has more play than this; own choice."""


class MalletWithPipBlockOptions(OrthosisOptions):
    """Options of the mallet orthosis with a PIP flexion block."""

    kind: Literal["mallet_with_pip_block"] = "mallet_with_pip_block"
    pieces: Literal["one", "two"] = Field(
        "one", description="One piece with a hood, or mallet orthosis and ring"
    )
    dip_hyperextension_deg: DipHyperextension = 0.0
    pip_flexion_deg: float = Field(
        30.0, ge=10.0, le=45.0, description="PIP flexion at which extension is stopped"
    )
    ring: RingTable = Field(default_factory=RingTable, description="The ring of two pieces")

    def completed(self, case: Case) -> Self:
        """Return the options with straps that fit, where the file leaves their width open."""
        return with_fitting_straps(self, partial(_has_room, case))


def build(case: Case, options: MalletWithPipBlockOptions) -> Orthosis:
    """Build the orthosis of a case.

    Raises LimbError or ShapingError if the finger or the options leave no room for it.
    """
    held = 0.0 - options.dip_hyperextension_deg
    limb = finger_of_case(case).posed(dip_flexion_deg=held)
    mcp, pip, dip = joints_of_case(case)
    stop = Stop(pip, "extension", options.pip_flexion_deg)
    posed, parts = (_one_piece if options.pieces == "one" else _two_pieces)(case, options, limb, stop)
    freed = (
        FreeArc(pip, stop.at_deg, free_flexion_deg(case, pip)),
        FreeArc(mcp, 0.0, free_flexion_deg(case, mcp)),
    )
    return Orthosis("mallet_with_pip_block", posed, parts, "middle", {dip: held}, freed, stops=(stop,))


def _one_piece(
    case: Case, options: MalletWithPipBlockOptions, limb: FingerLimb, stop: Stop
) -> tuple[FingerLimb, tuple[Part, ...]]:
    """The dorsal mallet orthosis with its hood.

    It is built on a PIP that is short of the stop by the hood's play.
    """
    flexion = stop.at_deg
    for _ in range(PLAY_ROUNDS):
        plan = _hooded(case, limb.posed(pip_flexion_deg=flexion))
        flexion = stop.at_deg + _hood_play_deg(plan, options.soft_tissue_compression.stop_mm)
    return plan.skin.limb, (build_part(plan),)


def _hooded(case: Case, limb: FingerLimb) -> FingerPlan:
    """The plan of the dorsal mallet orthosis with its hood. Raises ShapingError if that has no lever."""
    landmarks = limb.landmarks
    hood = min(landmarks["pip"] - landmarks["web"] - WEB_MARGIN_MM, MOST_HOOD_MM)
    if hood < LEAST_HOOD_MM:
        wanted = message("kinds.mallet_with_pip_block.refusal.hood", hood_mm=hood, least_mm=LEAST_HOOD_MM)
        raise ShapingError(Problem("orthosis.pieces", "one", wanted))
    start = ProximalEnd(landmarks["pip"] - hood, landmarks["pip"] - hood)
    return _relieved(mallet_plan(case, limb, "dorsal", start))


def _relieved(plan: FingerPlan) -> FingerPlan:
    """Lift the hood off the whole knuckle and widen its sides.

    The proximal phalanx can then turn out of it into flexion.
    """
    girth = plan.skin.reference_girth_mm
    pip = float(plan.skin.along(plan.skin.limb.landmarks["pip"]))

    def relief(along: Floats, around: Floats) -> Floats:
        knuckle = 1.0 - smooth_step(np.abs(along - pip) / KNUCKLE_REACH_MM)
        proximal = smooth_step((pip + SIDE_BEGINS_MM - along) / SIDE_REACH_MM)
        side = smooth_step((np.abs(around) / girth - SIDE_FROM) / SIDE_WIDTH)
        return KNUCKLE_RELIEF_MM * knuckle + SIDE_RELIEF_MM * proximal * side

    return replace(plan, relief=relief)


def _hood_play_deg(plan: FingerPlan, compression_mm: float) -> float:
    """Return how far the PIP extends before the hood presses the proximal phalanx in.

    Plane geometry in the finger's middle plane.
    """
    limb, skin = plan.skin.limb, plan.skin
    first = float(plan.trim.proximal(np.zeros(1))[0]) + plan.options.rim_radius_mm
    along = np.linspace(first, float(skin.along(limb.landmarks["pip"])), MIDLINE_SAMPLES)
    around = np.zeros(MIDLINE_SAMPLES)
    _, dorsal = limb.spine.at(skin.station(along))
    hood = skin.points(along, around) + clearance_map(plan)(along, around)[:, None] * dorsal
    in_middle = hood - limb.segment_transform("middle")[:3, 3]

    def room(extended_deg: float) -> float:
        pose = FingerPose(**{**vars(limb.pose), "pip_flexion_deg": limb.pose.pip_flexion_deg - extended_deg})
        turn = limb.segment_transform("middle", pose)[:3, :3] @ limb.segment_transform("middle")[:3, :3].T
        height = midline_height(limb, "proximal", in_middle @ turn.T, pose, is_dorsal=True)
        return float(height.min()) + compression_mm

    return float(brentq(room, 0.0, MOST_PLAY_DEG))


def _two_pieces(
    case: Case, options: MalletWithPipBlockOptions, limb: FingerLimb, stop: Stop
) -> tuple[FingerLimb, tuple[Part, ...]]:
    """The ring, which goes on first, and the mallet orthosis distal of it."""
    rings = stopping_plan(limb, options.ring, stop, options.soft_tissue_compression.stop_mm)
    plan = _beyond_ring(case, options, rings.skin.limb)
    return rings.skin.limb, (build_rings(rings), build_part(plan))


def _beyond_ring(case: Case, options: MalletWithPipBlockOptions, limb: FingerLimb) -> FingerPlan:
    """The plan of the mallet orthosis distal of the ring."""
    free, ring = distal_of_pip(case, limb), options.ring
    lever = lever_mm(limb, ring.band_width_mm, ring.lever_mm)
    beyond = limb.landmarks["pip"] + lever + ring.band_width_mm / 2 + BETWEEN_PARTS_MM
    start = ProximalEnd(max(free.dorsal_mm, beyond), max(free.volar_mm, beyond))
    return mallet_plan(case, limb, "volar", start)


def _has_room(case: Case, options: MalletWithPipBlockOptions) -> bool:
    """Whether its straps fit. Raises what the build raises where nothing fits."""
    asked = replace(case, orthosis=options)
    limb = finger_of_case(case).posed(
        dip_flexion_deg=0.0 - options.dip_hyperextension_deg, pip_flexion_deg=options.pip_flexion_deg
    )
    plan = _hooded(asked, limb) if options.pieces == "one" else _beyond_ring(asked, options, limb)
    return has_room_for_straps(plan)


def remarks(case: Case, options: MalletWithPipBlockOptions) -> list[Message]:
    """Return a remark on straps narrower than usual."""
    return list(strap_remarks(options, partial(_has_room, case)))


def hours(_case: Case, _options: MalletWithPipBlockOptions) -> Wear:
    """Return the usual hours."""
    return Wear(24.0, message("kinds.mallet_with_pip_block.hours.usual"))


KIND = Kind("mallet_with_pip_block", MalletWithPipBlockOptions, build, remarks, hours=hours)
