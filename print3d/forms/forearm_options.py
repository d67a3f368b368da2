"""Options that all shells on hand and forearm share: larger flare, vents, straps and letters than a finger's."""

from typing import ClassVar, Literal

from pydantic import Field

from print3d.inputs.options import FlareOptions, MarkingOptions, StrapOptions, StrapWidth, VentOptions
from print3d.inputs.table import Section


class ForearmFlare(FlareOptions):
    """How the proximal end turns away from the skin."""

    length_mm: float = Field(10.0, ge=0.5, le=25, description="How far from the end the flare begins")
    height_mm: float = Field(4.0, ge=0, le=8, description="How far the end is lifted beyond the clearance")


class ForearmVents(VentOptions):
    """Openings for air."""

    usual_bridge_mm: ClassVar[float] = 5.0

    diameter_mm: float = Field(6.0, ge=1, le=15, description="Diameter of a vent")
    edge_margin_mm: float = Field(5.0, ge=1, le=20, description="From a vent or slot to a trim line")
    slot_margin_mm: float = Field(4.0, ge=1, le=20, description="From a vent to a strap slot")
    bony_margin_mm: float = Field(7.0, ge=0, le=20, description="From a vent to a bony point")


class WristRibs(Section):
    """Ridges along the limb that stiffen the shell over the wrist bend; side by side they make a corrugation."""

    count: int = Field(0, ge=0, le=3, description="How many ridges; 0 leaves the wrist smooth")
    height_mm: float = Field(4.0, ge=1, le=6, description="How far a ridge rises over the rest of the shell")
    width_mm: float = Field(20.0, ge=12, le=30, description="From foot to foot, and from ridge to ridge")
    reach_mm: float = Field(
        30.0, ge=15, le=60, description="How far a ridge runs to either side of the wrist crease"
    )


class ForearmStraps(StrapOptions):
    """How the orthosis is held on."""

    style: Literal["slots", "none"] = Field("slots", description="Slots for straps, or none")
    width_mm: StrapWidth = Field(
        25.0, description="Width of the straps over wrist and palm; left out, 20 where the wrist stays free"
    )
    forearm_width_mm: StrapWidth = Field(50.0, description="Width of the strap over the forearm")
    fingers_width_mm: StrapWidth | None = Field(
        None, description="Width of a strap over the fingers, if any, for the night"
    )
    slot_gap_mm: float = Field(
        4.0, ge=1, le=8, description="Width of the slot that the strap's thickness passes"
    )
    thickness_mm: float = Field(
        2.5, ge=0.2, le=6, description="Thickness of the strap where it passes the slot"
    )


class ForearmMarking(MarkingOptions):
    """Code, side and an arrow to the fingertips, on the outside."""

    letter_height_mm: float = Field(8.0, ge=2, le=15, description="Height of a capital letter")
    depth_mm: float = Field(
        0.6,
        ge=0.2,
        le=1.5,
        description="How far letters stand out or go in; left out, as the printer needs it",
    )
