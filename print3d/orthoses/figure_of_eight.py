"""Figure-of-eight ring orthosis: two rings joined across the PIP stop it one way and leave the other way free.

    swan neck       rings on the back, joined at the palm side: the PIP cannot hyperextend, flexion stays free
                    (stopped at 5 to 20 degrees of flexion, common practice, no single source)
    boutonniere     the reverse, rings on the palm side, joined on the back: the PIP cannot drop into flexion

A supple finger is wanted: over a fixed contracture three-point pressure makes sores (common practice, no single source).
"""

from typing import Any, Literal

from pydantic import Field

from print3d.inputs.case import Case
from print3d.orthoses.built import FreeArc, Orthosis, Stop
from print3d.orthoses.kind import Kind
from print3d.orthoses.limb_of_case import finger_of_case, free_flexion_deg
from print3d.orthoses.ring_shell import RingOptions, build_rings, ring_of, stopping_plan


class FigureOfEightOptions(RingOptions):
    """Options of the figure-of-eight ring orthosis."""

    kind: Literal["figure_of_eight"] = "figure_of_eight"
    blocks: Literal["extension", "flexion"] = Field(
        "extension", description="What is stopped: extension for a swan neck, flexion for a boutonniere"
    )
    pip_flexion_deg: float = Field(
        10.0, ge=0.0, le=45.0, description="PIP flexion at which the joint is stopped"
    )


def build(case: Case[Any]) -> Orthosis:
    """Build the orthosis of a case.

    Raises LimbError or ShapingError if the finger or the options leave no room for it.
    """
    options: FigureOfEightOptions = case.orthosis
    limb = finger_of_case(case)
    stop = Stop("pip", options.blocks, options.pip_flexion_deg)
    plan = stopping_plan(limb, ring_of(options), stop, options.squeeze.stop_mm)
    pip = (stop.at_deg, free_flexion_deg(case, "pip")) if stop.blocked == "extension" else (0.0, stop.at_deg)
    return Orthosis(
        "figure_of_eight",
        plan.skin.limb,
        (build_rings(plan),),
        "middle",
        {},
        (
            FreeArc("pip", *pip),
            FreeArc("dip", 0.0, free_flexion_deg(case, "dip")),
            FreeArc("mcp", 0.0, free_flexion_deg(case, "mcp")),
        ),
        stops=(stop,),
    )


KIND = Kind("figure_of_eight", FigureOfEightOptions, build)
