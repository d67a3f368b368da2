"""Closed formulas of thin curved beams: a ring pressed across, an arc sprung open at its lips.

    .--F--.            F <-- o     o --> F    the lips, at plus and minus the half angle from the middle of the arc
   (       )                (       )
    '--F--'                  '--.--'          middle of the arc, angle 0

Bending alone counts: thrust and shear add (t / R)^2, about one in thirty, to the opening of finger shells. Lengths mm, forces N,
moments N mm.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class CurvedBeam:
    """A strip of shell bent to a circle.

    radius_mm : of the middle of the wall
    width_mm : of the strip, along the limb
    """

    radius_mm: float
    thickness_mm: float
    width_mm: float
    modulus_mpa: float

    @property
    def rigidity_n_mm2(self) -> float:
        """Bending rigidity E I of the rectangular section."""
        return self.modulus_mpa * self.width_mm * self.thickness_mm**3 / 12.0


def ring_deflections(beam: CurvedBeam, force_n: float) -> tuple[float, float]:
    """Return by how much a closed ring shortens along two opposite forces, and widens across them.

    (pi / 4 - 2 / pi) F R^3 / E I and (2 / pi - 1 / 2) F R^3 / E I: circular rings, Roark's Formulas for Stress and Strain.
    """
    unit = force_n * beam.radius_mm**3 / beam.rigidity_n_mm2
    return (np.pi / 4.0 - 2.0 / np.pi) * unit, (2.0 / np.pi - 0.5) * unit


def opening_strain(radius_mm: float, thickness_mm: float, half_angle_rad: float, opening_mm: float) -> float:
    """Return the largest strain, at the inner side, of an arc whose lips are sprung apart by `opening_mm`.

    Castigliano: M(s) = F R (cos s - cos a) at the angle s from the middle of an arc of half angle a, so that the lips move apart
    by the integral of M dM/dF R / E I over the arc = (F R^3 / E I) (a (1 + 2 cos^2 a) - 3 sin a cos a); M is largest in the
    middle. The strain is M over that opening, times half the thickness over E I: modulus and width cancel.
    """
    curvature = opening_mm / radius_mm**2 * (1.0 - np.cos(half_angle_rad)) / _arc_compliance(half_angle_rad)
    return float(curvature * thickness_mm / 2.0 * inner_side_factor(radius_mm, thickness_mm))


def inner_side_factor(radius_mm: float, thickness_mm: float) -> float:
    """Return how much more a curved beam is strained at its inner side than a straight one (Winkler, rectangular section).

    The neutral line lies at r_n = t / ln(r_o / r_i) and the stress at the inner side is M (r_n - r_i) / (b t e r_i), where
    e is R - r_n; a straight beam's is 6 M / (b t^2).
    """
    inner = radius_mm - thickness_mm / 2.0
    neutral = thickness_mm / np.log((inner + thickness_mm) / inner)
    return float(thickness_mm * (neutral - inner) / (6.0 * (radius_mm - neutral) * inner))


def _arc_compliance(half_angle_rad: float) -> float:
    """Opening of an arc over F R^3 / E I.

    It is pi / 2 for a half ring and 3 pi for a ring slit at one place.
    """
    cosine, sine = np.cos(half_angle_rad), np.sin(half_angle_rad)
    return float(half_angle_rad * (1.0 + 2.0 * cosine**2) - 3.0 * sine * cosine)
