"""What is asked of a dorsal blocking orthosis: its options, and the angles that follow from them and a regimen."""

from typing import Annotated, Literal, Self

from pydantic import Field

from print3d.errors import Print3dError
from print3d.forms.forearm_options import (
    ForearmFlare,
    ForearmMarking,
    ForearmStraps,
    ForearmVents,
    WristRibs,
)
from print3d.forms.protocols import Protocol, read_protocols
from print3d.inputs.case import Case
from print3d.inputs.measured import FINGERS
from print3d.inputs.options import Guarded, OrthosisOptions
from print3d.inputs.problems import Problem, refusal, unknown_name
from print3d.inputs.table import GivenValues
from print3d.language.message import message
from print3d.limb.finger import FingerPose
from print3d.limb.hand import HandPose

WRIST_ANGLES = (
    "wrist_flexion_deg",
    "wrist_extension_deg",
    "wrist_ulnar_deviation_deg",
    "wrist_radial_deviation_deg",
)
SHORT_STRAP_MM = 20.0
"""Width of the straps of a shell that leaves the wrist free; a hand of mean size has room for two of them; own choice."""
DEFAULT_MCP_DEG = 50.0
"""MCP flexion in the middle of the usual range."""


class DorsalBlockingOptions(OrthosisOptions):
    """Options of the dorsal blocking orthosis. Angles not given come from the protocol, else wrist 0, MCP 50, IP 0.

    Deviation goes as far as the wrist does in a published model of the hand: 10 degrees radially, 25 ulnarly.
    """

    kind: Literal["dorsal_blocking"] = "dorsal_blocking"
    form: Literal["forearm", "hand"] | None = Field(None, description="Whether it reaches over the wrist")
    protocol: str | None = Field(None, description="Name of a regimen that gives form and angles")
    wrist_flexion_deg: Annotated[
        float | None, Guarded(45.0, "wrist_flexion", message("kinds.dorsal_blocking.refusal.wrist_flexion"))
    ] = Field(None, ge=0, le=60, description="Wrist flexion at which it is held")
    wrist_extension_deg: Annotated[
        float | None,
        Guarded(45.0, "wrist_extension", message("kinds.dorsal_blocking.refusal.wrist_extension")),
    ] = Field(None, ge=0, le=60, description="Wrist extension at which it is held")
    wrist_ulnar_deviation_deg: float = Field(
        0.0, ge=0, le=25, description="Ulnar deviation of the wrist at which it is held"
    )
    wrist_radial_deviation_deg: float = Field(
        0.0, ge=0, le=10, description="Radial deviation of the wrist at which it is held"
    )
    mcp_flexion_deg: float | None = Field(
        None, ge=0, le=90, description="MCP flexion at which extension stops"
    )
    index_mcp_flexion_deg: float | None = Field(
        None, ge=0, le=90, description="The same for the index finger alone"
    )
    middle_mcp_flexion_deg: float | None = Field(
        None, ge=0, le=90, description="The same for the middle finger alone"
    )
    ring_mcp_flexion_deg: float | None = Field(
        None, ge=0, le=90, description="The same for the ring finger alone"
    )
    little_mcp_flexion_deg: float | None = Field(
        None, ge=0, le=90, description="The same for the little finger alone"
    )
    ip_flexion_deg: Annotated[
        float | None,
        Guarded(10.0, "ip_flexion", message("kinds.dorsal_blocking.refusal.ip_flexion")),
    ] = Field(None, ge=0, le=30, description="PIP and DIP flexion at which extension stops")
    beyond_tips_mm: float = Field(8.0, ge=5, le=20, description="How far it reaches past the fingertips")
    wall_mm: float = Field(3.4, ge=0.8, le=6, description="Wall thickness")
    clearance_mm: float = Field(
        1.0, ge=0, le=6, description="Between skin and inner face; more over a dressing"
    )
    rim_radius_mm: float = Field(1.3, ge=0.3, le=3, description="Rounding of every edge; below half the wall")
    flare: ForearmFlare = Field(default_factory=ForearmFlare, description="Flare of the proximal end")
    vents: ForearmVents = Field(default_factory=ForearmVents, description="Openings for air")
    wrist_ribs: WristRibs = Field(default_factory=WristRibs, description="Ridges that stiffen the wrist")
    straps: ForearmStraps = Field(default_factory=ForearmStraps, description="Straps")
    marking: ForearmMarking = Field(default_factory=ForearmMarking, description="Letters on the outside")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return two answers to one question, and what does not fit wall and rim."""
        problems = super().contradictions(given)
        flexion, extension = given.get("wrist_flexion_deg"), given.get("wrist_extension_deg")
        if flexion and extension:
            wanted = message("kinds.dorsal_blocking.refusal.both_ways", flexion_deg=flexion)
            problems.append(Problem("wrist_extension_deg", extension, wanted))
        ulnar, radial = given.get("wrist_ulnar_deviation_deg"), given.get("wrist_radial_deviation_deg")
        if ulnar and radial:
            wanted = message("kinds.dorsal_blocking.refusal.both_deviations", ulnar_deg=ulnar)
            problems.append(Problem("wrist_radial_deviation_deg", radial, wanted))
        return problems

    def completed(self, case: Case) -> Self:
        """Return the options with narrower straps on a shell that leaves the wrist free.

        Only where the file leaves it open: two straps lie between the wrist and the crease of the palm.
        """
        try:
            is_short = shell_form(case, self) == "hand"
        except Print3dError:
            return self  # the build says what is wrong with the regimen
        if not is_short or "width_mm" in self.straps.model_fields_set:
            return self
        return self.model_copy(update={"straps": self.straps.model_copy(update={"width_mm": SHORT_STRAP_MM})})


def shell_form(case: Case, options: DorsalBlockingOptions) -> Literal["forearm", "hand"]:
    """Return whether the shell of a case reaches over the wrist: as asked, else as its regimen says."""
    return options.form or _protocol(case, options).form


def asked_pose(case: Case, options: DorsalBlockingOptions) -> HandPose:
    """Return the angles at which a case is held: its own, else its regimen's, else the program's.

    Raises InputError if its regimen is unknown, its clinic's file of regimens is faulty, or a free wrist is given an angle.
    """
    protocol = _protocol(case, options)
    mcp = protocol.mcp_flexion_deg if options.mcp_flexion_deg is None else options.mcp_flexion_deg
    ip = protocol.ip_flexion_deg if options.ip_flexion_deg is None else options.ip_flexion_deg
    own = {name: getattr(options, f"{name}_mcp_flexion_deg") for name in FINGERS}
    return HandPose(
        _wrist_flexion_deg(case, options, protocol),
        {name: FingerPose(mcp if own[name] is None else own[name], ip, ip) for name in FINGERS},
        options.wrist_ulnar_deviation_deg - options.wrist_radial_deviation_deg,
    )


def _wrist_flexion_deg(case: Case, options: DorsalBlockingOptions, protocol: Protocol) -> float:
    """Wrist flexion, negative for extension; 0 where the wrist is free."""
    asked = {key: getattr(options, key) for key in ("wrist_flexion_deg", "wrist_extension_deg")}
    if (options.form or protocol.form) == "hand":
        wanted = message("kinds.dorsal_blocking.refusal.free_wrist")
        angles = {key: getattr(options, key) for key in WRIST_ANGLES}
        angles["wrist_ribs.count"] = options.wrist_ribs.count
        problems = [Problem(f"orthosis.{key}", angle, wanted) for key, angle in angles.items() if angle]
        if problems:
            raise refusal(case.source, problems)
        return 0.0
    if all(angle is None for angle in asked.values()):
        return protocol.wrist_flexion_deg - protocol.wrist_extension_deg
    return (asked["wrist_flexion_deg"] or 0.0) - (asked["wrist_extension_deg"] or 0.0)


def _protocol(case: Case, options: DorsalBlockingOptions) -> Protocol:
    if options.protocol is None:
        return Protocol(
            title="none", mcp_flexion_deg=DEFAULT_MCP_DEG, source="default of the program", mark="memory"
        )
    known = read_protocols(case.libraries.protocols)
    if options.protocol not in known:
        no_such = message("refusals.no_such.protocol")
        raise refusal(case.source, [unknown_name("orthosis.protocol", options.protocol, no_such, known)])
    return known[options.protocol]
