"""A toy: a shell over the back of forearm and hand that holds the wrist and leaves the fingers free."""

from typing import ClassVar, Literal

import shapely
from pydantic import Field

from print3d.forms.dorsal_outline import CORNERS_MM, dorsal_outline
from print3d.forms.forearm_options import ForearmFlare, ForearmMarking, ForearmStraps, ForearmVents
from print3d.forms.hand_of_case import hand_of_case
from print3d.forms.letters_and_vents import Label
from print3d.forms.limb_of_case import case_label, free_flexion_deg
from print3d.forms.orthosis import Cover, FreeArc, Orthosis
from print3d.forms.trough import ForearmPlan, Strap, build_forearm_part
from print3d.geometry.smooth_step import smooth_step
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS, FingerName
from print3d.inputs.options import OrthosisOptions, Protects
from print3d.kinds.kind import Kind
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandLimb, HandPose
from print3d.limb.hand_unrolled import UnrolledHand
from print3d.limb.joint_id import JointId, joints_of
from print3d.shell.curves import rounded

FOREARM_SHARE, PALM_SHARE = 0.6, 0.8
"""Of the forearm, and of the way from wrist to the little finger's knuckle."""
FLARE_MM, FLARE_REACH_MM = 2.0, 8.0
"""Of the end at the palm."""


class WristTroughOptions(OrthosisOptions):
    """Options of the wrist trough."""

    protects: ClassVar[Protects] = "never"

    kind: Literal["wrist_trough"] = "wrist_trough"
    wrist_extension_deg: float = Field(20.0, ge=0, le=40, description="Wrist extension at which it is held")
    wall_mm: float = Field(3.2, ge=2, le=6, description="Wall thickness")
    rim_radius_mm: float = Field(1.3, ge=0.3, le=3, description="Rounding of every edge; below half the wall")
    clearance_mm: float = Field(1.0, ge=0, le=6, description="Between skin and inner face")
    flare: ForearmFlare = Field(default_factory=ForearmFlare, description="Flare of the proximal end")
    vents: ForearmVents = Field(default_factory=ForearmVents, description="Openings for air")
    straps: ForearmStraps = Field(default_factory=ForearmStraps, description="Straps")
    marking: ForearmMarking = Field(default_factory=ForearmMarking, description="Letters on the outside")

    def fingers_around(self, _finger: FingerName) -> tuple[FingerName, ...]:
        """Return no finger: it ends in the palm."""
        return ()


def build(case: Case, options: WristTroughOptions) -> Orthosis:
    """Build the orthosis of a case."""
    flexion = -options.wrist_extension_deg
    limb = hand_of_case(case, HandPose(flexion, {name: FingerPose() for name in FINGERS}))
    freed = tuple(
        FreeArc(joint, 0.0, free_flexion_deg(case, joint)) for name in FINGERS for joint in joints_of(name)
    )
    held = {JointId("wrist", "flexion"): flexion, JointId("wrist", "deviation"): 0.0}
    part = build_forearm_part(_plan(case, options, limb))
    cover = Cover(forearm_share=FOREARM_SHARE, clear_of=("thumb",))
    return Orthosis("wrist_trough", limb, (part,), "hand", held, freed, cover=cover)


def _plan(case: Case, options: WristTroughOptions, limb: HandLimb) -> ForearmPlan:
    skin = UnrolledHand(limb)
    proximal = limb.skin.wrist_side_station(-FOREARM_SHARE * limb.forearm.length_mm)
    palm = PALM_SHARE * limb.skin.station_of("little", 0.0)
    start, stop = float(skin.along(proximal)), float(skin.along(palm))
    whole = dorsal_outline(skin, proximal, 8.0)
    outline = rounded(whole.intersection(shapely.box(-1e4, -1e4, stop, 1e4)), CORNERS_MM[1])
    width = options.straps.width_mm
    return ForearmPlan(
        name="wrist_trough",
        skin=skin,
        outline=outline,
        flared_along=start,
        options=options,
        straps=(
            Strap.across("forearm", proximal + options.flare.length_mm + width, width),
            Strap.across("palm", palm - width, width),
        ),
        bony_points=(),
        solid_zones=(shapely.box(-7.0, -1e3, 7.0, 1e3),),
        lifts=(lambda along, _: FLARE_MM * smooth_step((along - stop + FLARE_REACH_MM) / FLARE_REACH_MM),),
        label=Label(
            case_label(case), (0.5 * start, 0.0), -0.4 * start, is_mirrored=case.header.side == "left"
        ),
    )


KIND = Kind("wrist_trough", WristTroughOptions, build)
