r"""The middle surface of a yoke band, which runs over and under fingers held side by side.

Seen along the fingers, the band is a belt: it follows each finger a little outside the skin and runs to the next along a line that
touches both. Fingers lie at different angles, so that line is sought in space: it lies in the tangent planes of both.

         over          under          over
        .----.                       .----.
       ( ring )\   ( middle )     /( index )
        '----'  \_____'----'______/  '----'

On a finger the band follows a surface outside the skin: `along` distally, `turn` as a share of the girth from the middle of the back (or palm)
side, growing radially. The band's normals point dorsally everywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, PchipInterpolator

from print3d.errors import ShapingError
from print3d.forms.touching_lines import TANGENT_ORDER, TURN_REACH, touching_from, touching_lines
from print3d.geometry.frames import apply
from print3d.geometry.spline import SplineSurface, fit_surface
from print3d.geometry.types import Floats
from print3d.language.message import Message, message
from print3d.limb.four_fingers import Ray

STATION_SITES = 15
"""Fitting sites along a finger under a band; own choice."""
TURN_SITES = 61
"""Fitting sites around a finger, about 1 mm apart; own choice."""
ROWS = 11
"""Lines along which the band's surface is worked out, its middle line among them; own choice."""
BLEND_MM = 3.5
"""The band leaves a finger this much before the touching line does, so that its bend fades instead of ending at once."""
LEAST_ARC_MM = 1.5
"""A finger that the straight belt would hardly touch is still touched over this length."""
SAMPLE_MM = 0.35
"""Spacing of samples along the band; own choice."""
USUAL_GIRTH_MM = 70.0
"""Girth by which arcs are given their samples: a large finger's, so that they lie close enough; own choice."""
TURN_STEP = 1e-3
"""Step of the differences that give a path's bend; own choice."""


@dataclass(frozen=True, eq=False)
class FingerCrossing:
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

    def path_over(self, along_reach_mm: float, distance_mm: float) -> SplineSurface:
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
class YokeBand:
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


def yoke_band(
    crossings: Sequence[FingerCrossing],
    distance_mm: float,
    along_reach_mm: float,
    end_turns: tuple[float, float],
) -> YokeBand:
    """Return the middle surface of a band.

    passes : the fingers, ulnar to radial
    distance_mm : from the skin to the band's middle
    along_reach_mm : how far the surface reaches to either side of the band's middle line
    end_turns : turns at which the band ends on the outer fingers, ulnar and radial

    Raises ShapingError where the band cannot pass between two fingers.
    """
    paths = [each.path_over(along_reach_mm, distance_mm) for each in crossings]
    along = np.linspace(-along_reach_mm, along_reach_mm, ROWS)
    spans = _spans(crossings, paths, along, end_turns)
    rows = [_row(paths, float(at), spans, row) for row, at in enumerate(along)]
    bounds = rows[ROWS // 2][1]
    beyond = 1.0
    around = np.linspace(
        bounds[0] - beyond, bounds[-1] + beyond, int(np.ceil((bounds[-1] - bounds[0]) / SAMPLE_MM / 2))
    )
    grid = np.array([curve(PchipInterpolator(bounds, own)(around)) for curve, own in rows])
    sites = {float(at): number for number, at in enumerate(along)}

    def points(at_along: Floats, at_around: Floats) -> Floats:
        number = np.array([sites[float(each)] for each in at_along])
        return grid[number, np.searchsorted(around, at_around)]

    surface = fit_surface(points, along, around)
    return YokeBand(surface, bounds.reshape(-1, 2), spans.followed[:, :, ROWS // 2])


# --- where the band meets and leaves each finger ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Spans:
    """Turns on each finger, at every place along: (n, 2, rows), where the band comes and where it goes.

    touching : where the straight lines to the fingers beside touch
    followed : between which the finger is followed, a little less
    is_long : (n,) whether a finger is followed long enough for the band's bend to fade before and behind
    """

    touching: Floats
    followed: Floats
    is_long: NDArray[np.bool_]


def _spans(
    crossings: Sequence[FingerCrossing],
    paths: Sequence[SplineSurface],
    along: Floats,
    end_turns: tuple[float, float],
) -> _Spans:
    n = len(paths)
    touching = np.empty((n, 2, len(along)))
    touching[0, 0], touching[-1, 1] = end_turns
    for number in range(n - 1):
        pair = crossings[number : number + 2]
        found = touching_lines(paths[number : number + 2], along)
        if found is None:
            raise ShapingError(_refusal(*pair))
        out, into = found
        touching[number, 1], touching[number + 1, 0] = out, into
    least = LEAST_ARC_MM / np.array([each.girth_mm() for each in crossings])
    is_led = np.zeros(n, dtype=bool)
    while (short := ((touching[:, 1] - touching[:, 0]).min(axis=1) < 2.0 * least) & ~is_led).any():
        for number in map(int, np.flatnonzero(short)):
            touching[number] = _at_least_apart(touching[number], float(least[number]))
            is_led[number] = True
        for number in map(int, np.flatnonzero(short)):
            _lead_beside(crossings, paths, along, touching, (number, is_led))
    blend = BLEND_MM / LEAST_ARC_MM * least
    half_room = ((touching[:, 1] - touching[:, 0]).min(axis=1) - least) / 2
    half_room = np.where(is_led, 0.0, np.maximum(half_room, 0.0))
    followed = touching.copy()
    followed[:-1, 1] -= np.minimum(blend, half_room)[:-1, None]
    followed[1:, 0] += np.minimum(blend, half_room)[1:, None]
    return _Spans(touching, followed, half_room >= blend)


def _at_least_apart(come_and_go: Floats, least: float) -> Floats:
    """Turns (2, rows) where the band comes and goes, moved apart about their middle.

    They are moved smoothly, where they lie near each other or are reversed.
    """
    middle, half = come_and_go.mean(axis=0), (come_and_go[1] - come_and_go[0]) / 2
    half = (half + np.hypot(half, 2.0 * least)) / 2
    return np.array([middle - half, middle + half])


def _lead_beside(
    crossings: Sequence[FingerCrossing],
    paths: Sequence[SplineSurface],
    along: Floats,
    touching: Floats,
    place: tuple[int, NDArray[np.bool_]],
) -> None:
    """Let the lines from a led finger touch the fingers beside it.

    To a led finger the belt must be led; the fingers beside it are those that it meets by itself.
    """
    led, is_led = place
    for beside, side in ((led - 1, 1), (led + 1, 0)):
        if 0 <= beside < len(paths) and not is_led[beside]:
            own = paths[led].points(along, touching[led, 1 - side])
            found = [
                touching_from(point, paths[beside], float(at), float(turn))
                for point, at, turn in zip(own, along, touching[beside, side], strict=True)
            ]
            if np.isnan(found).any():
                raise ShapingError(_refusal(crossings[led], crossings[beside]))
            touching[beside, side] = np.polynomial.Polynomial.fit(along, found, TANGENT_ORDER)(along)


def _refusal(first: FingerCrossing, second: FingerCrossing) -> Message:
    return message(
        "refusals.shape.no_way",
        one=message(f"common.finger.{first.ray.limb.finger}"),
        other=message(f"common.finger.{second.ray.limb.finger}"),
        spread_deg=abs(first.ray.spread_deg - second.ray.spread_deg),
    )


# --- one line of the band ---------------------------------------------------------------------------------------


def _row(paths: Sequence[SplineSurface], along: float, spans: _Spans, row: int) -> tuple[CubicSpline, Floats]:
    """The band's line at one place along: a curve by its own length.

    Second comes its length where arcs begin and end.
    """
    turns, pieces = spans.followed[:, :, row], list[Floats]()
    for number, (path, (start, stop)) in enumerate(zip(paths, turns, strict=True)):
        if number:
            pieces.append(_way_over(paths, along, spans, (number, row)))
        n = max(8, int(np.ceil(abs(stop - start) * USUAL_GIRTH_MM / SAMPLE_MM)))
        pieces.append(path.points(np.full(n, along), np.linspace(start, stop, n)))
    points = np.vstack([pieces[0][:1], *(piece[1:] for piece in pieces)])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    ends = np.concatenate([[0], np.cumsum([len(piece) - 1 for piece in pieces])])
    return CubicSpline(length, points), length[ends]


def _way_over(paths: Sequence[SplineSurface], along: float, spans: _Spans, place: tuple[int, int]) -> Floats:
    """Points (n, 3) from one finger to the next, bent off smoothly at both ends.

    Between the ends they run straight along the touching line, if it is long enough.
    """
    number, row = place
    first, second = paths[number - 1], paths[number]
    start = _End.of(first, along, float(spans.followed[number - 1, 1, row]))
    stop = _End.of(second, along, float(spans.followed[number, 0, row]))
    lines = spans.touching[number - 1, 1], spans.touching[number, 0]
    at = np.linspace(-1.0, 1.0, ROWS) * first.knots_along[-1]
    chords = second.points(at, lines[1]) - first.points(at, lines[0])
    shortest = float(np.linalg.norm(chords, axis=1).min())
    is_long = spans.is_long[number - 1 : number + 1]
    if shortest < 2.0 * BLEND_MM + LEAST_ARC_MM or not is_long.any():
        return _link(start, stop)
    touched = first.points(np.array([along]), lines[0][row : row + 1])[0]
    length = float(np.linalg.norm(chords[row]))
    way = chords[row] / length
    blend = np.where(is_long, BLEND_MM, length / 2.0)
    leave, arrive = (_End(touched + far * way, way, np.zeros(3)) for far in (blend[0], length - blend[1]))
    straight = np.linspace(leave.place, arrive.place, max(4, int(np.ceil(length / SAMPLE_MM))))
    return np.vstack([_link(start, leave), straight[1:-1], _link(arrive, stop)])


@dataclass(frozen=True, eq=False)
class _End:
    """Place, direction and bend (3,) of a line at one end."""

    place: Floats
    way: Floats
    bend: Floats

    @classmethod
    def of(cls, path: SplineSurface, along: float, turn: float) -> "_End":
        """Return those of a path's line."""
        at, turns = np.full(3, along), turn + TURN_STEP * np.array([-1.0, 0.0, 1.0])
        before, here, after = path.derivatives(at, turns)[1]
        speed = np.linalg.norm(here)
        way, change = here / speed, (after - before) / (2.0 * TURN_STEP)
        return cls(path.points(at[:1], turns[1:2])[0], way, (change - (change @ way) * way) / speed**2)


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
