"""A toy: a shell on the back of the fingertip that holds the DIP straight, thicker where a sturdy one is asked for."""

from dataclasses import replace
from typing import Literal

from pydantic import Field

from print3d.forms.fingertip_gutter import distal_of_pip, mallet_plan
from print3d.forms.gutter import build_part
from print3d.forms.limb_of_case import finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.orthosis import FreeArc, Orthosis
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.kinds.kind import Kind


class FingertipCoverOptions(OrthosisOptions):
    """Options of the fingertip cover."""

    kind: Literal["fingertip_cover"] = "fingertip_cover"
    sturdiness: Literal["light", "sturdy"] = Field("light", description="How much it stands")


def build(case: Case, options: FingertipCoverOptions) -> Orthosis:
    """Build the orthosis of a case."""
    limb = finger_of_case(case)
    plan = mallet_plan(case, limb, "dorsal", distal_of_pip(case, limb))
    more_mm = 0.4 if options.sturdiness == "sturdy" else 0.0
    sizes = {"wall_mm": options.wall_mm + more_mm, "rim_radius_mm": options.rim_radius_mm + more_mm / 2.0}
    thick = replace(plan, name="fingertip_cover", options=options.model_copy(update=sizes))
    _, pip, dip = joints_of_case(case)
    freed = (FreeArc(pip, 0.0, free_flexion_deg(case, pip)),)
    return Orthosis("fingertip_cover", limb, (build_part(thick),), "middle", {dip: 0.0}, freed)


KIND = Kind("fingertip_cover", FingertipCoverOptions, build)
