"""Loops as the CAD solid needs them: cut into arcs, with few samples to run curves through, and well apart.

Every loop is cut into two arcs, so that no face closes on itself and every edge is shared by exactly two faces. A
wrap-around pattern is cut across in two places where no opening lies.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.interpolate import BSpline, make_interp_spline

from print3d.errors import ShapingError
from print3d.geometry.spline import DEGREE
from print3d.geometry.types import Floats, Ints
from print3d.inputs.problems import Problem
from print3d.language.message import message
from print3d.shell.definition import ShellDefinition
from print3d.shell.pattern import Loop

Arc = tuple[int, int]
Cuts = tuple[float, float]

FIT_MM = 0.002
"""How far a curve may miss a sample that it does not run through: a third of the mesh's own chord error."""
BETWEEN_MM = 0.004
"""How far curves may part between samples; sewing bridges 0.01 mm."""
MOST_HALVINGS = 3
"""How often the spacing of samples is halved to keep to that; own choice."""
COARSEST = 8
"""A curve starts from one sample in eight, and more are kept where it misses those between; own choice."""
OVERLAP = 10
"""Samples repeated beyond either end of a loop, so that its ends do not show in the curve through them."""
TELLABLE_MM = 0.06
"""Rims closer than this to another loop may cross it between their samples: chords of the coarsest ones, on a forearm, cut off 0.03 mm
of each. Letters are polygons."""
CUT_MARGIN_MM = 0.3
"""A cut keeps this much farther from openings than their rims reach; own choice."""
CUT_CANDIDATES = 144
"""Places around, 2.5 degrees apart, where a wrap-around pattern may be cut; own choice."""


@dataclass(frozen=True, eq=False)
class Outline:
    """A loop of one face, as curves see it.

    points : (n, 2) mm, all samples
    step_mm : as in `Loop`
    arcs : the two arcs that the loop is cut into, in sample numbers; an arc may run past the last sample
    kept : (k,) numbers of the samples that curves run through, the ends of the arcs among them
    """

    points: Floats
    step_mm: float
    arcs: tuple[Arc, Arc]
    kept: Ints

    @property
    def numbers(self) -> Ints:
        """Kept sample numbers (m,), going on a little over both ends of the loop and of its arcs."""
        n, last = len(self.points), max(stop for _, stop in self.arcs)
        numbers = (n * np.arange(-1, last // n + 2)[:, None] + self.kept).ravel()
        first, stop = np.searchsorted(numbers, (0, last))
        return numbers[max(first - OVERLAP, 0) : stop + OVERLAP + 1]

    def at(self, numbers: Ints) -> Floats:
        """Return points (m, 2) at sample numbers that may lie whole turns away."""
        turns, within = np.divmod(numbers, len(self.points))
        return np.asarray(self.points[within] + turns[:, None] * np.array([0.0, self.step_mm]))

    def along_arc(self, arc: Arc) -> Floats:
        """Return all samples (m, 2) of an arc, both ends included."""
        return self.at(np.arange(arc[0], arc[1] + 1))

    def curve(self, values: Floats) -> BSpline:
        """Return the cubic over sample numbers through values (m, ...) given at `numbers`."""
        return make_interp_spline(self.numbers.astype(float), values, k=DEGREE)

    def shifted(self, around_mm: float) -> "Outline":
        """Return the loop moved around by a whole period."""
        return replace(self, points=self.points + [0.0, around_mm])


def followed(definition: ShellDefinition) -> ShellDefinition:
    """Return the definition with loops sampled so finely that curves follow both faces between the samples too.

    Where a thick wall lies over a knuckle its outer face turns more between two samples of a vent than sewing may bridge.
    """
    pattern = definition.pattern
    boundary, holes = (
        tuple(_followed(definition, loop) for loop in loops) for loops in (pattern.boundary, pattern.holes)
    )
    return replace(definition, pattern=replace(pattern, boundary=boundary, holes=holes))


def _followed(definition: ShellDefinition, loop: Loop) -> Loop:
    for _ in range(MOST_HALVINGS):
        points = definition.inset(loop, definition.rim_radius_mm)
        n = len(points)
        every = Outline(points, loop.step_mm, _arcs(loop, None), np.arange(n))
        numbers, between = every.numbers, np.arange(n) + 0.5
        at = every.at(numbers), every.curve(every.at(numbers))(between)
        faces = (definition.inner, definition.outer)
        misses = (every.curve(face.points(*at[0].T))(between) - face.points(*at[1].T) for face in faces)
        if max(float(np.linalg.norm(miss, axis=1).max()) for miss in misses) <= BETWEEN_MM:
            break
        samples = replace(every, points=loop.points)
        finer = samples.curve(samples.at(numbers))(np.arange(2 * n) / 2)
        loop = Loop(loop.kind, finer, loop.step_mm)
    return loop


def rim_outline(definition: ShellDefinition, loop: Loop, grid: Floats, cuts: Cuts | None) -> Outline:
    """Return the outline of both faces at a loop whose rim is `grid` (rows, n, 3)."""
    points = definition.inset(loop, definition.rim_radius_mm)
    return _thinned(Outline(points, loop.step_mm, _arcs(loop, cuts), np.arange(len(points))), grid)


def letter_outline(mark: Loop, grid: Floats) -> Outline:
    """Return the outline of a letter whose side wall is `grid` (rows, n, 3)."""
    return _thinned(Outline(mark.points, 0.0, _arcs(mark, None), np.arange(len(mark.points))), grid)


def cuts_across(definition: ShellDefinition) -> Cuts | None:
    """Return two places around where a wrap-around pattern can be cut without meeting an opening or a letter.

    None for a pattern that does not wrap around. Raises ShapingError if openings leave no such place.
    """
    pattern, margin = definition.pattern, definition.rim_radius_mm + CUT_MARGIN_MM
    period = pattern.period_mm
    if period is None:
        return None
    places = (np.arange(CUT_CANDIDATES) / CUT_CANDIDATES - 0.5) * period
    room = np.full(CUT_CANDIDATES, period)
    for loop in (*pattern.holes, *pattern.marks):
        low, high = loop.points[:, 1].min(), loop.points[:, 1].max()
        apart = np.abs(_wrapped(places - (low + high) / 2, period)) - (high - low) / 2
        room = np.minimum(room, apart - margin)
    free = np.flatnonzero(room > 0.0)
    if len(free) < 2:
        raise ShapingError(message("refusals.shell.openings_all_around", strip_mm=2 * margin))
    # far from each other and from openings: sewing would join a cut to a rim that runs close beside it
    first, second = max(
        ((a, b) for a in free for b in free if a < b),
        key=lambda pair: min(
            places[pair[1]] - places[pair[0]],
            period - places[pair[1]] + places[pair[0]],
            2 * room[pair[0]],
            2 * room[pair[1]],
        ),
    )
    return float(places[first]), float(places[second])


def refuse_crossings(definition: ShellDefinition) -> None:
    """Raise ShapingError if two loops meet once they are cut back by the rim radius.

    So do loops that all but meet: faces would cross themselves.
    """
    pattern, radius = definition.pattern, definition.rim_radius_mm
    loops = (*pattern.rimmed, *pattern.marks)
    turns = (0.0,) if pattern.period_mm is None else (-pattern.period_mm, 0.0, pattern.period_mm)
    owners = np.repeat(np.arange(len(loops)), len(turns))
    lines = [
        _line(loop, loop.points if loop.kind == "mark" else definition.inset(loop, radius), turn)
        for loop in loops
        for turn in turns
    ]
    # guard: rims that cross between their samples
    reach = np.array([0.0 if loops[owner].kind == "mark" else TELLABLE_MM for owner in owners])
    pairs = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=reach).T
    for a, b in pairs[owners[pairs[:, 0]] != owners[pairs[:, 1]]]:
        one, other = loops[owners[a]], loops[owners[b]]
        place = shapely.shortest_line(lines[a], lines[b]).interpolate(0.5, normalized=True)
        between = _distance(one, other, turns)
        needed = sum(radius for loop in (one, other) if loop.kind != "mark") + reach[a]
        wanted = message(
            "refusals.shell.too_close",
            one=message(f"refusals.shell.loop.{one.kind}"),
            other=message(f"refusals.shell.loop.{other.kind}"),
            along_mm=place.x,
            around_mm=place.y,
            between_mm=between,
            needed_mm=needed,
        )
        raise ShapingError(Problem("orthosis.rim_radius_mm", radius, wanted))


def _line(loop: Loop, points: Floats, turn: float = 0.0) -> shapely.LineString:
    """A loop's points, closed (or brought to the end of its period) and moved around by a turn."""
    return shapely.LineString(np.vstack([points, points[:1] + [0.0, loop.step_mm]]) + [0.0, turn])


def _distance(one: Loop, other: Loop, turns: Sequence[float]) -> float:
    return min(float(_line(one, one.points, turn).distance(_line(other, other.points))) for turn in turns)


def _arcs(loop: Loop, cuts: Cuts | None) -> tuple[Arc, Arc]:
    """The two arcs of a loop: halves, or for an edge of a wrap-around pattern the pieces between the cuts."""
    n = len(loop.points)
    if loop.step_mm == 0.0 or cuts is None:
        return (0, n // 2), (n // 2, n)
    period = abs(loop.step_mm)
    first, second = (int(np.argmin(np.abs(_wrapped(loop.points[:, 1] - cut, period)))) for cut in cuts)
    if loop.step_mm < 0.0:
        first, second = second, first
    return (first, second if second > first else second + n), (second, first if first > second else first + n)


def _wrapped(around: Floats, period: float) -> Floats:
    """Differences brought to the nearest turn, within half a period."""
    return around - period * np.round(around / period)


def _thinned(every: Outline, grid: Floats) -> Outline:
    """The outline with few kept samples, of which curves miss none by `FIT_MM`.

    Curves run in the plane and along the grid's rows.
    """
    n = len(every.points)

    def columns(numbers: Ints) -> Floats:
        return np.hstack([every.at(numbers), *grid[:, numbers % n]])

    outline = replace(every, kept=_evenly_kept(every.arcs, n))
    while True:
        miss = outline.curve(columns(outline.numbers))(np.arange(n)) - columns(np.arange(n))
        missed = np.flatnonzero(np.abs(miss).max(axis=1) > FIT_MM)
        if len(missed) == 0:
            return outline
        kept = np.concatenate([outline.kept[-1:] - n, outline.kept, outline.kept[:1] + n])
        after = np.searchsorted(kept, missed)
        middle = (kept[after - 1] + kept[after]) // 2
        outline = replace(outline, kept=np.union1d(outline.kept, middle % n))


def _evenly_kept(arcs: Sequence[Arc], n: int) -> Ints:
    """One in `COARSEST` samples of each arc, and its ends."""
    parts = [
        np.linspace(start, stop, -((start - stop) // COARSEST) + 1).round().astype(np.int64)
        for start, stop in arcs
    ]
    return np.unique(np.concatenate(parts) % n)
