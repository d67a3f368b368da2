r"""The surface of a band that weaves over and under fingers held side by side.

Seen along the fingers, the band is a belt: it follows each finger's section, a little outside the skin, and runs straight from one
finger to the next along the common tangent of two sections.

         over          under          over
        .----.                       .----.
       ( ring )\   ( middle )     /( index )
        '----'  \_____'----'______/  '----'
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, RectBivariateSpline
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import brentq

from print3d.errors import ShapingError
from print3d.geometry.frames import RADIAL, apply
from print3d.limb.four_fingers import Ray

Floats = NDArray[np.float64]

SECTION_SAMPLES = 256
ROWS = 9
STEP_MM = 0.4
SOFTENED_MM = 0.8
"""The bend of a belt begins at once where it meets a finger; it is spread over so much, which moves the belt by 0.03 mm at most."""
BEYOND_MM = 4.0
"""The surface is computed this far beyond the band's ends and edges."""
LEAST_PIECE_MM = 0.1
"""A finger that the belt only touches still takes so much of the band's length."""
TILTS = 81
STEEPEST_RAD = np.radians(80.0)


@dataclass(frozen=True, eq=False)
class Pass:
    """How the band passes one finger.

    station_mm : of the band's middle on this finger
    narrowing : width of the band here, as a share of its full width
    """

    ray: Ray
    is_over: bool
    station_mm: float
    narrowing: float

    def section(self, along_mm: float, distance_mm: float) -> CubicSpline:
        """Return the closed curve (3,) over girth fractions, `distance_mm` outside the skin, in the hand frame."""
        fraction = np.arange(SECTION_SAMPLES + 1) / SECTION_SAMPLES
        station = np.full(SECTION_SAMPLES, self.station_mm + self.narrowing * along_mm)
        skin = self.ray.limb.skin_points(station, fraction[:-1])
        flat = CubicSpline(fraction, np.vstack([skin, skin[:1]]), bc_type="periodic")
        way = flat(fraction[:-1], 1)
        normal = np.column_stack([np.zeros(len(way)), -way[:, 2], way[:, 1]])
        normal *= np.sign(np.einsum("ij,ij->i", normal, skin - skin.mean(axis=0)))[:, None]
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        placed = apply(self.ray.hand_from_finger(), skin + distance_mm * normal)
        return CubicSpline(fraction, np.vstack([placed, placed[:1]]), bc_type="periodic")

    def end_fraction(self, wrap: float, side: float) -> float:
        """Return where a band ends that wraps `wrap` of the girth around the radial (side +1) or ulnar (-1) side."""
        return side * wrap if self.is_over else 0.5 - side * wrap


@dataclass(frozen=True, eq=False)
class Weave:
    """The band's middle surface.

    arcs : (n, 2) mm, where `around` begins and ends on each passed finger, ulnar to radial
    length_mm : along the band from end to end
    """

    surface: Sequence[RectBivariateSpline]
    arcs: Floats
    length_mm: float

    def points(self, along_mm: Floats, around_mm: Floats) -> Floats:
        """Return points (n, 3) of the middle surface, hand frame."""
        return np.column_stack([each.ev(along_mm, around_mm) for each in self.surface])


def weave(passes: Sequence[Pass], distance_mm: float, width_mm: float, wrap: float) -> Weave:
    """Return the middle surface of a band.

    passes : the fingers, ulnar to radial
    distance_mm : from the skin to the band's middle
    wrap : share of the girth, from the middle of the back or palm side, at which the band ends on the outer fingers

    Raises ShapingError where the band cannot pass between two fingers.
    """
    along = np.linspace(-width_mm / 2 - BEYOND_MM / 2, width_mm / 2 + BEYOND_MM / 2, ROWS)
    rows = [_row(passes, float(each), distance_mm, wrap) for each in along]
    lengths = np.array([max(_length(piece), LEAST_PIECE_MM) for piece in rows[ROWS // 2]])
    counts = np.maximum(2, np.ceil(lengths / STEP_MM).astype(int))
    around = np.concatenate([[0.0], *_steps(lengths, counts)])
    grid = np.array([_evenly(row, counts) for row in rows])
    grid = gaussian_filter1d(grid, SOFTENED_MM / STEP_MM, axis=1, mode="nearest")
    around -= BEYOND_MM
    surface = [RectBivariateSpline(along, around, grid[:, :, k]) for k in range(3)]
    bounds = np.concatenate([[0.0], np.cumsum(lengths)]) - BEYOND_MM
    length = float(bounds[-1] - BEYOND_MM)
    arcs = np.clip(np.column_stack([bounds[:-1:2], bounds[1::2]]), 0.0, length)
    return Weave(surface, arcs, length)


def _row(passes: Sequence[Pass], along: float, distance: float, wrap: float) -> list[Floats]:
    """The belt at one place along the fingers, as pieces of points: arc, link, arc, ..."""
    curves = [each.section(along, distance) for each in passes]
    spans = _spans(passes, curves, wrap)
    arcs = []
    for number, (curve, (start, stop)) in enumerate(zip(curves, spans, strict=True)):
        per_mm = 1.0 / _length(curve(np.linspace(0.0, 1.0, 65)))
        way = 1.0 if passes[number].is_over else -1.0
        start = start - way * per_mm * BEYOND_MM * (number == 0)
        stop = stop + way * per_mm * BEYOND_MM * (number == len(passes) - 1)
        arcs.append((curve, way, np.linspace(start, stop, 65)))
    pieces: list[Floats] = []
    for number, (curve, way, fractions) in enumerate(arcs):
        if number:
            before, way_before, last = arcs[number - 1]
            pieces.append(
                _link(
                    before(np.mod(last[-1], 1.0)),
                    way_before * before(np.mod(last[-1], 1.0), 1),
                    curve(np.mod(fractions[0], 1.0)),
                    way * curve(np.mod(fractions[0], 1.0), 1),
                )
            )
        pieces.append(curve(np.mod(fractions, 1.0)))
    return pieces


def _spans(passes: Sequence[Pass], curves: Sequence[CubicSpline], wrap: float) -> list[tuple[float, float]]:
    """Girth fractions where the belt meets and leaves each finger."""
    flat = _seen_along_fingers(passes, curves)
    fraction = np.arange(SECTION_SAMPLES) / SECTION_SAMPLES
    starts, stops = [passes[0].end_fraction(wrap, -1.0)], []
    for number in range(len(passes) - 1):
        pair, sections = passes[number : number + 2], flat[number : number + 2]
        tilt = _common_tangent(pair, sections)
        stops.append(_met(pair[0], sections[0], fraction, tilt))
        starts.append(_met(pair[1], sections[1], fraction, tilt))
    stops.append(passes[-1].end_fraction(wrap, 1.0))
    spans = []
    for each, start, stop in zip(passes, starts, stops, strict=True):
        way = 1.0 if each.is_over else -1.0
        if way * (stop - start) < 0.0:  # the belt only touches this finger
            start = stop = (start + stop) / 2
        spans.append((start, stop))
    return spans


def _seen_along_fingers(passes: Sequence[Pass], curves: Sequence[CubicSpline]) -> list[Floats]:
    """Sections (n, 2) radially and dorsally, seen along the fingers' mean direction."""
    distal = np.mean([each.ray.hand_from_finger()[:3, 0] for each in passes], axis=0)
    distal /= np.linalg.norm(distal)
    radial = RADIAL - (RADIAL @ distal) * distal
    radial /= np.linalg.norm(radial)
    axes = np.column_stack([radial, np.cross(distal, radial)])
    fraction = np.arange(SECTION_SAMPLES) / SECTION_SAMPLES
    return [curve(fraction) @ axes for curve in curves]


def _common_tangent(pair: Sequence[Pass], sections: Sequence[Floats]) -> float:
    """Tilt (rad, towards radial) of the normal of the straight line that touches both sections on their sides of the band."""

    def apart(tilt: float) -> float:
        first, second = (
            _reach(each, section, tilt).max() for each, section in zip(pair, sections, strict=True)
        )
        return float((first if pair[0].is_over else -first) - (second if pair[1].is_over else -second))

    low, high = -STEEPEST_RAD, STEEPEST_RAD
    if pair[0].is_over != pair[1].is_over:  # of the two lines that part the sections, the flatter one
        tilts = np.linspace(low, high, TILTS)
        apart_at = np.array([apart(tilt) for tilt in tilts])
        if pair[0].is_over:
            high = float(tilts[np.argmin(apart_at)])
        else:
            low = float(tilts[np.argmax(apart_at)])
    if apart(low) * apart(high) > 0.0:
        names = " and ".join(each.ray.limb.finger for each in pair)
        raise ShapingError(f"the band finds no way between {names} finger: they touch each other there")
    return float(brentq(apart, low, high, xtol=1e-6))


def _reach(each: Pass, section: Floats, tilt: float) -> Floats:
    """How far (n,) a section's points reach towards the band."""
    height = section @ np.array([np.sin(tilt), np.cos(tilt)])
    return np.asarray(height if each.is_over else -height)


def _met(each: Pass, section: Floats, fraction: Floats, tilt: float) -> float:
    """Girth fraction at which a line of that tilt touches; near 0 over, near 0.5 under."""
    reach = _reach(each, section, tilt)
    n, best = len(reach), int(np.argmax(reach))
    left, middle, right = reach[best - 1], reach[best], reach[(best + 1) % n]
    offset = 0.5 * (left - right) / (left - 2.0 * middle + right)
    found = fraction[best] + offset / n
    return float(found - 1.0 if each.is_over and found > 0.5 else found)


def _link(start: Floats, way_out: Floats, stop: Floats, way_in: Floats) -> Floats:
    """A smooth link (n, 3) from one arc to the next."""
    length = np.linalg.norm(stop - start)
    slopes = np.array([way / np.linalg.norm(way) for way in (way_out, way_in)])
    t = np.linspace(0.0, 1.0, 65)[:, None]
    out, into = length * slopes[:1], length * slopes[1:]
    h = (2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t, -2 * t**3 + 3 * t**2, t**3 - t**2)
    return np.asarray(h[0] * start + h[1] * out + h[2] * stop + h[3] * into)


def _length(points: Floats) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def _steps(lengths: Floats, counts: NDArray[np.int64]) -> list[Floats]:
    """Places around (mm) of the samples of each piece, its first left out."""
    starts = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    return [
        start + length * np.arange(1, count + 1) / count
        for start, length, count in zip(starts, lengths, counts, strict=True)
    ]


def _evenly(pieces: Sequence[Floats], counts: NDArray[np.int64]) -> Floats:
    """Samples (n, 3) along the pieces, evenly spaced on each."""
    rows = [pieces[0][:1]]
    for piece, count in zip(pieces, counts, strict=True):
        length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(piece, axis=0), axis=1))])
        if length[-1] < 1e-9:
            rows.append(np.repeat(piece[:1], count, axis=0))
            continue
        rows.append(CubicSpline(length, piece)(length[-1] * np.arange(1, count + 1) / count))
    return np.vstack(rows)
