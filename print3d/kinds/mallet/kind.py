"""Mallet orthosis: holds the DIP straight or slightly hyperextended and frees the PIP.

For extensor zones I-II: DIP at 0 to slight hyperextension all day for 6 to 8 weeks, PIP free (Brigham
and Women's Hospital protocol, 2020). Hyperextension stays below half of the passive range, where the dorsal skin
was seen to blanch (Rayan and Mullins 1987).

    volar gutter      under middle and distal phalanx, a strap over the back of the DIP, the nail in sight
    dorsal gutter     on the back, relieved over the DIP, straps under the middle phalanx and the pulp, which stays bare
    sleeve            all around, slit on the back, the back cut away over the nail; the tip stays open
"""

from typing import Literal

from pydantic import Field

from print3d.forms.fingertip_gutter import DipHyperextension, Form, distal_of_pip, mallet_plan
from print3d.forms.gutter import build_part
from print3d.forms.limb_of_case import finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.orthosis import FreeArc, Orthosis
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import message


class MalletOptions(OrthosisOptions):
    """Options of the mallet orthosis."""

    kind: Literal["mallet"] = "mallet"
    form: Form = Field("volar", description="Where the shell lies.")
    dip_hyperextension_deg: DipHyperextension = 0.0


def build(case: Case, options: MalletOptions) -> Orthosis:
    """Build the orthosis of a case.

    Raises LimbError or ShapingError if the finger or the options leave no room for it.
    """
    held = 0.0 - options.dip_hyperextension_deg
    limb = finger_of_case(case).posed(dip_flexion_deg=held)
    _, pip, dip = joints_of_case(case)
    freed = (FreeArc(pip, 0.0, free_flexion_deg(case, pip)),)
    part = build_part(mallet_plan(case, limb, options.form, distal_of_pip(case, limb)))
    return Orthosis("mallet", limb, (part,), "middle", {dip: held}, freed)


def hours(_case: Case, _options: MalletOptions) -> Wear:
    """Return the usual hours."""
    return Wear(24.0, message("kinds.mallet.hours.usual"))


KIND = Kind("mallet", MalletOptions, build, answers={"mallet": {}}, hours=hours)
