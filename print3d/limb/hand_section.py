"""Sections of hand and finger group from support functions.

The support h(u) of a convex section is how far it reaches in direction u = (sin phi, cos phi) of (radial, dorsal). The section
around several fingers has the largest of their supports; a soft maximum gives a smooth skin that lies on a finger where one
reaches farthest and bridges the hollow between two. A mean of supports is a section between two others, and its girth the mean of
their girths.
"""

from dataclasses import dataclass

import numpy as np

from print3d.geometry.types import Floats

SOFTNESS_MM = 0.15
"""Where two fingers reach equally far the skin around them lies outside both by up to this times ln 2."""

DIRECTIONS = 721
"""Directions, half a degree apart, in which a section is worked out; own choice."""


@dataclass(frozen=True, eq=False)
class Ovals:
    """Superellipses, all arrays (..., n).

    radial, dorsal : mm, where the middles lie
    half_breadth, half_depth, exponent : their shape
    roll : rad by which it is turned, the radial side up
    """

    radial: Floats
    dorsal: Floats
    half_breadth: Floats
    half_depth: Floats
    exponent: Floats
    roll: Floats

    def supports(self, phi: Floats) -> tuple[Floats, Floats]:
        """Return supports (..., n, p) in directions phi (p,), and the skin points (..., n, p, 2) that touch there."""
        a, b, n, roll, y, z = (
            each[..., None]
            for each in (
                self.half_breadth,
                self.half_depth,
                self.exponent,
                self.roll,
                self.radial,
                self.dorsal,
            )
        )
        across, up = np.sin(phi + roll), np.cos(phi + roll)
        power = n / (n - 1.0)
        wide, deep = a * np.abs(across), b * np.abs(up)
        reach = (wide**power + deep**power) ** (1.0 / power)
        along_a = np.sign(across) * a * (wide / reach) ** (power - 1.0)
        along_b = np.sign(up) * b * (deep / reach) ** (power - 1.0)
        sine, cosine = np.sin(roll), np.cos(roll)
        points = np.stack(
            [y + cosine * along_a - sine * along_b, z + sine * along_a + cosine * along_b], axis=-1
        )
        return reach + y * np.sin(phi) + z * np.cos(phi), points


def around_all(ovals: Ovals, phi: Floats) -> tuple[Floats, Floats]:
    """Return the support (..., p) around all ovals, and its points (..., p, 2)."""
    each, touching = ovals.supports(phi)
    share = np.exp((each - each.max(axis=-2, keepdims=True)) / SOFTNESS_MM)
    share /= share.sum(axis=-2, keepdims=True)
    entropy = -(share * np.log(np.maximum(share, 1e-300))).sum(axis=-2)
    mean = (share * each).sum(axis=-2)
    support = mean + SOFTNESS_MM * entropy
    direction = np.column_stack([np.sin(phi), np.cos(phi)])
    points = (share[..., None] * touching).sum(axis=-3) + (support - mean)[..., None] * direction
    return support, points


def directions() -> Floats:
    """Return directions from dorsal over radial all around (p,), closer at the four axes, where an oval is flattest."""
    t = np.linspace(0.0, 1.0, (DIRECTIONS - 1) // 4 + 1)
    spaced = np.where(t < 0.5, 4.0 * t**3, 1.0 - 4.0 * (1.0 - t) ** 3)
    quarter = spaced[:-1] * np.pi / 2.0
    return np.append(np.concatenate([quarter + k * np.pi / 2.0 for k in range(4)]), 2.0 * np.pi)


def by_girth(points: Floats, phi: Floats, fractions: Floats) -> tuple[Floats, Floats]:
    """Return skin points (s, f, 2) at girth fractions (f,) of sections (s, p, 2).

    Second comes the girth (s,) of the back times two.

    fractions : 0.25 is the farthest radial point, 0.75 the farthest ulnar one; even by length between them on back and palm
    """
    radial, ulnar = (int(np.argmin(np.abs(phi - angle))) for angle in (np.pi / 2.0, 1.5 * np.pi))
    rolled = np.concatenate([points[:, ulnar:-1], points[:, : ulnar + 1]], axis=1)
    steps = np.linalg.norm(np.diff(rolled, axis=1), axis=2)
    length = np.pad(np.cumsum(steps, axis=1), ((0, 0), (1, 0)))
    n_back = radial + len(phi) - 1 - ulnar
    back, all_around = length[:, n_back], length[:, -1]
    turn = np.mod(fractions + 0.25, 1.0)
    sections = []
    for row, own, half, whole in zip(rolled, length, back, all_around, strict=True):
        wanted = np.where(turn <= 0.5, 2.0 * turn * half, half + (2.0 * turn - 1.0) * (whole - half))
        sections.append(np.column_stack([np.interp(wanted, own, row[:, k]) for k in range(2)]))
    return np.array(sections), 2.0 * back
