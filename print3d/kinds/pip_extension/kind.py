"""PIP extension orthosis: holds the PIP straight, or at one step of a series, and frees MCP and DIP.

For boutonniere (extensor zones III-IV). The DIP must stay free to flex: its flexion draws the lateral bands dorsally
while the PIP is held straight (Eaton; Colditz, clinical notes 2017).

    volar gutter      lies under proximal and middle phalanx, straps over the back of both, none over the bony back of the PIP
    dorsal gutter     the same on the back, relieved over the PIP, straps under proximal and middle phalanx
    sleeve            all around, with a lengthwise slit on the back so that it can be opened and put on
"""

from functools import partial
from typing import ClassVar, Literal, Self

import numpy as np
import shapely
from pydantic import Field

from print3d.errors import ShapingError
from print3d.forms.gutter import (
    CREASE_MARGIN_MM,
    GUTTER_SHARE,
    WEB_MARGIN_MM,
    FingerPlan,
    Trim,
    build_part,
    girth_blend,
    has_room_for_straps,
    least_between_slots_mm,
    slot_room_mm,
    volar_trim_mm,
)
from print3d.forms.letters_and_vents import Label
from print3d.forms.limb_of_case import case_label, finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.orthosis import FreeArc, Orthosis
from print3d.forms.strap_widths import fits, strap_remarks, with_fitting_straps
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions, Protects
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import Message, message
from print3d.limb.finger import FingerLimb
from print3d.limb.joint_id import JointId
from print3d.limb.unrolled import UnrolledFinger
from print3d.shell.slots import STRAP_PLAY_MM

StrapsAt = Literal["beside_pip", "beside_and_over_pip", "over_pip"]

DORSAL_DIP_MARGIN_MM = 3.0
"""On the back the skin over the DIP lengthens when it flexes; the edge stays this far from the centre."""
JOINT_SOLID_MM = 3.0
"""No vents this near the PIP axis, where the bending moment is largest."""
SQUEEZED_FROM_DEG = 40.0
"""The inside of the bend squeezes vents, by a fifth at 20 degrees near the axis (measured); from here on the whole bend has none."""
SLIT_MM = 6.0
"""Width of a sleeve's slit in the flat; own choice, bridged by the strap."""
APEX_MM = 3.0
"""Straps beside the PIP end this far from its centre, as near to it as leaves its bony back bare: the nearer, the longer the levers that the shell
keeps; own choice."""
TAPER_MM = 1.0
"""Where a finger tapers slots are longer in the flat; three beside each other lie this much farther apart for it; own choice."""
STIFF_HOURS = 8.0
"""Under that pull: 200 g day and night is what skin does not bear."""
LEAST_LENGTH_MM = 25.0
"""Shorter than this the levers are too short to hold a PIP joint; own choice."""


class PipExtensionOptions(OrthosisOptions):
    """Options of the PIP extension orthosis."""

    protects: ClassVar[Protects] = "by_case"

    kind: Literal["pip_extension"] = "pip_extension"
    form: Literal["volar", "dorsal", "sleeve"] = Field("volar", description="Where the shell lies.")
    straps_at: StrapsAt = Field(
        "beside_pip",
        description="Where the straps of a volar gutter lie: either side of the PIP, over it too, or over it alone; "
        "left out, over it alone only where a finger is too short for two",
    )
    pip_flexion_deg: float = Field(
        0.0, ge=0.0, le=90.0, description="PIP flexion at which the joint is held (deg); 0 is straight."
    )

    def completed(self, case: Case) -> Self:
        """Return the options with straps that fit, where the file leaves them open."""
        asked = with_fitting_straps(self, partial(_has_room, case))
        is_open = (
            self.form == "volar" and self.straps.style == "slots" and "straps_at" not in self.model_fields_set
        )
        if not is_open or fits(asked, partial(_has_room, case)):
            return asked
        over = self.model_copy(update={"straps_at": "over_pip"})
        single = with_fitting_straps(over, partial(_has_room, case))
        return single if fits(single, partial(_has_room, case)) else asked


def _has_room(case: Case, options: PipExtensionOptions) -> bool:
    limb = finger_of_case(case).posed(pip_flexion_deg=options.pip_flexion_deg)
    return has_room_for_straps(_plan(case, options, limb))


def is_stiff(case: Case) -> bool:
    """Whether the PIP was measured short of straight when extended by hand."""
    deficit = case.measured.motion_deg(case.header.finger, "pip_passive_extension_deficit_deg")
    return deficit is not None and deficit > 0.0


def build(case: Case, options: PipExtensionOptions) -> Orthosis:
    """Build the orthosis of a case.

    Raises LimbError or ShapingError if the finger or the options leave no room for it.
    """
    limb = finger_of_case(case).posed(pip_flexion_deg=options.pip_flexion_deg)
    plan = _plan(case, options, limb)
    mcp, pip, dip = joints_of_case(case)
    freed = (
        FreeArc(dip, 0.0, free_flexion_deg(case, dip)),
        FreeArc(mcp, 0.0, free_flexion_deg(case, mcp)),
    )
    return Orthosis(
        "pip_extension", limb, (build_part(plan),), "middle", {pip: options.pip_flexion_deg}, freed
    )


def _plan(case: Case, options: PipExtensionOptions, limb: FingerLimb) -> FingerPlan:
    skin = UnrolledFinger(limb, 0.0 if options.form == "dorsal" else 0.5)
    girth = skin.reference_girth_mm
    half_width = (girth - SLIT_MM) / 2 if options.form == "sleeve" else GUTTER_SHARE * girth / 2
    proximal, distal = _ends(case, options, limb)
    if distal[1] - proximal < LEAST_LENGTH_MM:
        raise ShapingError(
            message(
                "kinds.pip_extension.refusal.short", length_mm=distal[1] - proximal, least_mm=LEAST_LENGTH_MM
            )
        )
    start = float(skin.along(proximal))
    trim = Trim(
        lambda around: np.full(np.shape(around), start),
        girth_blend(skin, float(skin.along(distal[0])), float(skin.along(distal[1]))),
        half_width,
    )
    pip = limb.landmarks["pip"]
    bend = min(1.0, options.pip_flexion_deg / SQUEEZED_FROM_DEG)
    solid = JOINT_SOLID_MM + bend * max(0.0, limb.blend_mm("pip") - JOINT_SOLID_MM)
    joint = shapely.box(pip - solid, -girth, pip + solid, girth)
    label_room = distal[1] - proximal - 2 * options.vents.edge_margin_mm
    middle_of_label = (start + float(skin.along(distal[1]))) / 2
    stations = _straps(options, pip, proximal, min(distal))
    return FingerPlan(
        name=f"{options.form}_pip_orthosis",
        skin=skin,
        trim=trim,
        options=options,
        label=Label(case_label(case), (middle_of_label, 0.0), label_room, case.header.side == "left"),
        strap_stations=stations,
        solid_zones=(joint,),
        bony_points=(pip,) if options.form == "dorsal" else (),
    )


def _straps(options: PipExtensionOptions, pip: float, proximal: float, distal: float) -> tuple[float, ...]:
    """At both ends where the shell bears at the PIP or has a slit to be closed.

    Where it bears at both ends, beside the PIP and as near to it as its bony back allows.
    """
    half_slot = slot_room_mm(options) / 2
    if options.form != "volar":
        return (proximal + half_slot, distal - half_slot)
    if options.straps_at == "over_pip":
        return (pip,)
    width = options.straps.width_mm
    if options.straps_at == "beside_pip":
        return (pip - APEX_MM - width / 2, pip + APEX_MM + width / 2)
    apart = width + STRAP_PLAY_MM + least_between_slots_mm(options) + TAPER_MM
    return (pip - apart, pip, pip + apart)


def _ends(case: Case, options: PipExtensionOptions, limb: FingerLimb) -> tuple[float, tuple[float, float]]:
    """Stations of the proximal edge, and of the distal edge on the back and on the palm side."""
    reach = volar_trim_mm(limb, "dip", free_flexion_deg(case, JointId(limb.finger, "dip")), options)
    landmarks = limb.landmarks
    volar = min(landmarks["dip_crease"] - CREASE_MARGIN_MM, landmarks["dip"] - reach)
    return landmarks["web"] + WEB_MARGIN_MM, (landmarks["dip"] - DORSAL_DIP_MARGIN_MM, volar)


def remarks(case: Case, options: PipExtensionOptions) -> list[Message]:
    """Return remarks on straps, and on a stiff joint.

    One where nobody chose force and hours, one where nobody said whether the orthosis may come off.
    """
    found = list(strap_remarks(options, partial(_has_room, case)))
    if options.form == "volar" and options.straps.style == "slots" and options.straps_at != "beside_pip":
        found.append(message(f"kinds.pip_extension.remark.{options.straps_at}"))
    chosen = (options.end_force_n, options.joint_torque_nmm, options.wear_hours_per_day)
    if is_stiff(case) and all(each is None for each in chosen):
        found.append(message("kinds.pip_extension.remark.stiff"))
    if is_stiff(case) and case.header.protected is None:
        found.append(message("kinds.pip_extension.remark.protected"))
    return found


def hours(case: Case, _options: PipExtensionOptions) -> Wear:
    """Return the usual hours: fewer where a stiff PIP is pulled as hard as skin bears (`MOST_PULL_G` in `inputs/options.py`).

    The two belong together: who wants more hours names a gentler force, and a finding says which one would hold.
    """
    if is_stiff(case):
        return Wear(STIFF_HOURS, message("kinds.pip_extension.hours.stiff"))
    return Wear(24.0, message("kinds.pip_extension.hours.usual"))


KIND = Kind("pip_extension", PipExtensionOptions, build, remarks, answers={"boutonniere": {}}, hours=hours)
