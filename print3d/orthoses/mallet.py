"""Mallet orthosis: holds the DIP straight or slightly hyperextended and frees the PIP.

For extensor zones I-II: DIP at 0 to slight hyperextension all day for 6 to 8 weeks, PIP free (Brigham
and Women's Hospital protocol, 2020). Hyperextension stays below half of the passive range, where the dorsal skin
was seen to blanch (Rayan and Mullins 1987).

    volar gutter      under middle and distal phalanx, a strap over the back of the middle phalanx
    dorsal gutter     on the back, relieved over the DIP, straps under the middle phalanx and the pulp, which stays bare
    sleeve            all around, slit on the back, the back cut away over the nail; the tip stays open
"""

from typing import Annotated, Any, Literal

import numpy as np
import shapely
from pydantic import Field

from print3d.inputs.case import Case
from print3d.inputs.options import Guarded, OrthosisOptions
from print3d.limb.finger import FingerLimb
from print3d.limb.unrolled import UnrolledFinger
from print3d.orthoses.built import FreeArc, Orthosis
from print3d.orthoses.finger_shell import (
    CREASE_MARGIN_MM,
    GUTTER_SHARE,
    FingerPlan,
    Label,
    Trim,
    build_part,
    girth_blend,
    slot_room_mm,
    volar_trim_mm,
)
from print3d.orthoses.kind import Kind
from print3d.orthoses.limb_of_case import case_label, finger_of_case, free_flexion_deg

DORSAL_PIP_MARGIN_MM = 5.0
"""On the back the skin over the PIP lengthens when it flexes; the edge stays this far from the centre."""
JOINT_SOLID_MM = 2.5
SLIT_MM = 5.0
TIP_SHARE = 0.62
"""How far beyond the nail fold towards the tip the finger is supported; the rest shows, to check circulation."""
NAIL_SHOWS_SHARE = -0.1
"""A sleeve's back ends just proximal of the nail fold, so that the whole nail shows."""


class MalletOptions(OrthosisOptions):
    """Options of the mallet orthosis."""

    kind: Literal["mallet"] = "mallet"
    form: Literal["volar", "dorsal", "sleeve"] = Field("volar", description="Where the shell lies.")
    dip_hyperextension_deg: Annotated[
        float,
        Guarded(
            10.0, "dip_hyperextension", "beyond about half of the passive range the dorsal skin blanches"
        ),
    ] = Field(0.0, ge=0.0, le=20.0, description="DIP hyperextension; above 10 only with an override")


def build(case: Case[Any]) -> Orthosis:
    """Build the orthosis of a case.

    Raises LimbError or ShapingError if the finger or the options leave no room for it.
    """
    options: MalletOptions = case.orthosis
    held = 0.0 - options.dip_hyperextension_deg
    limb = finger_of_case(case).posed(dip_flexion_deg=held)
    freed = (FreeArc("pip", 0.0, free_flexion_deg(case, "pip")),)
    return Orthosis("mallet", limb, (build_part(_plan(case, options, limb)),), "middle", {"dip": held}, freed)


def _plan(case: Case[Any], options: MalletOptions, limb: FingerLimb) -> FingerPlan:
    skin = UnrolledFinger(limb, 0.0 if options.form == "dorsal" else 0.5)
    girth = skin.reference_girth_mm
    half_width = (girth - SLIT_MM) / 2 if options.form == "sleeve" else GUTTER_SHARE * girth / 2
    landmarks = limb.landmarks
    volar = landmarks["pip"] + _volar_reach(case, options, limb)
    dorsal = landmarks["pip"] + DORSAL_PIP_MARGIN_MM
    distal = _beyond_nail_fold(limb, TIP_SHARE)
    nail = _beyond_nail_fold(limb, NAIL_SHOWS_SHARE) if options.form == "sleeve" else distal
    trim = Trim(
        girth_blend(skin, float(skin.along(dorsal)), float(skin.along(volar))),
        girth_blend(skin, float(skin.along(nail)), float(skin.along(distal))),
        half_width,
    )
    dip = float(skin.along(landmarks["dip"]))
    joint = shapely.box(dip - JOINT_SOLID_MM, -girth, dip + JOINT_SOLID_MM, girth)
    own_start = dorsal if options.form == "dorsal" else volar
    return FingerPlan(
        name=f"{options.form} mallet orthosis",
        skin=skin,
        trim=trim,
        options=options,
        label=_label(case, skin, own_start, distal),
        strap_stations=_straps(options, limb, own_start),
        solid_zones=(joint,),
        bony_points=(landmarks["dip"],) if options.form == "dorsal" else (),
    )


def _label(case: Case[Any], skin: UnrolledFinger, start: float, stop: float) -> Label:
    along = (float(skin.along(start)), float(skin.along(stop)))
    margin = case.orthosis.vents.edge_margin_mm
    return Label(
        case_label(case), (sum(along) / 2, 0.0), along[1] - along[0] - 2 * margin, case.case.side == "left"
    )


def _straps(options: MalletOptions, limb: FingerLimb, start: float) -> tuple[float, ...]:
    half_slot = slot_room_mm(options) / 2
    proximal = max(start + half_slot, limb.landmarks["mid_middle"])
    if options.form == "dorsal":
        return (proximal, _beyond_nail_fold(limb, TIP_SHARE) - half_slot)
    return (proximal,)


def _volar_reach(case: Case[Any], options: MalletOptions, limb: FingerLimb) -> float:
    """How far distal of the PIP centre the palm side begins, so that the PIP can flex."""
    crease = limb.landmarks["pip_crease"] - limb.landmarks["pip"] + CREASE_MARGIN_MM
    return max(crease, volar_trim_mm(limb, "pip", free_flexion_deg(case, "pip"), options))


def _beyond_nail_fold(limb: FingerLimb, share: float) -> float:
    """Station at a share of the way from the nail fold to the tip."""
    fold, tip = limb.landmarks["nail_fold"], limb.landmarks["tip"]
    return float(np.asarray(fold + share * (tip - fold)))


KIND = Kind("mallet", MalletOptions, build)
