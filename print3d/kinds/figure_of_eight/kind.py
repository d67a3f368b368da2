"""Figure-of-eight ring orthosis: two rings joined across the PIP stop it one way and leave the other way free.

    swan neck       rings on the back, joined at the palm side: the PIP cannot hyperextend, flexion stays free
                    (stopped at 5 to 20 degrees of flexion, common practice, no single source)
    boutonniere     the reverse, rings on the palm side, joined on the back: the PIP cannot drop into flexion

A supple finger is wanted: over a fixed contracture three-point pressure makes sores (common practice, no single source).
"""

from math import ceil, sqrt
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field

from print3d.errors import Print3dError
from print3d.forms.limb_of_case import finger_of_case, free_flexion_deg, joints_of_case
from print3d.forms.orthosis import Direction, FreeArc, Orthosis, Stop
from print3d.forms.ring import RingOptions, build_rings, ring_of, stopping_plan
from print3d.inputs.case import Case
from print3d.inputs.options import Protects
from print3d.kinds.kind import Kind, Wear
from print3d.language.message import message

MOST_WALL_MM = 5.0
"""Thicker rings press the neighbouring fingers apart; own choice."""
BY_DAY_HOURS = 16.0
"""Planned wear of a ring that stops extension: the PIP is pulled at only when the finger straightens; own choice."""
DROPPED_HOURS = 8.0
"""Planned wear of a ring that stops flexion: a PIP that drops pulls on it all the time; own choice."""
NEEDED_STRESS = {"extension": 0.007, "flexion": 0.026}
"""Strength times b^1.5 t^2 / d^4 (MPa / sqrt(mm)) that a ring needs against what it blocks, safety factor 2 included: finite elements gave
0.003 to 0.007 against extension and 0.015 to 0.025 against flexion (measured, see `stopping_wall_mm`)."""


class FigureOfEightOptions(RingOptions):
    """Options of the figure-of-eight ring orthosis."""

    protects: ClassVar[Protects] = "never"

    kind: Literal["figure_of_eight"] = "figure_of_eight"
    wall_mm: float = Field(
        2.4,
        ge=1.2,
        le=MOST_WALL_MM,
        description="Thickness of rings and bar; left out, as the finger's depth and the material need it",
    )
    blocks: Literal["extension", "flexion"] = Field(
        "extension", description="What is stopped: extension for a swan neck, flexion for a boutonniere"
    )
    pip_flexion_deg: float = Field(
        10.0, ge=0.0, le=45.0, description="PIP flexion at which the joint is stopped"
    )

    def completed(self, case: Case) -> Self:
        """Return the options with the wall that stops the finger, where the file leaves it open.

        Where the thickest is not enough, the band is wider, if the file leaves that open too.
        """
        if "wall_mm" in self.model_fields_set:
            return self
        try:
            limb = finger_of_case(case)
        except Print3dError:
            return self  # the build refuses this finger and says why
        _, half_depth = limb.half_axes(np.array([limb.landmarks["pip"]]))
        strength = case.material.allowable_mpa.value * case.material.layer_factor.value
        depth = 2.0 * float(half_depth[0])
        wall = stopping_wall_mm(self.blocks, depth, self.band_width_mm, strength)
        band = self.band_width_mm
        if wall > MOST_WALL_MM and "band_width_mm" not in self.model_fields_set:
            band = stopping_band_mm(self.blocks, depth, MOST_WALL_MM, strength)
        wall = min(max(self.wall_mm, wall), MOST_WALL_MM)
        return self.model_copy(update={"wall_mm": wall, "band_width_mm": band})


def stopping_wall_mm(blocks: Direction, depth_mm: float, band_width_mm: float, strength_mpa: float) -> float:
    """Return the wall that stands the muscles of a finger, up to the next 0.1 mm.

    depth_mm : of the finger at the PIP
    strength_mpa : what the printed material bears across its layers

    Their moment grows with the cube of the depth (bigger muscles on longer arms), how far the rings bend the bar from its ends with
    the depth, and a section bears b t^2 / 6, a wider band a little more, as its bar runs into the rings sooner: so the stress goes
    with d^4 / (b^1.5 t^2). Its factor covers finite elements on fingers 15 to 23 mm deep, walls of 2.4 to 5 mm, bands of 4 to 8 mm
    and stops at 0 to 45 degrees (measured; thinner fingers need less and get the usual wall).
    """
    stressed = NEEDED_STRESS[blocks] * depth_mm**4 / (band_width_mm**1.5 * strength_mpa)
    return ceil(10.0 * sqrt(stressed)) / 10.0


def stopping_band_mm(blocks: Direction, depth_mm: float, wall_mm: float, strength_mpa: float) -> float:
    """Return the band with which a wall stands the same, up to the next 0.1 mm."""
    stressed = NEEDED_STRESS[blocks] * depth_mm**4 / (wall_mm**2 * strength_mpa)
    return ceil(10.0 * stressed ** (2.0 / 3.0)) / 10.0


def build(case: Case, options: FigureOfEightOptions) -> Orthosis:
    """Build the orthosis of a case.

    Raises LimbError or ShapingError if the finger or the options leave no room for it.
    """
    limb = finger_of_case(case)
    mcp, pip, dip = joints_of_case(case)
    stop = Stop(pip, options.blocks, options.pip_flexion_deg)
    plan = stopping_plan(limb, ring_of(options), stop, options.soft_tissue_compression.stop_mm)
    arc = (stop.at_deg, free_flexion_deg(case, pip)) if stop.blocked == "extension" else (0.0, stop.at_deg)
    return Orthosis(
        "figure_of_eight",
        plan.skin.limb,
        (build_rings(plan),),
        "middle",
        {},
        (
            FreeArc(pip, *arc),
            FreeArc(dip, 0.0, free_flexion_deg(case, dip)),
            FreeArc(mcp, 0.0, free_flexion_deg(case, mcp)),
        ),
        stops=(stop,),
    )


def hours(_case: Case, options: FigureOfEightOptions) -> Wear:
    """Return the usual hours: a ring that stops extension is pulled at only when the finger straightens."""
    if options.blocks == "flexion":
        return Wear(DROPPED_HOURS, message("kinds.figure_of_eight.hours.dropped"))
    return Wear(BY_DAY_HOURS, message("kinds.figure_of_eight.hours.usual"))


KIND = Kind("figure_of_eight", FigureOfEightOptions, build, answers={"swan_neck": {}}, hours=hours)
