"""PIP extension orthosis: holds the PIP straight, or at one step of a series, and frees MCP and DIP.

For boutonniere (extensor zones III-IV). The DIP must stay free to flex: its flexion draws the lateral bands dorsally
while the PIP is held straight (Eaton; Colditz, clinical notes 2017).

    volar gutter      lies under proximal and middle phalanx, a strap over the back of the PIP
    dorsal gutter     the same on the back, relieved over the PIP, straps under proximal and middle phalanx
    sleeve            all around, with a lengthwise slit on the back so that it can be opened and put on
"""

from typing import Literal, Self

import numpy as np
import shapely
from pydantic import Field

from print3d.errors import Print3dError, ShapingError
from print3d.forms.gutter import (
    CREASE_MARGIN_MM,
    GUTTER_SHARE,
    WEB_MARGIN_MM,
    FingerPlan,
    Trim,
    build_part,
    girth_blend,
    has_room_for_straps,
    slot_around_mm,
    slot_room_mm,
    volar_trim_mm,
)
from print3d.forms.letters_and_vents import Label
from print3d.forms.limb_of_case import case_label, finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.orthosis import FreeArc, Orthosis
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions, StrapOptions
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import Message, message
from print3d.limb.finger import FingerLimb
from print3d.limb.joint_id import JointId
from print3d.limb.unrolled import UnrolledFinger
from print3d.shell.slots import STRAP_PLAY_MM

DORSAL_DIP_MARGIN_MM = 3.0
"""On the back the skin over the DIP lengthens when it flexes; the edge stays this far from the centre."""
JOINT_SOLID_MM = 3.0
"""No vents this near the PIP axis, where the bending moment is largest."""
SQUEEZED_FROM_DEG = 40.0
"""The inside of the bend squeezes vents, by a fifth at 20 degrees near the axis (measured); from here on the whole bend has none."""
SLIT_MM = 6.0
"""Width of a sleeve's slit in the flat; own choice, bridged by the strap."""
STIFF_STRAP_MM = 13.0
"""Over a PIP that is pulled the strap carries twice the force at the end: the next width above 10 mm takes a quarter off its pressure. No narrow
strap over bone (Fess 1995, from memory)."""
STIFF_HOURS = 8.0
"""Under that pull: 200 g day and night is what skin does not bear."""
LEAST_LENGTH_MM = 25.0
"""Shorter than this the levers are too short to hold a PIP joint; own choice."""


class PipExtensionOptions(OrthosisOptions):
    """Options of the PIP extension orthosis."""

    kind: Literal["pip_extension"] = "pip_extension"
    form: Literal["volar", "dorsal", "sleeve"] = Field("volar", description="Where the shell lies.")
    straps: StrapOptions = Field(
        default_factory=StrapOptions,
        description="Straps; over a PIP that is pulled a wider one is the default where it has room",
    )
    pip_flexion_deg: float = Field(
        0.0, ge=0.0, le=90.0, description="PIP flexion at which the joint is held (deg); 0 is straight."
    )

    def completed(self, case: Case) -> Self:
        """Return the options with a wider strap over a PIP that is pulled.

        Only where the file leaves it open and the finger has room.
        """
        is_pulled = is_stiff(case) or self.end_force_n is not None or self.joint_torque_nmm is not None
        is_open = self.straps.style == "slots" and "width_mm" not in self.straps.model_fields_set
        if self.form != "volar" or not is_pulled or not is_open:
            return self
        wider = self.straps.model_copy(update={"width_mm": STIFF_STRAP_MM})
        changed = self.model_copy(update={"straps": wider})
        try:
            limb = finger_of_case(case).posed(pip_flexion_deg=self.pip_flexion_deg)
            return changed if has_room_for_straps(_plan(case, changed, limb)) else self
        except Print3dError:
            return self  # the build refuses this finger and says why


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
    return FingerPlan(
        name=f"{options.form}_pip_orthosis",
        skin=skin,
        trim=trim,
        options=options,
        label=Label(case_label(case), (middle_of_label, 0.0), label_room, case.header.side == "left"),
        strap_stations=_straps(options, pip, proximal, min(distal)),
        slot_stretch=_slot_stretch(skin, options, half_width) if options.form == "volar" else 1.0,
        solid_zones=(joint,),
        bony_points=(pip,) if options.form == "dorsal" else (),
    )


def _straps(options: PipExtensionOptions, pip: float, proximal: float, distal: float) -> tuple[float, ...]:
    """Over the PIP if the shell bears at both ends, else at both ends.

    Else it bears at the PIP or has a slit to be closed.

    A strap over the joint leaves the shell its whole levers: two beside it would press twice as hard on a gutter 45 mm long.
    """
    if options.form == "volar":
        return (pip,)
    half_slot = slot_room_mm(options) / 2
    return (proximal + half_slot, distal - half_slot)


def _slot_stretch(skin: UnrolledFinger[FingerLimb], options: PipExtensionOptions, half_width: float) -> float:
    """Return how many times shorter a slot beside the bent PIP is on the skin than in the flat."""
    half = (options.straps.width_mm + STRAP_PLAY_MM) / 2
    along = skin.limb.landmarks["pip"] + np.array([-half, half])
    ends = skin.points(along, np.full(2, slot_around_mm(options, half_width)))
    return max(1.0, 2 * half / float(np.linalg.norm(ends[1] - ends[0])))


def _ends(case: Case, options: PipExtensionOptions, limb: FingerLimb) -> tuple[float, tuple[float, float]]:
    """Stations of the proximal edge, and of the distal edge on the back and on the palm side."""
    reach = volar_trim_mm(limb, "dip", free_flexion_deg(case, JointId(limb.finger, "dip")), options)
    landmarks = limb.landmarks
    volar = min(landmarks["dip_crease"] - CREASE_MARGIN_MM, landmarks["dip"] - reach)
    return landmarks["web"] + WEB_MARGIN_MM, (landmarks["dip"] - DORSAL_DIP_MARGIN_MM, volar)


def remarks(case: Case, options: PipExtensionOptions) -> list[Message]:
    """Return a remark on a stiff joint whose force and hours nobody chose."""
    chosen = (options.end_force_n, options.joint_torque_nmm, options.wear_hours_per_day)
    if not is_stiff(case) or any(each is not None for each in chosen):
        return []
    return [message("kinds.pip_extension.remark.stiff")]


def hours(case: Case, _options: PipExtensionOptions) -> Wear:
    """Return the usual hours: fewer where a stiff PIP is pulled as hard as skin bears (`STIFF_G` in `mechanics/loads.py`).

    The two belong together: who wants more hours names a gentler force, and a finding says which one would hold.
    """
    if is_stiff(case):
        return Wear(STIFF_HOURS, message("kinds.pip_extension.hours.stiff"))
    return Wear(24.0, message("kinds.pip_extension.hours.usual"))


KIND = Kind("pip_extension", PipExtensionOptions, build, remarks, answers={"boutonniere": {}}, hours=hours)
