"""Mallet orthosis: holds the DIP straight or slightly hyperextended and frees the PIP.

For extensor zones I-II: DIP at 0 to slight hyperextension all day for 6 to 8 weeks, PIP free (Brigham
and Women's Hospital protocol, 2020). Hyperextension stays well below half of the passive range, where the dorsal skin
blanched on average (Rayan and Mullins 1987).

    volar gutter      under middle and distal phalanx, a strap over the back of the DIP, the nail in sight
    dorsal gutter     on the back, relieved over the DIP, straps under the middle phalanx and the pulp, half the nail in sight
    sleeve            all around, slit on the back, the back cut away over the nail; the tip stays open
"""

from dataclasses import replace
from functools import partial
from typing import Literal, Self

from pydantic import Field

from print3d.forms.fingertip_gutter import DipHyperextension, Form, distal_of_pip, mallet_plan
from print3d.forms.gutter import FingerPlan, build_part, has_room_for_straps
from print3d.forms.limb_of_case import finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.orthosis import FreeArc, Orthosis
from print3d.forms.strap_widths import strap_remarks, with_fitting_straps
from print3d.inputs.case import Case
from print3d.inputs.options import OrthosisOptions
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import Message, message


class MalletOptions(OrthosisOptions):
    """Options of the mallet orthosis."""

    kind: Literal["mallet"] = "mallet"
    form: Form = Field("volar", description="Where the shell lies.")
    dip_hyperextension_deg: DipHyperextension = 0.0

    def completed(self, case: Case) -> Self:
        """Return the options with straps that fit, where the file leaves their width open."""
        return with_fitting_straps(self, partial(_has_room, case))


def build(case: Case, options: MalletOptions) -> Orthosis:
    """Build the orthosis of a case.

    Raises LimbError or ShapingError if the finger or the options leave no room for it.
    """
    plan = _plan(case, options)
    _, pip, dip = joints_of_case(case)
    freed = (FreeArc(pip, 0.0, free_flexion_deg(case, pip)),)
    held = {dip: 0.0 - options.dip_hyperextension_deg}
    return Orthosis("mallet", plan.skin.limb, (build_part(plan),), "middle", held, freed)


def _plan(case: Case, options: MalletOptions) -> FingerPlan:
    asked = replace(case, orthosis=options)
    limb = finger_of_case(case).posed(dip_flexion_deg=0.0 - options.dip_hyperextension_deg)
    return mallet_plan(asked, limb, options.form, distal_of_pip(asked, limb))


def _has_room(case: Case, options: MalletOptions) -> bool:
    return has_room_for_straps(_plan(case, options))


def remarks(case: Case, options: MalletOptions) -> list[Message]:
    """Return a remark on straps narrower than usual."""
    return list(strap_remarks(options, partial(_has_room, case)))


def hours(_case: Case, _options: MalletOptions) -> Wear:
    """Return the usual hours."""
    return Wear(24.0, message("kinds.mallet.hours.usual"))


KIND = Kind("mallet", MalletOptions, build, remarks, answers={"mallet": {}}, hours=hours)
