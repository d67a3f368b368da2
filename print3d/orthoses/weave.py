r"""The middle surface of a band that weaves over and under fingers held side by side.

Seen along the fingers, the band is a belt: it follows each finger a little outside the skin and runs to the next along a line that
touches both. Fingers lie at different angles, so that line is sought in space: it lies in the tangent planes of both.

         over          under          over
        .----.                       .----.
       ( ring )\   ( middle )     /( index )
        '----'  \_____'----'______/  '----'

On a finger the band follows its `Track`: `along` distally, `turn` as a share of the girth from the middle of the back (or palm)
side, growing radially. The band's normals point dorsally everywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.optimize import root

from print3d.errors import ShapingError
from print3d.geometry.frames import apply
from print3d.geometry.spline import SplineSurface, fit_surface
from print3d.limb.four_fingers import Ray

Floats = NDArray[np.float64]

STATION_SITES, TURN_SITES, ROWS = 15, 61, 11
TURN_REACH = 0.47
"""Tracks go nearly all around, so that a band may end past a finger's widest place."""
TURN_GRID = 49
TANGENT_ROWS, TANGENT_ORDER = 5, 3
TANGENT_ERROR = 1e-6
BLEND_MM = 3.5
"""The band leaves a finger this much before the touching line does, so that its bend eases off instead of ending at once."""
LEAST_ARC_MM = 2.0
"""A finger that the straight belt would hardly touch is still touched over this length."""
SAMPLE_MM = 0.35


@dataclass(frozen=True, eq=False)
class Pass:
    """How the band passes one finger.

    station_mm : of the band's middle, on the finger's middle line
    slope : how far the band runs distally per mm radially, on this finger
    """

    ray: Ray
    is_over: bool
    station_mm: float
    slope: float = 0.0

    def fraction(self, turn: Floats) -> Floats:
        """Return the girth fraction (n,) at turns (n,)."""
        return np.asarray(turn if self.is_over else 0.5 - turn)

    def lateral_mm(self, turn: Floats) -> Floats:
        """Return how far radially of the finger's middle plane the skin lies (n,) at turns (n,)."""
        at = np.full(np.shape(turn), self.station_mm)
        return self.ray.limb.skin_points(at, np.mod(self.fraction(turn), 1.0))[:, 1]

    def girth_mm(self) -> float:
        """Return the finger's girth at the band."""
        return float(self.ray.limb.girth_mm(np.array([self.station_mm]))[0])

    def track(self, along_reach_mm: float, distance_mm: float) -> SplineSurface:
        """Return the surface over (along, turn) `distance_mm` outside the skin, hand frame."""
        breadth, _ = self.ray.limb.half_axes(np.array([self.station_mm]))
        reach = along_reach_mm + abs(self.slope) * float(breadth[0]) + 1.0
        hand_from_finger = self.ray.hand_from_finger()

        def skin(station: Floats, turn: Floats) -> Floats:
            fraction = np.mod(self.fraction(turn), 1.0)
            return apply(hand_from_finger, self.ray.limb.skin_points(station, fraction))

        turns = np.linspace(-TURN_REACH, TURN_REACH, TURN_SITES)
        face = fit_surface(skin, self.station_mm + np.linspace(-reach, reach, STATION_SITES), turns)
        outward = distance_mm if self.is_over else -distance_mm  # normals point dorsally

        def points(along: Floats, turn: Floats) -> Floats:
            at = self.station_mm + along + self.slope * self.lateral_mm(turn), turn
            return face.points(*at) + outward * face.normals(*at)

        return fit_surface(points, np.linspace(-along_reach_mm, along_reach_mm, ROWS), turns)


@dataclass(frozen=True, eq=False)
class Weave:
    """The band's middle surface.

    surface : over (along, around), mm; `around` runs from the ulnar to the radial end
    arcs_mm : (n, 2) where `around` begins and ends on each passed finger, ulnar to radial
    turns : (n, 2) the same places as turns on the fingers, in the band's middle
    """

    surface: SplineSurface
    arcs_mm: Floats
    turns: Floats

    @property
    def length_mm(self) -> float:
        """Length from end to end, where `around` begins at 0."""
        return float(self.arcs_mm[-1, 1])


def weave(
    passes: Sequence[Pass], distance_mm: float, along_reach_mm: float, end_turns: tuple[float, float]
) -> Weave:
    """Return the middle surface of a band.

    passes : the fingers, ulnar to radial
    distance_mm : from the skin to the band's middle
    along_reach_mm : how far the surface reaches to either side of the band's middle line
    end_turns : turns at which the band ends on the outer fingers, ulnar and radial

    Raises ShapingError where the band cannot pass between two fingers.
    """
    tracks = [each.track(along_reach_mm, distance_mm) for each in passes]
    along = np.linspace(-along_reach_mm, along_reach_mm, ROWS)
    spans = _spans(passes, tracks, along, end_turns)
    rows = [
        _row(tracks, float(at), turns) for at, turns in zip(along, np.moveaxis(spans, -1, 0), strict=True)
    ]
    bounds = rows[ROWS // 2][1]
    beyond = 1.0
    around = np.linspace(
        bounds[0] - beyond, bounds[-1] + beyond, int(np.ceil((bounds[-1] - bounds[0]) / SAMPLE_MM / 2))
    )
    grid = np.array([curve(CubicSpline(bounds, own)(around)) for curve, own in rows])
    sites = {float(at): number for number, at in enumerate(along)}

    def points(at_along: Floats, at_around: Floats) -> Floats:
        number = np.array([sites[float(each)] for each in at_along])
        return grid[number, np.searchsorted(around, at_around)]

    surface = fit_surface(points, along, around)
    return Weave(surface, bounds.reshape(-1, 2), spans[:, :, ROWS // 2])


# --- where the band meets and leaves each finger ----------------------------------------------------------------


def _spans(
    passes: Sequence[Pass], tracks: Sequence[SplineSurface], along: Floats, end_turns: tuple[float, float]
) -> Floats:
    """Turns (n, 2, rows) between which each finger is followed."""
    n = len(tracks)
    touching = np.empty((n, 2, len(along)))
    touching[0, 0], touching[-1, 1] = end_turns[0], end_turns[1]
    for number in range(n - 1):
        pair = passes[number : number + 2]
        out, into = _touching_lines(pair, tracks[number : number + 2], along)
        touching[number, 1], touching[number + 1, 0] = out, into
    girths = np.array([each.girth_mm() for each in passes])
    blend, least = BLEND_MM / girths, LEAST_ARC_MM / girths
    spans = touching.copy()
    spans[:-1, 1] -= blend[:-1, None]
    spans[1:, 0] += blend[1:, None]
    for number in range(n):
        if (spans[number, 1] - spans[number, 0]).min() < least[number]:
            middle = touching[number].mean(axis=0)
            spans[number] = middle - least[number] / 2, middle + least[number] / 2
    spans[0, 0], spans[-1, 1] = end_turns[0], end_turns[1]
    return spans


def _touching_lines(
    pair: Sequence[Pass], tracks: Sequence[SplineSurface], along: Floats
) -> tuple[Floats, Floats]:
    """Turns (rows,) at which the line that touches both tracks leaves the first and meets the second."""
    sites = np.linspace(along[0], along[-1], TANGENT_ROWS)
    found = np.array([_touching_line(pair, tracks, float(at)) for at in sites])
    smooth = [np.polynomial.Polynomial.fit(sites, each, TANGENT_ORDER) for each in found.T]
    return np.asarray(smooth[0](along)), np.asarray(smooth[1](along))


def _touching_line(pair: Sequence[Pass], tracks: Sequence[SplineSurface], along: float) -> Floats:
    """Turns (2,) of the line that lies in both tangent planes and runs the band's way on both tracks."""
    leaving, meeting = np.linspace(-0.25, 0.42, TURN_GRID), np.linspace(-0.42, 0.25, TURN_GRID)
    at = np.full(TURN_GRID, along)
    first, second = (track.points(at, turns) for track, turns in zip(tracks, (leaving, meeting), strict=True))
    chords = second[None] - first[:, None]
    chords /= np.linalg.norm(chords, axis=2, keepdims=True)
    lift, run = [], []
    for track, turns, axes in zip(tracks, (leaving, meeting), ("ijk,ik->ij", "ijk,jk->ij"), strict=True):
        lift.append(np.einsum(axes, chords, track.normals(at, turns)))
        run.append(np.einsum(axes, chords, track.derivatives(at, turns)[1]))
    miss = np.where((run[0] > 0.0) & (run[1] > 0.0), np.hypot(*lift), np.inf)
    guess = np.unravel_index(int(np.argmin(miss)), miss.shape)

    def off(turns: Floats) -> Floats:
        """How far the chord leaves the two tangent planes, as sines."""
        place = np.array([along])
        ends = [track.points(place, turns[k : k + 1])[0] for k, track in enumerate(tracks)]
        chord = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        return np.array([track.normals(place, turns[k : k + 1])[0] @ chord for k, track in enumerate(tracks)])

    solved = root(off, np.array([leaving[guess[0]], meeting[guess[1]]]), tol=1e-9)
    if np.abs(off(solved.x)).max() > TANGENT_ERROR or np.abs(solved.x).max() > TURN_REACH:
        names = " and ".join(each.ray.limb.finger for each in pair)
        raise ShapingError(f"the band finds no way between {names} finger: they touch each other there")
    return np.asarray(solved.x)


# --- one line of the band ---------------------------------------------------------------------------------------


def _row(tracks: Sequence[SplineSurface], along: float, spans: Floats) -> tuple[CubicSpline, Floats]:
    """The band's line at one place along: a curve by its own length, and its length where arcs begin and end.

    spans : (n, 2) turns
    """
    pieces: list[Floats] = []
    for number, (track, (start, stop)) in enumerate(zip(tracks, spans, strict=True)):
        if number:
            pieces.append(
                _link(_End(tracks[number - 1], along, spans[number - 1, 1]), _End(track, along, start))
            )
        n = max(8, int(np.ceil(abs(stop - start) * 70.0 / SAMPLE_MM)))
        turns = np.linspace(start, stop, n)
        pieces.append(track.points(np.full(n, along), turns))
    points = np.vstack([pieces[0][:1], *(piece[1:] for piece in pieces)])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    ends = np.concatenate([[0], np.cumsum([len(piece) - 1 for piece in pieces])])
    curve = CubicSpline(length, points)
    return curve, length[ends]


class _End:
    """Place, direction and bend of a track's line at one turn."""

    def __init__(self, track: SplineSurface, along: float, turn: float) -> None:
        step = 1e-3
        at, turns = np.full(3, along), turn + step * np.array([-1.0, 0.0, 1.0])
        before, here, after = track.derivatives(at, turns)[1]
        self.place = track.points(at[:1], turns[1:2])[0]
        speed = np.linalg.norm(here)
        self.way = here / speed
        change = (after - before) / (2.0 * step)
        self.bend = (change - (change @ self.way) * self.way) / speed**2


def _link(start: _End, stop: _End) -> Floats:
    """Points (n, 3) of the smooth link between two arcs: the quintic with their places, directions and bends."""
    length = float(np.linalg.norm(stop.place - start.place))
    n = max(8, int(np.ceil(length / SAMPLE_MM)))
    t = np.linspace(0.0, 1.0, n + 1)[:, None]
    first = (start.place, length * start.way, length**2 * start.bend)
    last = (stop.place, length * stop.way, length**2 * stop.bend)
    out = (
        1 - 10 * t**3 + 15 * t**4 - 6 * t**5,
        t - 6 * t**3 + 8 * t**4 - 3 * t**5,
        (t**2 - 3 * t**3 + 3 * t**4 - t**5) / 2,
    )
    into = (
        10 * t**3 - 15 * t**4 + 6 * t**5,
        -4 * t**3 + 7 * t**4 - 3 * t**5,
        (t**3 - 2 * t**4 + t**5) / 2,
    )
    return np.asarray(
        sum(
            weight * value
            for weights, ends in ((out, first), (into, last))
            for weight, value in zip(weights, ends, strict=True)
        )
    )
