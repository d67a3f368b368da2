"""Superellipse sections |y / a|^n + |z / b|^n = 1: from girth to half-axes, and around by arc length.

Polar form r(phi) = (|sin phi / a|^n + |cos phi / b|^n)^(-1/n), phi from dorsal (+z) towards radial (+y), which is
smooth where the usual cosine-power form has infinite slope. The section is convex for n >= 1, so a tape reads
its perimeter.
"""

import math
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import RectBivariateSpline

Floats = NDArray[np.float64]

QUADRATURE_POINTS = 80
"""Gauss-Legendre points per quarter; perimeters are then good to 1e-8 for exponents 2 to 4."""

TABLE_ANGLES = 161
TABLE_RATIOS = np.geomspace(0.3, 2.0, 41)
"""Depth over breadth of every section the program meets lies well inside."""


def radius(phi: ArrayLike, half_breadth: ArrayLike, half_depth: ArrayLike, exponent: float) -> Floats:
    """Return the distance (n,) from the section's middle to the skin in direction `phi` (rad)."""
    across = np.abs(np.sin(phi) / np.asarray(half_breadth)) ** exponent
    deep = np.abs(np.cos(phi) / np.asarray(half_depth)) ** exponent
    return np.asarray((across + deep) ** (-1.0 / exponent))


def perimeter(half_breadth: ArrayLike, half_depth: ArrayLike, exponent: float) -> Floats:
    """Return the girth (any shape) of sections; half-axes broadcast against each other."""
    breadth, depth = np.broadcast_arrays(
        np.asarray(half_breadth, dtype=float), np.asarray(half_depth, dtype=float)
    )
    phi, weight = _quarter_rule()
    speed = _speed(phi, breadth[..., None], depth[..., None], exponent)
    return np.asarray(4.0 * (speed * weight).sum(axis=-1))


def area(half_breadth: float, half_depth: float, exponent: float) -> float:
    """Return the section's area, 4 a b Gamma(1 + 1/n)^2 / Gamma(1 + 2/n)."""
    shape = math.gamma(1.0 + 1.0 / exponent) ** 2 / math.gamma(1.0 + 2.0 / exponent)
    return 4.0 * half_breadth * half_depth * shape


def solve_half_axes(girth_mm: ArrayLike, depth_ratio: ArrayLike, exponent: float) -> tuple[Floats, Floats]:
    """Return half-breadth and half-depth of the sections with this girth and depth / breadth.

    The perimeter grows in proportion to the size, so that no iteration is needed.
    """
    ratio = np.asarray(depth_ratio, dtype=float)
    half_breadth = np.asarray(girth_mm) / perimeter(np.ones_like(ratio), ratio, exponent)
    return half_breadth, half_breadth * ratio


def angle_at_fraction(fraction: ArrayLike, depth_ratio: ArrayLike, exponent: float) -> Floats:
    """Return the polar angle phi (n,) at fractions of the girth from dorsal (0) over radial (0.25)."""
    turn = np.mod(np.asarray(fraction, dtype=float), 1.0)
    quarter = np.floor(4.0 * turn)
    within = 4.0 * turn - quarter
    backward = quarter % 2 == 1
    from_axis = np.where(backward, 1.0 - within, within)
    spline = _angle_table(exponent)
    angle = spline.ev(from_axis, np.broadcast_to(depth_ratio, from_axis.shape))
    return np.asarray(
        np.where(backward, (quarter + 1.0) * np.pi / 2.0 - angle, quarter * np.pi / 2.0 + angle)
    )


def _speed(phi: Floats, breadth: Floats, depth: Floats, exponent: float) -> Floats:
    """Arc length per angle, from r and its derivative."""
    reach = radius(phi, breadth, depth, exponent)
    sine, cosine = np.sin(phi), np.cos(phi)
    slope = (
        sine ** (exponent - 1.0) * cosine / breadth**exponent
        - cosine ** (exponent - 1.0) * sine / depth**exponent
    )
    return np.asarray(np.hypot(reach, reach ** (exponent + 1.0) * slope))


@cache
def _quarter_rule() -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(QUADRATURE_POINTS)
    return (nodes + 1.0) * np.pi / 4.0, weights * np.pi / 4.0


@cache
def _angle_table(exponent: float) -> RectBivariateSpline:
    """Angle over (fraction of the quarter, depth ratio), by inverting the cumulated arc length."""
    phi = np.linspace(0.0, np.pi / 2.0, 8 * TABLE_ANGLES + 1)
    fractions = np.linspace(0.0, 1.0, TABLE_ANGLES)
    middles = (phi[1:] + phi[:-1]) / 2.0
    columns = []
    for ratio in TABLE_RATIOS:
        ends, mid = (_speed(at, np.asarray(1.0), np.asarray(ratio), exponent) for at in (phi, middles))
        arc = np.concatenate([[0.0], np.cumsum(ends[:-1] + 4.0 * mid + ends[1:])])
        columns.append(np.interp(fractions, arc / arc[-1], phi))
    return RectBivariateSpline(fractions, TABLE_RATIOS, np.array(columns).T, kx=3, ky=3)
