r"""The three-point system that every joint orthosis is, worked out by hand.

It says what holds a joint, and what presses on the skin for it:

           F2                     F2 over the joint, F1 and F3 at the ends of the levers a and b:
    |--a---v---b---|              F1 a = F3 b = the joint's moment,  F2 = F1 + F3
    ^F1          F3^
                                  A middle force that lies s beside the joint, on the side of F1, works on shorter levers:
                                  F1 (a - s) = F3 (b + s): near the end of its lever it must pull many times as hard

Method, from moment to force to pressure: Toderan and Lunsford 1978, Orthot Prosthet 32(3):37. Lengths mm, forces N, moments N mm.
"""

from dataclasses import dataclass

GRAVITY_M_S2 = 9.80665
"""Standard gravity (ISO 80000-3)."""
KPA_PER_MMHG = 0.133322
"""Conventional millimetre of mercury (ISO 80000-4)."""
CAPILLARY_MMHG = 32.0
"""Usual figure of capillary closing pressure (Landis 1930, second-hand; reported from under 20 to over 40)."""
ADULT_MASS_KG = 80.0
"""Mass of an adult with the hand below; own choice."""
ADULT_HAND_LENGTH_MM = 193.0
"""A man's hand of about mean length; own choice."""
HAND_MASS_SHARE = 0.0061
"""Mass of a hand over that of the body (de Leva 1996, from memory)."""
HAND_CENTRE_SHARE = 0.3624
"""Where its centre lies between wrist and fingertip (de Leva 1996, from memory)."""


@dataclass(frozen=True)
class ThreePoint:
    """Three parallel forces in balance: the ends press one way, the middle the other."""

    proximal_n: float
    middle_n: float
    distal_n: float
    moment_n_mm: float


def three_point(
    distal_n: float, proximal_lever_mm: float, distal_lever_mm: float, middle_proximal_mm: float = 0.0
) -> ThreePoint:
    """Return the system that holds a joint against `distal_n` at the distal end.

    middle_proximal_mm : how far proximal of the joint the middle force lies

    Raises ValueError if the middle force lies beyond the proximal lever: then nothing is in balance.
    """
    if middle_proximal_mm >= proximal_lever_mm:
        raise ValueError(
            f"a middle force {middle_proximal_mm:g} mm from the joint cannot balance levers of {proximal_lever_mm:g} mm"
        )
    proximal = distal_n * (distal_lever_mm + middle_proximal_mm) / (proximal_lever_mm - middle_proximal_mm)
    return ThreePoint(proximal, proximal + distal_n, distal_n, distal_n * distal_lever_mm)


def pressure_kpa(force_n: float, area_mm2: float) -> float:
    """Return the mean pressure of a force on an area."""
    return 1000.0 * force_n / area_mm2


def area_mm2(force_n: float, pressure_kpa: float) -> float:
    """Return the area on which a force presses with a given mean pressure."""
    return 1000.0 * force_n / pressure_kpa


def mmhg(kpa: float) -> float:
    """Return a pressure in millimetres of mercury."""
    return kpa / KPA_PER_MMHG


def force_of_grams(grams: float) -> float:
    """Return the weight (N) of a mass."""
    return grams * GRAVITY_M_S2 / 1000.0


def grams_of_force(force_n: float) -> float:
    """Return the mass (g) whose weight is a force."""
    return 1000.0 * force_n / GRAVITY_M_S2


def hand_weight(hand_length_mm: float, body_mass_kg: float | None = None) -> tuple[float, float]:
    """Return the weight (N) of a hand and its moment about the wrist (N mm), the forearm level.

    Without the body's mass, that of a body as large as the hand lets expect: it grows with the cube of the length.
    """
    mass = body_mass_kg or ADULT_MASS_KG * (hand_length_mm / ADULT_HAND_LENGTH_MM) ** 3
    weight = HAND_MASS_SHARE * mass * GRAVITY_M_S2
    return weight, weight * HAND_CENTRE_SHARE * hand_length_mm
