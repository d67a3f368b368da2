"""Smooth closed curves for patterns: from polygons and from circles, evenly sampled."""

from collections.abc import Callable

import numpy as np
import shapely

from print3d.errors import ShapingError
from print3d.geometry.types import Floats
from print3d.language.message import message
from print3d.shell.pattern import Loop, LoopKind

ARC_SEGMENTS = 24
"""Segments per quarter circle when shapely rounds a corner; 0.2 % of the radius at most off the circle."""


def rounded(polygon: shapely.Polygon, radius_mm: float) -> shapely.Polygon:
    """Return `polygon` with every corner, convex and concave, rounded by `radius_mm`.

    Raises ShapingError if the polygon is too narrow for that radius.
    """
    opened = polygon.buffer(-radius_mm, quad_segs=ARC_SEGMENTS).buffer(2 * radius_mm, quad_segs=ARC_SEGMENTS)
    result = opened.buffer(-radius_mm, quad_segs=ARC_SEGMENTS)
    if result.is_empty or result.geom_type != "Polygon":
        raise ShapingError(message("refusals.shell.narrow_outline", radius_mm=radius_mm))
    return result


def loop_of(polygon: shapely.Polygon, kind: LoopKind, spacing_mm: float) -> Loop:
    """Return the exterior of `polygon` as a loop, counter-clockwise for an outline or a mark, else clockwise."""
    ring = np.asarray(polygon.exterior.coords)[:-1]
    return sampled(ring, kind, spacing_mm, counter_clockwise=kind in ("outline", "mark"))


def sampled(ring: Floats, kind: LoopKind, spacing_mm: float, *, counter_clockwise: bool) -> Loop:
    """Return a closed ring (n, 2) as a loop of evenly spaced samples that runs the asked way."""
    if shapely.LinearRing(ring).is_ccw != counter_clockwise:
        ring = ring[::-1]
    closed = np.vstack([ring, ring[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    n = max(12, int(np.ceil(length[-1] / spacing_mm)))
    at = np.linspace(0.0, length[-1], n, endpoint=False)
    return Loop(kind, np.column_stack([np.interp(at, length, closed[:, k]) for k in range(2)]))


def circle(centre: Floats, radius_mm: float, kind: LoopKind, chord_error_mm: float) -> Loop:
    """Return a clockwise circle (a hole) sampled to the chord error."""
    n = max(16, int(np.ceil(np.pi / np.arccos(1.0 - chord_error_mm / radius_mm))))
    angle = -2.0 * np.pi * np.arange(n) / n
    return Loop(kind, centre + radius_mm * np.column_stack([np.cos(angle), np.sin(angle)]))


def edge(
    along_of_around: Callable[[Floats], Floats], period_mm: float, spacing_mm: float, *, is_distal: bool
) -> Loop:
    """Return one edge of a wrap-around pattern: `along` as a periodic function of `around`.

    The samples are evenly spaced along the curve; the distal edge runs towards +around.
    """
    fine = np.linspace(-period_mm / 2, period_mm / 2, 2001)
    curve = np.column_stack([along_of_around(fine), fine])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))])
    n = max(24, int(np.ceil(length[-1] / spacing_mm)))
    at = np.linspace(0.0, length[-1], n, endpoint=False)
    around = np.interp(at, length, fine)
    points = np.column_stack([along_of_around(around), around])
    if is_distal:
        return Loop("edge", points, period_mm)
    return Loop("edge", points[::-1], -period_mm)
