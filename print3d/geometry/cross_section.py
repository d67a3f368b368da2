"""Superellipse sections |y / a|^n + |z / b|^n = 1: from girth to half-axes, and around by arc length.

Polar form r(phi) = (|sin phi / a|^n + |cos phi / b|^n)^(-1/n), phi from dorsal (+z) towards radial (+y), which is
smooth where the usual cosine-power form has infinite slope. The section is convex for n >= 1, so a tape reads
its perimeter. Half-axes, ratios and exponents are numbers or arrays that broadcast against each other.
"""

import math
from functools import cache, lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import RectBivariateSpline

from print3d.geometry.types import Floats

QUADRATURE_POINTS = 80
"""Gauss-Legendre points per quarter; perimeters are then good to 1e-10 for exponents 2 to 4."""

TABLE_FRACTIONS = np.linspace(0.0, 1.0, 161)
"""Fractions of a quarter of the girth; with the ratios below angles are then good to 1e-6 rad (measured)."""
TABLE_RATIOS = np.geomspace(0.2, 2.5, 61)
"""Depth over breadth of every section the program meets lies well inside: the flat hand has about 0.3."""

ARC_STEPS = 640
"""Arc samples per quarter from which the table is inverted."""

EXPONENT_RANGE = (1.8, 4.2)
"""Exponents of the sections that the program meets lie inside; 2 is an ellipse."""
EXPONENT_NODES = 10
"""Chebyshev exponents between which angles are interpolated, where the exponent varies from point to point."""

ROUNDING = 1e-9
"""Relative slack of the two ranges, for numbers that were computed rather than typed."""


def radius(phi: ArrayLike, half_breadth: ArrayLike, half_depth: ArrayLike, exponent: ArrayLike) -> Floats:
    """Return the distance (n,) from the section's middle to the skin in direction `phi` (rad)."""
    power = np.asarray(exponent, dtype=float)
    across = np.abs(np.sin(phi) / np.asarray(half_breadth)) ** power
    deep = np.abs(np.cos(phi) / np.asarray(half_depth)) ** power
    return np.asarray((across + deep) ** (-1.0 / power))


def perimeter(half_breadth: ArrayLike, half_depth: ArrayLike, exponent: ArrayLike) -> Floats:
    """Return the girth (any shape) of sections."""
    breadth, depth, power = np.broadcast_arrays(
        *(np.asarray(each, dtype=float) for each in (half_breadth, half_depth, exponent))
    )
    phi, weight = _quarter_rule()
    speed = _speed(phi, breadth[..., None], depth[..., None], power[..., None])
    return np.asarray(4.0 * (speed * weight).sum(axis=-1))


def area(half_breadth: float, half_depth: float, exponent: float) -> float:
    """Return the section's area, 4 a b Gamma(1 + 1/n)^2 / Gamma(1 + 2/n)."""
    shape = math.gamma(1.0 + 1.0 / exponent) ** 2 / math.gamma(1.0 + 2.0 / exponent)
    return 4.0 * half_breadth * half_depth * shape


def solve_half_axes(
    girth_mm: ArrayLike, depth_ratio: ArrayLike, exponent: ArrayLike
) -> tuple[Floats, Floats]:
    """Return half-breadth and half-depth of the sections with this girth and depth / breadth.

    The perimeter grows in proportion to the size, so that no iteration is needed.
    """
    ratio = np.asarray(depth_ratio, dtype=float)
    half_breadth = np.asarray(girth_mm) / perimeter(np.ones_like(ratio), ratio, exponent)
    return half_breadth, half_breadth * ratio


def angle_at_fraction(fraction: ArrayLike, depth_ratio: ArrayLike, exponent: ArrayLike) -> Floats:
    """Return the polar angle phi (n,), 0 to 2 pi, at fractions of the girth.

    Fractions run from dorsal (0) over radial (0.25).
    Good to 1e-6 rad; exact at the four axes. Raises ValueError for a ratio or exponent outside the tables.
    """
    turn, ratio, power = np.broadcast_arrays(
        *(np.asarray(each, dtype=float) for each in (fraction, depth_ratio, exponent))
    )
    _refuse_outside("depth ratio", ratio, (TABLE_RATIOS[0], TABLE_RATIOS[-1]))
    turn = np.mod(turn, 1.0)
    quarter = np.floor(4.0 * turn)
    within = 4.0 * turn - quarter
    backward = quarter % 2 == 1
    angle = _angle_in_quarter(np.where(backward, 1.0 - within, within), ratio, power)
    return np.asarray(
        np.where(backward, (quarter + 1.0) * np.pi / 2.0 - angle, quarter * np.pi / 2.0 + angle)
    )


def _angle_in_quarter(from_dorsal: Floats, ratio: Floats, power: Floats) -> Floats:
    """Angle from the dorsal axis at fractions of the first quarter."""
    if power.size == 0 or np.ptp(power) == 0.0:
        shared = float(power.flat[0]) if power.size else EXPONENT_RANGE[0]
        return np.asarray(_angle_table(shared).ev(from_dorsal, ratio))
    _refuse_outside("exponent", power, EXPONENT_RANGE)
    nodes, weights = _exponent_nodes()
    gap = power - nodes.reshape(-1, *[1] * power.ndim)
    terms = weights.reshape(-1, *[1] * power.ndim) / np.where(gap == 0.0, 1e-12, gap)
    angles = np.array([_angle_table(float(node)).ev(from_dorsal, ratio) for node in nodes])
    return np.asarray((terms * angles).sum(axis=0) / terms.sum(axis=0))


def _refuse_outside(name: str, values: Floats, limits: tuple[float, float]) -> None:
    """Raise ValueError: a mistake in the program, which a bivariate spline would hide by answering with its edge."""
    low, high = limits[0] * (1.0 - ROUNDING), limits[1] * (1.0 + ROUNDING)
    if values.size and not (low <= values.min() and values.max() <= high):
        raise ValueError(
            f"section {name} {values.min():g} to {values.max():g}: accepted is {limits[0]:g} to {limits[1]:g}"
        )


def _speed(phi: Floats, breadth: Floats, depth: Floats, exponent: ArrayLike) -> Floats:
    """Arc length per angle in the first quarter, from r and its derivative."""
    power = np.asarray(exponent, dtype=float)
    reach = radius(phi, breadth, depth, power)
    sine, cosine = np.sin(phi), np.maximum(np.cos(phi), 0.0)
    slope = sine ** (power - 1.0) * cosine / breadth**power - cosine ** (power - 1.0) * sine / depth**power
    return np.asarray(np.hypot(reach, reach ** (power + 1.0) * slope))


@cache
def _quarter_rule() -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(QUADRATURE_POINTS)
    return (nodes + 1.0) * np.pi / 4.0, weights * np.pi / 4.0


@cache
def _exponent_nodes() -> tuple[Floats, Floats]:
    """Chebyshev points of the exponents' range and their barycentric weights."""
    turn = (2.0 * np.arange(EXPONENT_NODES) + 1.0) * np.pi / (2.0 * EXPONENT_NODES)
    low, high = EXPONENT_RANGE
    return (low + high) / 2.0 + (high - low) / 2.0 * np.cos(turn), np.sin(turn) * (-1.0) ** np.arange(
        EXPONENT_NODES
    )


@lru_cache(maxsize=64)
def _angle_table(exponent: float) -> RectBivariateSpline:
    """Angle over (fraction of the quarter, depth ratio), by inverting the cumulated arc length (Simpson)."""
    phi = np.linspace(0.0, np.pi / 2.0, ARC_STEPS + 1)
    middles, ratios = (phi[1:] + phi[:-1]) / 2.0, TABLE_RATIOS[:, None]
    ends, mid = (_speed(at, np.ones_like(ratios), ratios, exponent) for at in (phi, middles))
    steps = (ends[:, :-1] + 4.0 * mid + ends[:, 1:]) * (phi[1] / 6.0)
    arcs = np.pad(np.cumsum(steps, axis=1), ((0, 0), (1, 0)))
    columns = [_inverted(arc, phi, 1.0 / speed) for arc, speed in zip(arcs, ends, strict=True)]
    return RectBivariateSpline(TABLE_FRACTIONS, TABLE_RATIOS, np.array(columns).T, kx=3, ky=3)


def _inverted(arc: Floats, phi: Floats, slope: Floats) -> Floats:
    """Angles at the table's fractions of the arc.

    Cubic between samples, as the slope d phi / d arc is known.
    """
    wanted = TABLE_FRACTIONS * arc[-1]
    piece = np.clip(np.searchsorted(arc, wanted) - 1, 0, len(arc) - 2)
    width = arc[piece + 1] - arc[piece]
    t = (wanted - arc[piece]) / width
    start, stop = slope[piece] * width, slope[piece + 1] * width
    blend = t * t * (3.0 - 2.0 * t)
    bend = t * (1.0 - t) * ((1.0 - t) * start - t * stop)
    angles = phi[piece] * (1.0 - blend) + phi[piece + 1] * blend + bend
    angles[[0, -1]] = 0.0, np.pi / 2.0
    return np.asarray(angles)
