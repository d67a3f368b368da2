"""What the checks hold their numbers against, each limit with its source."""

from dataclasses import dataclass

from print3d.forms.band_options import BandOptions
from print3d.inputs.case import Case
from print3d.inputs.materials import Material, Printer
from print3d.mechanics.loads import Pull, pull_of_case
from print3d.mechanics.three_point import CAPILLARY_MMHG, KPA_PER_MMHG

GONIOMETER = "own choice: below the goniometer's error of 2.4 to 4.9 degrees (Macionis 2013)"
DONNING_SHARE = 0.5
"""Share of the yield strain used when a shell is sprung open: the rest is for vents, around which a bent plate is strained up
to about twice as much, and for doing it several times a day; own choice."""


@dataclass(frozen=True)
class Limit:
    """A number and where it comes from."""

    value: float
    source: str


CONTINUOUS_HOURS = 8.0
"""Worn longer than this a day, skin gets no rest between: deep injury under bony points came between 1 and 4 to 6 hours of a
lasting load (Gefen 2008, abstract); own choice."""
SAFETY_FACTOR = 2.0
"""Allowable stress over the one that a check accepts: printed plastic bent every day, forces known roughly; own choice."""
LAYER_STIFFNESS = 0.85
"""Modulus across the layers over that in their plane: 0.8 to 0.95 for printed plastics, from memory. The softer one is taken for
all directions, as the part may be printed any way up."""
SQUEEZE_N = 20.0
"""A ring is squeezed across by this: a firm handshake or a heavy bag's handle on one finger; own choice, no source found."""


@dataclass(frozen=True)
class Strength:
    """What a printed wall stands.

    modulus_mpa : softened for layers
    stress_mpa : the largest that is accepted
    """

    modulus_mpa: Limit
    stress_mpa: Limit


@dataclass(frozen=True)
class SkinLimits:
    """What skin bears as a mean over one bearing zone.

    pressure_kpa : more is a fault
    watch_kpa : more is to be watched
    """

    pressure_kpa: Limit
    watch_kpa: Limit


def skin_limits(wear_hours: float) -> SkinLimits:
    """Return what skin bears for so many hours a day."""
    worn = f"worn {wear_hours:g} h a day"
    capillary = CAPILLARY_MMHG * KPA_PER_MMHG
    if wear_hours > CONTINUOUS_HOURS:
        return SkinLimits(
            Limit(10.0, f"own choice, {worn}: more than twice the usual capillary closing pressure"),
            Limit(
                capillary,
                f"{CAPILLARY_MMHG:g} mmHg, usual capillary closing pressure (Landis 1930, second-hand)",
            ),
        )
    return SkinLimits(
        Limit(20.0, f"own choice, {worn}, so that skin rests in between"),
        Limit(10.0, f"own choice, {worn}: what skin is not to bear all day"),
    )


@dataclass(frozen=True)
class CheckLimits:
    """Limits of one case: from its printing process, its own options, and the trade."""

    wall_mm: Limit
    asked_wall_mm: Limit
    asked_ring_wall_mm: Limit
    asked_vents: Limit
    dip_hyperextension_deg: Limit
    hole_mm: Limit
    text_width_mm: Limit
    text_height_mm: Limit
    text_depth_mm: Limit
    rim_radius_mm: Limit
    squeeze_mm: Limit
    stop_squeeze_mm: Limit
    donning_squeeze_mm: Limit
    donning_strain_percent: Limit
    flare_mm: Limit | None
    gap_mm: Limit
    material: Material
    printer: Printer
    pull: Pull
    skin: SkinLimits
    strength: Strength
    strapping: tuple[str, float]
    strap_thickness_mm: Limit
    held_loss_deg: Limit = Limit(
        3.0,
        "own choice for a passing effort: within the goniometer's error of 2.4 to 4.9 degrees (Macionis 2013)",
    )
    squeezed_mm: Limit = Limit(
        1.0, "own choice: a ring that narrows by more feels soft and lets the finger past its stop"
    )
    wall_tolerance_mm: Limit = Limit(0.05, "own choice: a tenth of an extrusion width")
    strap_play_mm: Limit = Limit(0.25, "own choice: straps are woven and cut to within half a millimetre")
    strap_bar_mm: Limit = Limit(
        2.0,
        "own choice: as a bridge, and the strap pulls at it; stress in it is judged with the joint in effort",
    )
    bridge_mm: Limit = Limit(
        2.0, "own choice: two extrusion widths on either side of a bridge; published bridges 2.5 to 5"
    )
    penetration_mm: Limit = Limit(0.05, "own choice: the skin mesh's and the shell's chord error")
    window_mm: Limit = Limit(
        10.0,
        "own choice: swollen skin bulges through wide openings; published vents are 5 to 15 mm wide",
    )
    trap_mm: tuple[Limit, Limit] = (
        Limit(
            7.0,
            "from memory: openings of 7 to 12 mm, 10 mm deep, catch fingertips (EN 1888 and EN 716, children's articles)",
        ),
        Limit(12.0, "the same"),
    )
    trap_depth_mm: Limit = Limit(10.0, "the same: shallower ones let go")
    bed_room_mm: Limit = Limit(1.0, "own choice: two printed lines beside the part")
    layer_strength_percent: Limit = Limit(
        65.0,
        "own choice: a PETG part that is bent straight across its layers has 60 left; stress is judged as if all layers lay across, "
        "this is against cracks of daily bending (PLA shells broke at 26 and 37 days: Waldburger et al. 2022)",
    )
    watched_layer_strength_percent: Limit = Limit(
        75.0, "own choice: what powder-bed PA12 has across its layers, 30 against 40 MPa"
    )
    skin_supported_percent: Limit = Limit(
        25.0,
        "own choice, no single source: more sanding than a fitting leaves time for; rough surfaces are complained of (Li et al. 2026)",
    )
    watched_skin_supported_percent: Limit = Limit(
        10.0, "own choice: marks that a minute of sanding takes off"
    )
    support_percent: Limit = Limit(
        200.0,
        "own choice: with two thirds of the material thrown away, another position or printer is worth a look",
    )
    difference_deg: Limit = Limit(2.0, GONIOMETER)
    web_clearance_mm: Limit = Limit(2.0, "2 to 3 mm; common practice, no single source")
    hook_mm: Limit = Limit(2.0, "own choice: an end that grips less slips off sideways")
    between_parts_mm: Limit = Limit(0.0, "two rigid parts cannot share a place")
    gap_deviation_mm: Limit = Limit(
        0.2, "own choice: a finger tape reads to 1 mm of girth, 0.16 mm of radius"
    )
    hole_offset_mm: Limit = Limit(0.2, "half the play of an M3 screw in its 3.4 mm hole")
    hole_edge_mm: Limit = Limit(6.0, "two diameters of an M3 screw; common practice, no single source")
    lap_gap_mm: Limit = Limit(0.1, "own choice: half a layer of play, so that printed parts go together")
    lap_seat_mm: Limit = Limit(0.6, "own choice: a screw closes what two printed walls are off, 0.3 each")
    beyond_tips_mm: Limit = Limit(
        5.0, "fingertips stay shielded; 5 to 10 mm is common practice, no single source"
    )
    forearm_share: Limit = Limit(
        2.0 / 3.0,
        "two thirds of the forearm, so that the elbow flexes freely; common practice, no single source",
    )
    free_wrist_share: Limit = Limit(
        0.1,
        "a hand-based shell ends at the wrist crease (Peck et al. 2014, Hand Ther, doi 10.1177/1758998314533306)",
    )
    rib_gain: Limit = Limit(1.15, "own choice: ridges that stiffen less are not worth their room")
    thumb_mm: Limit = Limit(3.0, "a free joint is cleared by 2 to 3 mm; common practice, no single source")
    joint_angle_deg: Limit = Limit(1.0, GONIOMETER)
    stop_angle_deg: Limit = Limit(2.0, GONIOMETER)


def limits_of_case(case: Case) -> CheckLimits:
    """Return the limits that hold for a case."""
    printer, pull = case.printer, pull_of_case(case)

    def figure(name: str) -> Limit:
        known = getattr(printer, name)
        return Limit(known.value, f"{printer.title}: {known.source}")

    return CheckLimits(
        dip_hyperextension_deg=_hyperextension_limit(case),
        wall_mm=figure("min_wall_mm"),
        asked_wall_mm=Limit(case.orthosis.wall_mm, "orthosis.wall_mm of the case"),
        asked_ring_wall_mm=_asked_ring_wall(case),
        asked_vents=Limit(float(case.orthosis.vents.grid != "none"), "orthosis.vents.grid of the case"),
        hole_mm=figure("min_hole_mm"),
        text_width_mm=figure("min_text_width_mm"),
        text_height_mm=figure("min_text_height_mm"),
        text_depth_mm=figure("min_text_depth_mm"),
        rim_radius_mm=figure("min_fillet_mm"),
        squeeze_mm=Limit(
            case.orthosis.soft_tissue_compression.motion_mm, "orthosis.soft_tissue_compression.motion_mm"
        ),
        donning_squeeze_mm=Limit(
            case.orthosis.soft_tissue_compression.donning_mm, "orthosis.soft_tissue_compression.donning_mm"
        ),
        stop_squeeze_mm=Limit(
            case.orthosis.soft_tissue_compression.stop_mm, "orthosis.soft_tissue_compression.stop_mm"
        ),
        donning_strain_percent=_donning_strain(case),
        flare_mm=_flare(case),
        gap_mm=figure("min_gap_mm"),
        material=case.material,
        printer=printer,
        pull=pull,
        skin=skin_limits(pull.wear_hours),
        strength=_strength(case),
        strapping=(case.orthosis.straps.style, case.orthosis.straps.width_mm),
        strap_thickness_mm=Limit(
            case.orthosis.straps.thickness_mm,
            "orthosis.straps.thickness_mm; left out, as usual for its width, from memory: 1 to 1.5 mm for fingers, 2 to 2.5 wider ones",
        ),
    )


def _strength(case: Case) -> Strength:
    """Modulus and stress of the printed material, weakened by its layers."""
    material, modulus, allowable = case.material, case.material.modulus_mpa, case.material.allowable_mpa
    factor = material.layer_factor
    return Strength(
        Limit(
            LAYER_STIFFNESS * modulus.value,
            f"{LAYER_STIFFNESS:g} (across layers, from memory) x {modulus.value:g} MPa of {material.title} ({modulus.source})",
        ),
        Limit(
            allowable.value * factor.value / SAFETY_FACTOR,
            f"{allowable.value:g} MPa of {material.title} ({allowable.source}) x {factor.value:g} across layers "
            f"({factor.source}) / safety factor {SAFETY_FACTOR:g} (own choice)",
        ),
    )


def _flare(case: Case) -> Limit | None:
    """How far an end must stand off; bands are rounded instead."""
    if isinstance(case.orthosis, BandOptions):
        return None
    because = "own choice: as far as skin is pressed in where a shell bears, orthosis.soft_tissue_compression.stop_mm"
    return Limit(case.orthosis.soft_tissue_compression.stop_mm, because)


def _donning_strain(case: Case) -> Limit:
    """What the wall may be strained by each time the orthosis is put on."""
    material = case.material
    return Limit(
        100.0 * DONNING_SHARE * material.yield_strain,
        f"{DONNING_SHARE:g} of the yield strain of {material.title} in the plane of the layers, allowable stress over modulus "
        f"({material.allowable_mpa.source}; {material.modulus_mpa.source}); the share is own choice",
    )


def _asked_ring_wall(case: Case) -> Limit:
    """The wall asked of a ring: its own where it is one of two parts."""
    if hasattr(case.orthosis, "ring"):
        return Limit(case.orthosis.ring.wall_mm, "orthosis.ring.wall_mm of the case")
    return Limit(case.orthosis.wall_mm, "orthosis.wall_mm of the case")


def _hyperextension_limit(case: Case) -> Limit:
    """Where the skin over the DIP blanches: as seen, else half of the passive range, else the usual most of 10."""
    finger = case.header.finger
    blanch = case.measured.motion_deg(finger, "dip_blanch_hyperextension_deg")
    passive = case.measured.motion_deg(finger, "dip_passive_hyperextension_deg")
    if blanch is not None:
        return Limit(blanch, "angle at which the skin was seen to turn pale")
    if passive is not None:
        return Limit(
            passive / 2, "half of the passive range, where skin blanched on average (Rayan and Mullins 1987)"
        )
    return Limit(10.0, "0 to 10 degrees (Brigham and Women's Hospital protocol, 2020)")
