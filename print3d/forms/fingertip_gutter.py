"""What the mallet kinds share: a gutter or sleeve over middle and distal phalanx.

The DIP is held straight or beyond.
"""

from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
import shapely
from pydantic import Field

from print3d.forms.gutter import (
    CREASE_MARGIN_MM,
    GUTTER_SHARE,
    FingerPlan,
    Trim,
    girth_blend,
    slot_room_mm,
    volar_trim_mm,
)
from print3d.forms.letters_and_vents import Label
from print3d.forms.limb_of_case import case_label, free_flexion_deg
from print3d.inputs.case import Case
from print3d.inputs.options import Guarded, OrthosisOptions
from print3d.language.message import message
from print3d.limb.finger import FingerLimb
from print3d.limb.joint_id import JointId
from print3d.limb.unrolled import UnrolledFinger

Form = Literal["volar", "dorsal", "sleeve"]
DipHyperextension = Annotated[
    float,
    Guarded(10.0, "dip_hyperextension", message("refusals.guard.dip_hyperextension")),
    Field(ge=0.0, le=20.0, description="DIP hyperextension; above 10 only with an override"),
]

DORSAL_PIP_MARGIN_MM = 5.0
"""On the back the skin over the PIP lengthens when it flexes; the edge stays this far from the centre."""
JOINT_SOLID_MM = 2.5
"""No vents lie this near to a joint, where a shell is strained most; own choice."""
SLIT_MM = 5.0
"""Width of a sleeve's slit in the flat; own choice."""
TIP_SHARE = 0.62
"""How far beyond the nail fold towards the tip the finger is supported; the rest shows, to check circulation."""
NAIL_SHOWS_SHARE = -0.1
"""A sleeve's back ends just proximal of the nail fold, so that the whole nail shows."""
NAIL_MARGIN_MM = 1.0
"""A strap over the DIP ends this far proximal of the nail fold; own choice."""


@dataclass(frozen=True)
class ProximalEnd:
    """Stations (mm) at which the shell begins on the back and on the palm side."""

    dorsal_mm: float
    volar_mm: float


def distal_of_pip(case: Case, limb: FingerLimb) -> ProximalEnd:
    """Return where a shell begins that leaves the PIP free to flex."""
    landmarks, options = limb.landmarks, case.orthosis
    crease = landmarks["pip_crease"] - landmarks["pip"] + CREASE_MARGIN_MM
    reach = max(
        crease, volar_trim_mm(limb, "pip", free_flexion_deg(case, JointId(limb.finger, "pip")), options)
    )
    return ProximalEnd(landmarks["pip"] + DORSAL_PIP_MARGIN_MM, landmarks["pip"] + reach)


def mallet_plan(case: Case, limb: FingerLimb, form: Form, start: ProximalEnd) -> FingerPlan:
    """Plan the shell of a case on its posed finger."""
    options: OrthosisOptions = case.orthosis
    skin = UnrolledFinger(limb, 0.0 if form == "dorsal" else 0.5)
    girth = skin.reference_girth_mm
    half_width = (girth - SLIT_MM) / 2 if form == "sleeve" else GUTTER_SHARE * girth / 2
    landmarks = limb.landmarks
    distal = _beyond_nail_fold(limb, TIP_SHARE)
    nail = _beyond_nail_fold(limb, NAIL_SHOWS_SHARE) if form == "sleeve" else distal
    trim = Trim(
        girth_blend(skin, float(skin.along(start.dorsal_mm)), float(skin.along(start.volar_mm))),
        girth_blend(skin, float(skin.along(nail)), float(skin.along(distal))),
        half_width,
    )
    covered = [joint for joint in ("pip", "dip") if landmarks[joint] > start.dorsal_mm]
    own_start = start.dorsal_mm if form == "dorsal" else start.volar_mm
    return FingerPlan(
        name=f"{form}_mallet_orthosis",
        skin=skin,
        trim=trim,
        options=options,
        label=_label(case, skin, own_start, distal),
        strap_stations=_straps(options, form, limb, own_start),
        solid_zones=[_joint(skin, landmarks[joint]) for joint in covered],
        bony_points=[landmarks[joint] for joint in covered] if form == "dorsal" else (),
    )


def _joint(skin: UnrolledFinger[FingerLimb], station: float) -> shapely.Geometry:
    """The zone over a joint that stays without vents."""
    along, girth = float(skin.along(station)), skin.reference_girth_mm
    return shapely.box(along - JOINT_SOLID_MM, -girth, along + JOINT_SOLID_MM, girth)


def _label(case: Case, skin: UnrolledFinger[FingerLimb], start: float, stop: float) -> Label:
    along = (float(skin.along(start)), float(skin.along(stop)))
    margin = case.orthosis.vents.edge_margin_mm
    return Label(
        case_label(case), (sum(along) / 2, 0.0), along[1] - along[0] - 2 * margin, case.header.side == "left"
    )


def _straps(options: OrthosisOptions, form: Form, limb: FingerLimb, start: float) -> tuple[float, ...]:
    """Straps at both ends of a dorsal gutter; else one over the DIP.

    That one lies as near to the DIP as it leaves the nail free.
    A strap beside the joint, nearer to the end of its lever, must pull harder (`mechanics/three_point.py`).
    """
    half_slot, landmarks = slot_room_mm(options) / 2, limb.landmarks
    if form == "dorsal":
        return (
            max(start + half_slot, landmarks["mid_middle"]),
            _beyond_nail_fold(limb, TIP_SHARE) - half_slot,
        )
    clear_of_nail = landmarks["nail_fold"] - NAIL_MARGIN_MM - options.straps.width_mm / 2
    return (max(start + half_slot, min(landmarks["dip"], clear_of_nail)),)


def _beyond_nail_fold(limb: FingerLimb, share: float) -> float:
    """Station at a share of the way from the nail fold to the tip."""
    fold, tip = limb.landmarks["nail_fold"], limb.landmarks["tip"]
    return float(np.asarray(fold + share * (tip - fold)))
