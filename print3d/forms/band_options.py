"""Options of kinds made of narrow rounded bands: no room for vents, strap slots or letters, rounded instead of flared."""

from pydantic import Field

from print3d.inputs.options import FlareOptions, MarkingOptions, OrthosisOptions, StrapOptions, VentOptions
from print3d.inputs.problems import Problem, in_words
from print3d.inputs.table import GivenValues
from print3d.language.message import message

NOTHING = {"flare.height_mm": 0.0, "vents.grid": "none", "straps.style": "none", "marking.style": "none"}


class BandOptions(OrthosisOptions):
    """What the band kinds take."""

    wall_mm: float = Field(2.4, ge=1.2, le=5, description="Thickness of the band")
    clearance_mm: float = Field(0.2, ge=0, le=3, description="Between skin and inner face")
    rim_radius_mm: float = Field(
        1.1, ge=0.5, le=2.5, description="Rounding of every edge; below half the wall"
    )
    flare: FlareOptions = Field(FlareOptions(height_mm=0.0), description="A band has none")
    vents: VentOptions = Field(VentOptions(grid="none"), description="A band has none")
    straps: StrapOptions = Field(StrapOptions(style="none"), description="A band has none")
    marking: MarkingOptions = Field(MarkingOptions(style="none"), description="A band has none")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return what a band cannot have, besides what no orthosis can."""
        unfit = [
            Problem(key, given[key], message("refusals.options.no_room_on_band", only=in_words(each)))
            for key, each in NOTHING.items()
            if given.get(key, each) != each
        ]
        return [*super().contradictions(given), *unfit, *width_problems(given)]


def width_problems(given: GivenValues) -> list[Problem]:
    """Return a band that is narrower than its two roundings."""
    rim, width = given.get("rim_radius_mm"), given.get("band_width_mm")
    if rim is None or width is None or width > 2 * rim:
        return []
    return [Problem("band_width_mm", width, message("refusals.options.band_rim", least=2 * rim))]
