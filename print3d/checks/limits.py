"""What the checks hold their numbers against, each limit with its source."""

from dataclasses import dataclass, replace

from print3d.checks.finding import Limit
from print3d.checks.passive_range import PassiveRange, passive_range
from print3d.checks.skin_limits import (
    Lifting,
    SkinLimits,
    Watched,
    hyperextension_limit,
    pull_limit,
    skin_limits,
)
from print3d.forms.band_options import BandOptions
from print3d.forms.orthosis import Part
from print3d.forms.straps import Strapping, strapping_of
from print3d.inputs.case import Case
from print3d.inputs.materials import Material, Printer
from print3d.inputs.measured import Measured
from print3d.language.message import Message, as_it_stands, message
from print3d.limb.uncertainty import Spreads, spreads_of_case
from print3d.mechanics.loads import Pull, pull_of_case

GONIOMETER = message("sources.goniometer")
DONNING_SHARE = 0.5
"""Share of the yield strain used when a shell is sprung open: the rest is for vents, around which a bent plate is strained up
to about twice as much, and for doing it several times a day; own choice."""
SAFETY_FACTOR = 2.0
"""Allowable stress over the one that a check accepts: printed plastic bent every day, forces known roughly; own choice."""
LAYER_STIFFNESS = 0.85
"""Modulus across the layers over that in their plane: 0.8 to 0.95 for printed plastics, from memory. The softer one is taken for
all directions, as the part may be printed any way up."""
SKIN_EDGE_MM = 1.0
"""Least radius of an edge on skin: common practice, no single source."""
EDGE_SHARE_OF_WALL = 0.375
"""What a thinner wall allows of it: three quarters of half the wall, as both edges of a rim are rounded and an end that flares bends the
rounding further; own choice."""
FOREARM_FLARE_MM = (3.0, 5.0)
"""How far the proximal end of a shell on hand and forearm stands off: common practice, no single source."""
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
class CheckLimits:
    """Limits of one case: from its printing process, its own options, and the trade.

    measured, confirmed : what the limb was made from, and which of it was taken again (`Case.confirmed`)
    """

    wall_mm: Limit
    asked_wall_mm: Limit
    asked_ring_wall_mm: Limit
    asked_vents: Limit
    dip_hyperextension_deg: Watched
    passive: PassiveRange
    pull_g: Lifting
    hole_mm: Limit
    text_width_mm: Limit
    text_height_mm: Limit
    text_depth_mm: Limit
    rim_radius_mm: Limit
    skin_edge_mm: Limit
    compression_mm: Limit
    stop_compression_mm: Limit
    donning_compression_mm: Limit
    donning_strain_percent: Limit
    flare_mm: Limit | None
    gap_mm: Limit
    material: Material
    printer: Printer
    pull: Pull
    skin: SkinLimits
    strength: Strength
    strapping: Strapping
    strap_thickness_mm: Limit
    measured: Measured
    confirmed: frozenset[str]
    spreads: Spreads
    loosest_mm: Limit
    held_loss_deg: Limit = Limit(
        3.0,
        message("sources.own_effort"),
    )
    squeezed_mm: Limit = Limit(1.0, message("sources.own_soft_ring"))
    wall_tolerance_mm: Limit = Limit(0.05, message("sources.own_wall"))
    strap_play_mm: Limit = Limit(0.25, message("sources.own_strap_play"))
    strap_bar_mm: Limit = Limit(
        2.0,
        message("sources.own_strap_bar"),
    )
    slot_turn_deg: Limit = Limit(5.0, message("sources.own_slot_turn"))
    watched_slot_bow_mm: Limit = Limit(0.3, message("sources.own_watched_slot_bow"))
    slot_bow_mm: Limit = Limit(0.6, message("sources.own_slot_bow"))
    hand_trim_radius_mm: Limit = Limit(6.0, message("sources.trim_radius"))
    finger_trim_radius_mm: Limit = Limit(2.0, message("sources.own_finger_trim_radius"))
    bridge_mm: Limit = Limit(2.0, message("sources.own_bridge"))
    penetration_mm: Limit = Limit(0.05, message("sources.own_chord"))
    window_mm: Limit = Limit(
        10.0,
        message("sources.own_window"),
    )
    trap_mm: tuple[Limit, Limit] = (
        Limit(
            7.0,
            message("sources.fingertip_trap"),
        ),
        Limit(12.0, message("sources.fingertip_trap")),
    )
    trap_depth_mm: Limit = Limit(10.0, message("sources.fingertip_trap"))
    bed_room_mm: Limit = Limit(1.0, message("sources.own_bed"))
    layer_strength_percent: Limit = Limit(
        65.0,
        message("sources.own_layers"),
    )
    watched_layer_strength_percent: Limit = Limit(75.0, message("sources.own_watched_layers"))
    skin_supported_percent: Limit = Limit(
        25.0,
        message("sources.own_supports"),
    )
    watched_skin_supported_percent: Limit = Limit(10.0, message("sources.own_watched_supports"))
    support_percent: Limit = Limit(
        200.0,
        message("sources.own_support_mass"),
    )
    difference_deg: Limit = Limit(2.0, GONIOMETER)
    web_clearance_mm: Limit = Limit(2.0, message("sources.web_clearance"))
    hook_mm: Limit = Limit(2.0, message("sources.own_hook"))
    between_parts_mm: Limit = Limit(0.0, message("sources.rigid_parts"))
    gap_deviation_mm: Limit = Limit(0.2, message("sources.own_tape"))
    hole_offset_mm: Limit = Limit(0.2, message("sources.screw_play"))
    hole_edge_mm: Limit = Limit(6.0, message("sources.screw_edge"))
    lap_gap_mm: Limit = Limit(0.1, message("sources.own_lap_gap"))
    lap_seat_mm: Limit = Limit(0.6, message("sources.own_screw"))
    beyond_tips_mm: Limit = Limit(5.0, message("sources.beyond_tips"))
    forearm_share_off: Limit = Limit(0.08, message("sources.two_thirds"))
    free_wrist_share: Limit = Limit(
        0.1,
        message("sources.free_wrist"),
    )
    rib_gain: Limit = Limit(1.15, message("sources.own_ribs"))
    thumb_mm: Limit = Limit(3.0, message("sources.free_joint"))
    joint_angle_deg: Limit = Limit(1.0, GONIOMETER)
    stop_angle_deg: Limit = Limit(2.0, GONIOMETER)
    worn_angle_deg: Limit = Limit(5.0, GONIOMETER)
    worn_stop_deg: Limit = Limit(10.0, message("sources.own_worn_stop"))


def limits_of_case(case: Case) -> CheckLimits:
    """Return the limits that hold for a case."""
    printer, pull = case.printer, pull_of_case(case)

    def figure(name: str) -> Limit:
        known = getattr(printer, name)
        return Limit(
            known.value, message("sources.of_printer", printer=case.printer_name, source=known.origin)
        )

    return CheckLimits(
        dip_hyperextension_deg=hyperextension_limit(case),
        passive=passive_range(case),
        pull_g=pull_limit(case),
        wall_mm=figure("min_wall_mm"),
        asked_wall_mm=Limit(case.orthosis.wall_mm, _asked("orthosis.wall_mm")),
        asked_ring_wall_mm=_asked_ring_wall(case),
        asked_vents=Limit(float(case.orthosis.vents.grid != "none"), _asked("orthosis.vents.grid")),
        hole_mm=figure("min_hole_mm"),
        text_width_mm=figure("min_text_width_mm"),
        text_height_mm=figure("min_text_height_mm"),
        text_depth_mm=figure("min_text_depth_mm"),
        rim_radius_mm=figure("min_fillet_mm"),
        skin_edge_mm=_skin_edge(figure("min_fillet_mm")),
        compression_mm=_yielding(case, "motion_mm"),
        donning_compression_mm=_yielding(case, "donning_mm"),
        stop_compression_mm=_yielding(case, "stop_mm"),
        donning_strain_percent=_donning_strain(case),
        flare_mm=_flare(case),
        gap_mm=figure("min_gap_mm"),
        material=case.material,
        printer=printer,
        pull=pull,
        skin=skin_limits(pull.wear_hours, pull.hours_at_once),
        strength=_strength(case),
        strapping=strapping_of(case.orthosis.straps),
        strap_thickness_mm=Limit(
            case.orthosis.straps.thickness_mm,
            message("sources.strap_thickness"),
        ),
        measured=case.measured,
        confirmed=case.confirmed,
        spreads=spreads_of_case(case),
        loosest_mm=loosest_of(case.orthosis.clearance_mm),
    )


def _yielding(case: Case, name: str) -> Limit:
    """How far soft tissue is taken to yield."""
    given = getattr(case.orthosis.soft_tissue_compression, name)
    return Limit(given, message("sources.option", option=f"orthosis.soft_tissue_compression.{name}"))


def worn_limits(limits: CheckLimits) -> CheckLimits:
    """Return the limits on a person's finger, where an angle is no surer than a goniometer reads it."""
    return replace(limits, joint_angle_deg=limits.worn_angle_deg, stop_angle_deg=limits.worn_stop_deg)


def worn_press_mm(part: Part, limits: CheckLimits) -> Limit:
    """Return how far a part may be pressed into the skin of a person's finger.

    One that no strap holds bears on the skin by its shape, which is what it is for.
    """
    return limits.penetration_mm if part.floats_across is None else limits.stop_compression_mm


def loosest_of(clearance_mm: float, asked_mm: float | None = None) -> Limit:
    """Return how loose an orthosis may be.

    As asked, else a millimetre, or half a millimetre more than a wide clearance.
    """
    if asked_mm is not None:
        return Limit(asked_mm, as_it_stands("--loosest"))
    return Limit(max(1.0, clearance_mm + 0.5), message("sources.own_loosest"))


def _asked(key: str) -> Message:
    """Where a limit comes from that is what the case asks for."""
    return message("sources.of_case", option=key)


def _strength(case: Case) -> Strength:
    """Modulus and stress of the printed material, weakened by its layers."""
    material, modulus, allowable = case.material, case.material.modulus_mpa, case.material.allowable_mpa
    factor = material.layer_factor
    return Strength(
        Limit(
            LAYER_STIFFNESS * modulus.value,
            message(
                "sources.modulus",
                share=LAYER_STIFFNESS,
                modulus_mpa=modulus.value,
                material=case.material_name,
                source=modulus.origin,
            ),
        ),
        Limit(
            allowable.value * factor.value / SAFETY_FACTOR,
            message(
                "sources.stress",
                allowable_mpa=allowable.value,
                material=case.material_name,
                allowable=allowable.origin,
                layer_factor=factor.value,
                across=factor.origin,
                safety=SAFETY_FACTOR,
            ),
        ),
    )


def _skin_edge(process: Limit) -> Limit:
    """How round an edge on skin must be: as in the trade, or as the printer needs."""
    if process.value > SKIN_EDGE_MM:
        return process
    return Limit(SKIN_EDGE_MM, message("sources.skin_edge"))


def edge_limit(wanted: Limit, wall_mm: float, process: Limit) -> Limit:
    """Return how round an edge on skin must be where a wall does not allow what is wanted."""
    most = max(EDGE_SHARE_OF_WALL * wall_mm, process.value)
    if most >= wanted.value:
        return wanted
    return Limit(most, message("sources.skin_edge_of_wall", wanted_mm=wanted.value, wall_mm=wall_mm))


def _flare(case: Case) -> Limit | None:
    """How far an end must stand off; bands are rounded instead."""
    if isinstance(case.orthosis, BandOptions):
        return None
    return Limit(
        case.orthosis.soft_tissue_compression.stop_mm,
        message("sources.own_flare", option="orthosis.soft_tissue_compression.stop_mm"),
    )


def _donning_strain(case: Case) -> Limit:
    """What the wall may be strained by each time the orthosis is put on."""
    material = case.material
    return Limit(
        100.0 * DONNING_SHARE * material.yield_strain,
        message(
            "sources.yield_strain",
            share=DONNING_SHARE,
            material=case.material_name,
            allowable=material.allowable_mpa.origin,
            modulus=material.modulus_mpa.origin,
        ),
    )


def _asked_ring_wall(case: Case) -> Limit:
    """The wall asked of a ring: its own where it is one of two parts."""
    if hasattr(case.orthosis, "ring"):
        return Limit(case.orthosis.ring.wall_mm, _asked("orthosis.ring.wall_mm"))
    return Limit(case.orthosis.wall_mm, _asked("orthosis.wall_mm"))
