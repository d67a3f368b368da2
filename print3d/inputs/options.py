"""The options that every kind of orthosis has; a kind adds its own (see `orthoses/`).

Limits are those of the maker's trade; defaults are common practice (no single source) or, where that says nothing, own choice.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import floor, isclose, pi, sqrt
from typing import Annotated, ClassVar, Literal, cast

from pydantic import AfterValidator, Field

from print3d.inputs.measured import FingerName
from print3d.inputs.problems import Problem
from print3d.inputs.table import Accepts, GivenValues, Section
from print3d.language.message import Message, message

STRAP_WIDTHS_MM = (10.0, 13.0, 16.0, 20.0, 25.0, 38.0, 50.0)
"""Widths that hook-and-loop strap is sold in; common practice, no single source."""

USUAL_FINGER_STRAP_MM = 13.0
"""The narrower end of the 13 to 16 mm that the trade straps fingers with (common practice, no single source): a wider one lies farther from the
joint that it holds, and its lever is shorter."""

DEFAULT_BRIDGE_MM = 2.6
"""Material between two vents of a finger shell where neither pitch nor open fraction is asked; bridges of 2.5 to 5 mm are published."""

OPEN_WHEN_TOUCHING = {"hexagonal": pi / (2.0 * sqrt(3.0)), "square": pi / 4.0}
"""Open fraction of round holes that touch each other (geometry)."""

MOST_PULL_G = 200.0
"""Most that may rest at a finger: above it skin is likely irritated or hurt (Punsola-Izard et al. 2023, J Clin Med 12:2855, abstract)."""
MOST_END_FORCE_N = 1.96
"""The same as a force, rounded down."""
MOST_TORQUE_N_MM = 53.0
"""Its moment at 27 mm, a long middle phalanx."""
END_FORCE, JOINT_TORQUE = "end_force", "joint_torque"
"""Names by which [override] lifts either."""

LEAST_WALL_MM = 0.8
"""Thinnest wall that material extrusion makes (bureau tables, see `data/printers.toml`)."""

BETWEEN_RIMS_MM = 0.1
"""Two roundings stay this far apart, so that their loops stay two; own choice."""


@dataclass(frozen=True)
class Guarded:
    """Marks a number that may pass `above` only if [override] allows it by name, with a reason."""

    above: float
    override: str
    because: Message


def _sold_width(width_mm: float) -> float:
    if width_mm not in STRAP_WIDTHS_MM:
        raise ValueError(f"straps are sold in widths of {STRAP_WIDTHS_MM} mm")
    return width_mm


StrapWidth = Annotated[
    float,
    AfterValidator(_sold_width),
    Accepts(
        message(
            "refusals.accepts.strap_width",
            widths=", ".join(f"{width:g}" for width in STRAP_WIDTHS_MM),
            one_of=STRAP_WIDTHS_MM,
        )
    ),
    Field(json_schema_extra={"enum": list(STRAP_WIDTHS_MM)}),
]


class FlareOptions(Section):
    """How the ends turn away from the skin."""

    length_mm: float = Field(4.0, ge=0.5, le=15, description="How far from the end the flare begins")
    height_mm: float = Field(0.8, ge=0, le=5, description="How far the end is lifted beyond the clearance")


class VentOptions(Section):
    """Openings for air.

    usual_bridge_mm : material between two vents where neither pitch nor open fraction is asked
    """

    usual_bridge_mm: ClassVar[float] = DEFAULT_BRIDGE_MM

    grid: Literal["hexagonal", "square", "none"] = Field(
        "hexagonal", description="How the vents are laid out"
    )
    diameter_mm: float = Field(3.0, ge=1, le=15, description="Diameter of a vent")
    pitch_mm: float | None = Field(
        None, ge=1.5, le=60, description="Centre to centre; not with open_fraction"
    )
    open_fraction: float | None = Field(None, ge=0.01, le=0.7, description="Open share of a vented area")
    edge_margin_mm: float = Field(3.0, ge=1, le=20, description="From a vent or slot to a trim line")
    slot_margin_mm: float = Field(2.0, ge=1, le=20, description="From a vent to a strap slot")
    bony_margin_mm: float = Field(4.0, ge=0, le=20, description="From a vent to a bony point")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return two answers to one question."""
        pitch, share = given.get("pitch_mm"), given.get("open_fraction")
        if pitch is None or share is None:
            return []
        return [Problem("open_fraction", share, message("refusals.options.pitch_given", pitch_mm=pitch))]

    @property
    def spacing_mm(self) -> float:
        """Centre to centre, whichever way it was asked for."""
        asked = self.grid, self.diameter_mm, self.pitch_mm, self.open_fraction
        return vent_spacing_mm(*asked, usual_bridge_mm=self.usual_bridge_mm)


class StrapOptions(Section):
    """How the orthosis is held on."""

    style: Literal["slots", "wrap", "none"] = Field(
        "slots", description="Slots for straps, straps all around, or none"
    )
    width_mm: StrapWidth = Field(
        USUAL_FINGER_STRAP_MM,
        description="Width of the strap; left out, narrower where a finger has no room for it",
    )
    slot_gap_mm: float = Field(
        2.5, ge=1, le=8, description="Width of the slot that the strap's thickness passes"
    )
    thickness_mm: float = Field(
        1.5, ge=0.2, le=6, description="Thickness of the strap where it passes the slot"
    )


class MarkingOptions(Section):
    """Code, side and an arrow to the fingertip, on the outside."""

    style: Literal["raised", "engraved", "none"] = Field(
        "raised", description="Raised or engraved letters, or none"
    )
    letter_height_mm: float = Field(4.0, ge=2, le=15, description="Height of a capital letter")
    depth_mm: float = Field(
        0.5,
        ge=0.2,
        le=1.5,
        description="How far letters stand out or go in; left out, as the printer needs it",
    )


class SoftTissueCompression(Section):
    """How much soft tissue yields before a touch counts as contact, by region. All three are from memory."""

    motion_mm: float = Field(1.0, ge=0, le=4, description="Phalanges moving through a free arc")
    stop_mm: float = Field(0.3, ge=0, le=3, description="Skin where a block bears, most of it close to bone")
    donning_mm: float = Field(
        0.5, ge=0, le=3, description="Radius by which a joint gives when a ring is worked over"
    )


Protects = Literal["always", "by_case", "never"]
"""Whether an orthosis keeps a position that must not be lost while something heals; "by_case": as `[case] protected` says."""


class OrthosisOptions(Section):
    """What every kind takes. A kind's own class adds `kind: Literal["its_name"] = "its_name"` and its options.

    protects : whether in trouble it is loosened first and never just taken off (common practice, no single source)
    """

    protects: ClassVar[Protects] = "always"

    kind: str
    wall_mm: float = Field(2.0, ge=LEAST_WALL_MM, le=6, description="Wall thickness")
    clearance_mm: float = Field(
        0.5, ge=0, le=6, description="Between skin and inner face; more over a dressing"
    )
    rim_radius_mm: float = Field(0.9, ge=0.3, le=3, description="Rounding of every edge; below half the wall")
    flare: FlareOptions = Field(default_factory=FlareOptions, description="Flare of the ends")
    vents: VentOptions = Field(default_factory=VentOptions, description="Openings for air")
    straps: StrapOptions = Field(default_factory=StrapOptions, description="Straps")
    marking: MarkingOptions = Field(default_factory=MarkingOptions, description="Letters on the outside")
    soft_tissue_compression: SoftTissueCompression = Field(
        default_factory=SoftTissueCompression, description="How much soft tissue yields"
    )
    wear_hours_per_day: float | None = Field(
        None, ge=0.25, le=24, description="Planned wear; left out, as usual for the kind"
    )
    wear_hours_at_once: float | None = Field(
        None, ge=0.25, le=24, description="Longest it is worn in one piece; left out, all of a day's wear"
    )
    end_force_n: Annotated[
        float | None,
        Guarded(MOST_END_FORCE_N, END_FORCE, message("refusals.guard.end_force")),
    ] = Field(
        None,
        ge=0.05,
        le=20,
        description="Force resting at the far end of what is held (of each finger); not with joint_torque_nmm",
    )
    joint_torque_nmm: Annotated[
        float | None,
        Guarded(MOST_TORQUE_N_MM, JOINT_TORQUE, message("refusals.guard.joint_torque")),
    ] = Field(
        None,
        ge=0.5,
        le=2000,
        description="Moment resting on the held joint (of each finger); not with end_force_n",
    )

    def fingers_around(self, finger: FingerName) -> tuple[FingerName, ...]:
        """Return the fingers that must be measured for an orthosis of one; its own, where a kind says no more."""
        return (finger,)

    @property
    def vent_to_slot_mm(self) -> float:
        """How far vents stay from slots at least: as asked, or as far as the roundings of both need."""
        return max(self.vents.slot_margin_mm, 2 * self.rim_radius_mm + BETWEEN_RIMS_MM)

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return what does not fit wall and rim, and two answers to one question."""
        return [
            *_rim_problems(given),
            *_bridge_problems(
                given, cast("type[VentOptions]", cls.model_fields["vents"].annotation).usual_bridge_mm
            ),
            *_margin_problems(given),
            *_engraving_problems(given),
            *_load_problems(given),
            *_hours_problems(given),
        ]


def vent_spacing_mm(
    grid: str,
    diameter_mm: float,
    pitch_mm: float | None,
    open_fraction: float | None,
    *,
    usual_bridge_mm: float = DEFAULT_BRIDGE_MM,
) -> float:
    """Return the centre-to-centre distance of vents from whichever way it was asked for."""
    if pitch_mm is not None:
        return pitch_mm
    if open_fraction is not None and grid in OPEN_WHEN_TOUCHING:
        return diameter_mm * sqrt(OPEN_WHEN_TOUCHING[grid] / open_fraction)
    return diameter_mm + usual_bridge_mm


def guards(options: type[OrthosisOptions]) -> Iterator[tuple[str, Guarded]]:
    """Yield the keys of a kind that need an override above a value."""
    for name, field in options.model_fields.items():
        yield from ((name, mark) for mark in field.metadata if isinstance(mark, Guarded))


def _rim_problems(given: GivenValues) -> Iterator[Problem]:
    rim, wall = given.get("rim_radius_mm"), given.get("wall_mm")
    if rim is not None and wall is not None and rim >= wall / 2:
        yield Problem("rim_radius_mm", rim, message("refusals.options.rim_wall", wall_mm=wall, most=wall / 2))


def _bridge_problems(given: GivenValues, usual_bridge_mm: float) -> Iterator[Problem]:
    keys = ("vents.grid", "vents.diameter_mm", "vents.pitch_mm", "vents.open_fraction")
    rim = given.get("rim_radius_mm")
    if rim is None or any(key not in given for key in keys):
        return
    grid, diameter, pitch, share = (given[key] for key in keys)
    if grid == "none" or (pitch is not None and share is not None):
        return
    spacing = vent_spacing_mm(grid, diameter, pitch, share, usual_bridge_mm=usual_bridge_mm)
    bridge = spacing - diameter
    # guard: a bridge for two rims
    least = 2 * rim + BETWEEN_RIMS_MM
    if bridge > least or isclose(bridge, least):
        return
    asked = "open_fraction" if share is not None else "pitch_mm"
    wanted = message(
        "refusals.options.bridge",
        bridge_mm=bridge,
        diameter_mm=diameter,
        rim_mm=rim,
        least_mm=least,
        remedy=_bridge_remedy(given, rim),
    )
    yield Problem(f"vents.{asked}", share if share is not None else spacing, wanted)


def _bridge_remedy(given: GivenValues, rim: float) -> Message:
    diameter, least = given["vents.diameter_mm"], given["vents.diameter_mm"] + 2 * rim + BETWEEN_RIMS_MM
    if given["vents.open_fraction"] is None:
        return message("refusals.options.wider_pitch", least=least)
    most = OPEN_WHEN_TOUCHING[given["vents.grid"]] * (diameter / least) ** 2
    return message("refusals.options.smaller_open_fraction", most=floor(1000 * most) / 1000)


def _margin_problems(given: GivenValues) -> Iterator[Problem]:
    """Yield a margin to the trim lines that leaves no room for the roundings of the two edges beside it."""
    rim, wall, margin = (given.get(key) for key in ("rim_radius_mm", "wall_mm", "vents.edge_margin_mm"))
    is_used = given.get("straps.style") == "slots" or given.get("vents.grid", "none") != "none"
    if not is_used or rim is None or wall is None or margin is None or rim >= wall / 2:
        return
    if margin < (least := 2 * rim + BETWEEN_RIMS_MM):
        wanted = message("refusals.options.margin", rim_mm=rim, least=least)
        yield Problem("vents.edge_margin_mm", margin, wanted)


def _engraving_problems(given: GivenValues) -> Iterator[Problem]:
    depth, wall = given.get("marking.depth_mm"), given.get("wall_mm")
    if given.get("marking.style") != "engraved" or depth is None or wall is None:
        return
    if wall - depth < LEAST_WALL_MM:
        most = max(wall - LEAST_WALL_MM, 0.0)
        wanted = message(
            "refusals.options.engraving",
            left_mm=wall - depth,
            wall_mm=wall,
            least_mm=LEAST_WALL_MM,
            most=most,
        )
        yield Problem("marking.depth_mm", depth, wanted)


def _load_problems(given: GivenValues) -> Iterator[Problem]:
    force, torque = given.get("end_force_n"), given.get("joint_torque_nmm")
    if force is not None and torque is not None:
        yield Problem("joint_torque_nmm", torque, message("refusals.options.force_given", force_n=force))


def _hours_problems(given: GivenValues) -> Iterator[Problem]:
    at_once, a_day = given.get("wear_hours_at_once"), given.get("wear_hours_per_day")
    if at_once is not None and a_day is not None and at_once > a_day:
        yield Problem("wear_hours_at_once", at_once, message("refusals.options.at_once", most=a_day))
