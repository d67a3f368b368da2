"""The nail on a finger's skin: where it begins and ends, how broad it is, and points on it."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from print3d.geometry.types import Floats
from print3d.limb.limb import Tube, landmark_of

NAIL_BESIDE_MM = 2.2
"""The plate begins this far distal of the place where the girth at the nail fold is taped; own choice."""
NAIL_BREADTH = 0.70
"""Half-breadth of the nail over that of the finger at its fold; from memory."""
NAIL_ENDS = 0.93
"""The nail's free edge as a share of the way from fold to tip; from memory."""
ROUNDNESS = 4.0
"""Exponent of the superellipse that the plate's outline is; own choice from the look of a nail."""
MOST_OF_BREADTH = 0.97
"""Of the finger's half-breadth the nail's edge reaches no more, so that it stays on the back where the tip rounds off; own choice."""
LINES = 401
"""Points across the back by which a radial place is turned into one on the girth; within 0.05 mm on a finger (measured)."""


@dataclass(frozen=True)
class NailSpan:
    """Where a nail lies: stations of its ends, and its half-breadth."""

    first_mm: float
    last_mm: float
    half_breadth_mm: float


def nail_span(tube: Tube) -> NailSpan:
    """Return where the nail of a finger lies. Raises NotMeasurableError if its fold is not known."""
    fold, tip = landmark_of(tube, "nail_fold"), landmark_of(tube, "tip")
    breadth, _ = tube.half_axes(np.array([fold]))
    return NailSpan(fold + NAIL_BESIDE_MM, fold + NAIL_ENDS * (tip - fold), NAIL_BREADTH * float(breadth[0]))


def nail_grid(tube: Tube, rows: int, columns: int) -> Floats:
    """Return points (rows, columns, 3) of the nail on the posed skin, proximal to distal, ulnar to radial.

    The first and the last row are its middle points.
    """
    span = nail_span(tube)
    along = np.sin(
        np.linspace(-np.pi / 2.0, np.pi / 2.0, rows)
    )  # denser at the ends, where the outline turns
    breadth = span.half_breadth_mm * (1.0 - np.abs(along) ** ROUNDNESS) ** (1.0 / ROUNDNESS)
    stations = span.first_mm + (along + 1.0) / 2.0 * (span.last_mm - span.first_mm)
    return np.array(
        [
            back_points(tube, station, half * np.linspace(-1.0, 1.0, columns))
            for station, half in zip(stations, breadth, strict=True)
        ]
    )


def back_points(tube: Tube, station_mm: float, radial_mm: Floats) -> Floats:
    """Return points (n, 3) on the back of the posed skin at a station and radial places (n,)."""
    fractions = np.linspace(-0.25, 0.25, LINES)
    line = tube.skin_points(np.full(LINES, station_mm), np.mod(fractions, 1.0))[:, 1]
    most = MOST_OF_BREADTH * np.abs(line).max()
    chosen = np.interp(np.clip(radial_mm, -most, most), line, fractions)
    return tube.skin_points(np.full(len(chosen), station_mm), np.mod(chosen, 1.0))


def cells_of(grid: Floats) -> tuple[Floats, Floats, Floats]:
    """Return middles (n, 3), unit normals (n, 3) and areas (n,) mm2 of the cells of a grid."""
    corners = [
        (grid[one][:-1], grid[other][:-1], grid[other][1:], grid[one][1:])
        for one, other in pairwise(range(len(grid)))
    ]
    a, b, c, d = (np.vstack(each) for each in zip(*corners, strict=True))
    vectors = 0.5 * np.cross(c - a, d - b)
    areas = np.linalg.norm(vectors, axis=1)
    is_cell = areas > 1e-9
    middles = (a + b + c + d) / 4.0
    return middles[is_cell], vectors[is_cell] / areas[is_cell, None], areas[is_cell]
