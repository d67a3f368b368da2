"""The CAD solid of a shell: the same surfaces and loops as the mesh, as trimmed B-spline faces sewn to rim faces.

Every loop is cut into two arcs, so that no face closes on itself and every edge is shared by exactly two faces. A
wrap-around pattern is cut across, where no opening lies, into two sectors.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import cadquery as cq
import numpy as np
import shapely
from cadquery.occ_impl.shapes import shell, solid
from numpy.typing import NDArray
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepLib import BRepLib
from OCP.Geom import Geom_BSplineSurface
from OCP.Geom2d import Geom2d_BSplineCurve
from OCP.gp import gp_Pnt, gp_Pnt2d
from OCP.TColgp import TColgp_Array1OfPnt2d, TColgp_Array2OfPnt
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal
from scipy.interpolate import make_interp_spline

from print3d.errors import ShapingError
from print3d.geometry.spline import DEGREE, SplineSurface
from print3d.shell.definition import ShellDefinition
from print3d.shell.pattern import Loop

Floats = NDArray[np.float64]
Arc = tuple[int, int]

SEW_MM = 0.01
"""Edges of neighbouring faces interpolate the same points and agree far better; this is what sewing may bridge."""
FACE_MM = 1e-6
OVERLAP = 10
"""Samples repeated beyond either end of a loop, so that its ends do not show in the curve through them."""
CUT_MARGIN_MM = 0.3
SECTOR_BEYOND_MM = 1.0
CUT_CANDIDATES = 144


@dataclass(frozen=True, eq=False)
class Outline:
    """A loop of one face and the arcs that it is cut into, in sample numbers; an arc may run past the last sample."""

    points: Floats
    step_mm: float
    arcs: tuple[Arc, Arc]

    def extended(self) -> tuple[Floats, Floats]:
        """Return sample numbers (k,) and points (k, 2), going on over both ends by whole turns or a little."""
        n = len(self.points)
        numbers = np.arange(-OVERLAP, max(stop for _, stop in self.arcs) + OVERLAP + 1)
        turns = np.floor_divide(numbers, n)
        return numbers.astype(float), self.points[numbers % n] + turns[:, None] * np.array(
            [0.0, self.step_mm]
        )

    def shifted(self, around_mm: float) -> "Outline":
        """Return the loop moved around by a whole period."""
        return Outline(self.points + [0.0, around_mm], self.step_mm, self.arcs)


@contextmanager
def stage(name: str, **dimensions: float) -> Iterator[None]:
    """Name the modelling step and its dimensions in any failure of the kernel inside it."""
    try:
        yield
    except ShapingError:
        raise
    except Exception as error:  # the kernel's exceptions have no common base
        given = ", ".join(f"{key}={value:g}" for key, value in dimensions.items())
        raise ShapingError(f"{name} failed ({given}): {error}") from error


def build_solid(definition: ShellDefinition) -> cq.Solid:
    """Return the shell as one valid, closed solid (mm, limb frame).

    Raises ShapingError if the kernel cannot make it; the message names the step.
    """
    pattern = definition.pattern
    cuts = _cuts(definition)
    rimmed = [(loop, _arcs(loop, cuts)) for loop in pattern.rimmed]
    inset = [Outline(loop.inset(definition.rim_radius_mm), loop.step_mm, arcs) for loop, arcs in rimmed]
    with stage("trim the faces", loops=len(rimmed) + len(pattern.marks)):
        n_boundary = len(pattern.boundary)
        faces = _trimmed(definition.inner, inset[:n_boundary], inset[n_boundary:], cuts)
        faces += _outer_side(definition, inset, cuts)
    with stage("round the rims", radius_mm=definition.rim_radius_mm, loops=len(rimmed)):
        for loop, arcs in rimmed:
            faces += _strip(definition.rim_grid(loop), arcs)
    with stage("raise the letters", height_mm=definition.mark_height_mm, contours=len(pattern.marks)):
        for mark in pattern.marks:
            faces += _strip(_letter_wall(definition, mark), _arcs(mark, cuts))
    with stage("sew the faces", faces=len(faces), tolerance_mm=SEW_MM):
        sewn = solid(shell(*faces, tol=SEW_MM))
    return one_solid(sewn, "sewing the faces")


def one_solid(shape: cq.Shape, after: str) -> cq.Solid:
    """Return the only solid in `shape`; raise ShapingError for empty, invalid or split results."""
    solids = shape.Solids()
    if len(solids) != 1:
        raise ShapingError(f"{after} left {len(solids)} solids, expected 1")
    (only,) = solids
    if only.Volume() < 0.0:
        only = cq.Solid(only.wrapped.Reversed())
    if not only.isValid() or only.Volume() <= 0.0:
        raise ShapingError(f"{after} left an invalid solid")
    return only


# --- where loops and wrap-around patterns are cut ---------------------------------------------------------------


def _arcs(loop: Loop, cuts: tuple[float, float] | None) -> tuple[Arc, Arc]:
    """The two arcs of a loop: halves, or for an edge of a wrap-around pattern the pieces between the cuts."""
    n = len(loop.points)
    if loop.step_mm == 0.0 or cuts is None:
        return (0, n // 2), (n // 2, n)
    period = abs(loop.step_mm)
    first, second = (int(np.argmin(np.abs(_wrapped(loop.points[:, 1] - cut, period)))) for cut in cuts)
    if loop.step_mm < 0.0:
        first, second = second, first
    return (first, second if second > first else second + n), (second, first if first > second else first + n)


def _cuts(definition: ShellDefinition) -> tuple[float, float] | None:
    """Two places around where a wrap-around pattern can be cut across without meeting an opening or a letter.

    Raises ShapingError if openings leave no such place.
    """
    pattern = definition.pattern
    period = pattern.period_mm
    if period is None:
        return None
    places = (np.arange(CUT_CANDIDATES) / CUT_CANDIDATES - 0.5) * period
    free = np.ones(CUT_CANDIDATES, dtype=bool)
    for loop in (*pattern.holes, *pattern.marks):
        middle = (loop.points[:, 1].min() + loop.points[:, 1].max()) / 2
        half = np.ptp(loop.points[:, 1]) / 2 + definition.rim_radius_mm + CUT_MARGIN_MM
        free &= np.abs(_wrapped(places - middle, period)) > half
    if free.sum() < 2:
        raise ShapingError(
            "a wrap-around pattern has openings all around, its solid cannot be cut into sectors"
        )
    chosen = places[free]
    first, second = max(
        ((a, b) for a in chosen for b in chosen if a < b),
        key=lambda pair: min(pair[1] - pair[0], period - pair[1] + pair[0]),
    )
    return float(first), float(second)


def _wrapped(around: Floats, period: float) -> Floats:
    """Differences brought to the nearest turn, within half a period."""
    return around - period * np.round(around / period)


# --- faces ------------------------------------------------------------------------------------------------------


def _outer_side(
    definition: ShellDefinition, inset: Sequence[Outline], cuts: tuple[float, float] | None
) -> list[cq.Face]:
    """The outer face, its islands inside letters (the middle of an O), and the tops of the letters."""
    pattern = definition.pattern
    letters = {mark: Outline(mark.points, 0.0, _arcs(mark, None)) for mark in pattern.marks}
    strokes = [mark for mark in letters if shapely.LinearRing(mark.points).is_ccw]
    counters = [mark for mark in letters if mark not in strokes]
    n_boundary = len(pattern.boundary)
    holes = [*inset[n_boundary:], *(letters[mark] for mark in strokes)]
    faces = _trimmed(definition.outer, inset[:n_boundary], holes, cuts)
    for mark in counters:
        faces += _trimmed(definition.outer, [letters[mark]], [], None)
    top = definition.face_at_depth(definition.wall_mm + definition.mark_height_mm)
    for mark in strokes:
        shape = shapely.Polygon(mark.points)
        inside = [
            letters[counter] for counter in counters if shape.contains(shapely.Point(counter.points[0]))
        ]
        faces += _trimmed(top, [letters[mark]], inside, None)
    return faces


def _trimmed(
    face: SplineSurface,
    boundary: Sequence[Outline],
    holes: Sequence[Outline],
    cuts: tuple[float, float] | None,
) -> list[cq.Face]:
    """Faces inside the boundary, less the holes: one, or the two sectors of a wrap-around pattern."""
    if cuts is not None:
        return _sectors(face, boundary, holes)
    surface = _surface(face.knots_along, face.knots_around, face.poles)
    outer = [_arc_curve(boundary[0], arc) for arc in boundary[0].arcs]
    return [
        _natural_face(surface).trim(_wire(surface, outer), *(_closed_wire(surface, hole) for hole in holes))
    ]


def _sectors(face: SplineSurface, boundary: Sequence[Outline], holes: Sequence[Outline]) -> list[cq.Face]:
    """Two faces, each between an arc of the distal edge and one of the proximal edge, closed by straight cuts.

    Each lies on its own piece of the surface: on one that covers a place twice, sewing would lose the way.
    """
    period = face.period_mm or 0.0
    knots_around, poles = _three_periods(face)
    proximal, distal = sorted(boundary, key=lambda edge: edge.step_mm)
    faces = []
    for number in range(2):
        outward = _points_of(distal, distal.arcs[number])
        back = _points_of(proximal, proximal.arcs[number])
        shift = period * np.round((outward[-1, 1] - back[0, 1]) / period)
        back = back + [0.0, shift]
        pieces = [
            _arc_curve(distal, distal.arcs[number]),
            _segment(outward[-1], back[0]),
            _arc_curve(proximal.shifted(shift), proximal.arcs[number]),
            _segment(back[-1], outward[0]),
        ]
        low, high = float(min(outward[0, 1], back[1, 1])), float(max(outward[1, 1], back[0, 1]))
        surface = _surface(face.knots_along, knots_around, poles)
        ends = float(face.knots_along[0]), float(face.knots_along[-1])
        surface.Segment(*ends, low - SECTOR_BEYOND_MM, high + SECTOR_BEYOND_MM)
        middle, reach = (low + high) / 2, (high - low) / 2
        wires = []
        for hole in holes:
            at = float(np.mean(hole.points[:, 1]))
            turned = period * np.round((middle - at) / period)
            if abs(at + turned - middle) < reach:
                wires.append(_closed_wire(surface, hole.shifted(turned)))
        faces.append(_natural_face(surface).trim(_wire(surface, pieces), *wires))
    return faces


def _natural_face(surface: Geom_BSplineSurface) -> cq.Face:
    """The whole surface as a face."""
    return cq.Face(BRepBuilderAPI_MakeFace(surface, FACE_MM).Face())


def _strip(grid: Floats, arcs: tuple[Arc, Arc]) -> list[cq.Face]:
    """Faces through a grid of points (rows, n, 3) that closes around a loop, one for each arc."""
    n_rows, n, _ = grid.shape
    numbers = np.arange(-OVERLAP, max(stop for _, stop in arcs) + OVERLAP + 1)
    along_loop = make_interp_spline(numbers.astype(float), np.swapaxes(grid[:, numbers % n], 0, 1), k=DEGREE)
    heights = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(grid, axis=0), axis=2).mean(axis=1))])
    degree = min(DEGREE, n_rows - 1)
    across = make_interp_spline(heights, np.swapaxes(along_loop.c, 0, 1), k=degree)
    poles = np.swapaxes(across.c, 0, 1)
    faces = []
    for start, stop in arcs:
        surface = _surface(along_loop.t, across.t, poles, (DEGREE, degree))
        surface.Segment(float(start), float(stop), float(heights[0]), float(heights[-1]))
        faces.append(_natural_face(surface))
    return faces


def _letter_wall(definition: ShellDefinition, mark: Loop) -> Floats:
    """The side wall of a letter as a grid (2, n, 3), outer face to letter top."""
    along, around = mark.points.T
    depths = (definition.wall_mm, definition.wall_mm + definition.mark_height_mm)
    return np.array([definition.points(along, around, np.full(len(along), depth)) for depth in depths])


# --- kernel geometry --------------------------------------------------------------------------------------------


def _points_of(outline: Outline, arc: Arc) -> Floats:
    """First and last point (2, 2) of an arc."""
    n = len(outline.points)
    return np.array([outline.points[at % n] + [0.0, outline.step_mm * (at // n)] for at in arc])


def _closed_wire(surface: Geom_BSplineSurface, outline: Outline) -> cq.Wire:
    return _wire(surface, [_arc_curve(outline, arc) for arc in outline.arcs])


def _wire(surface: Geom_BSplineSurface, pieces: Sequence[Geom2d_BSplineCurve]) -> cq.Wire:
    """A wire on a surface from curves of the pattern plane."""
    builder = BRepBuilderAPI_MakeWire()
    for piece in pieces:
        edge = BRepBuilderAPI_MakeEdge(piece, surface).Edge()
        BRepLib.BuildCurves3d_s(edge)
        builder.Add(edge)
    return cq.Wire(builder.Wire())


def _arc_curve(outline: Outline, arc: Arc) -> Geom2d_BSplineCurve:
    """The cubic through an arc's samples, part of the one through the whole loop."""
    numbers, points = outline.extended()
    spline = make_interp_spline(numbers, points, k=DEGREE)
    curve = _curve(spline.t, spline.c, DEGREE)
    curve.Segment(float(arc[0]), float(arc[1]))
    return curve


def _segment(start: Floats, stop: Floats) -> Geom2d_BSplineCurve:
    return _curve(np.array([0.0, 0.0, 1.0, 1.0]), np.array([start, stop]), 1)


def _curve(knots: Floats, poles: Floats, degree: int) -> Geom2d_BSplineCurve:
    points = TColgp_Array1OfPnt2d(1, len(poles))
    for number, (along, around) in enumerate(poles, start=1):
        points.SetValue(number, gp_Pnt2d(float(along), float(around)))
    return Geom2d_BSplineCurve(points, *_knots(knots), degree)


def _surface(
    knots_first: Floats, knots_second: Floats, poles: Floats, degrees: tuple[int, int] = (DEGREE, DEGREE)
) -> Geom_BSplineSurface:
    """A kernel surface from knots and poles (n, m, 3)."""
    points = TColgp_Array2OfPnt(1, poles.shape[0], 1, poles.shape[1])
    for row, line in enumerate(poles, start=1):
        for column, (x, y, z) in enumerate(line, start=1):
            points.SetValue(row, column, gp_Pnt(float(x), float(y), float(z)))
    (first, times_first), (second, times_second) = _knots(knots_first), _knots(knots_second)
    return Geom_BSplineSurface(points, first, second, times_first, times_second, *degrees)


def _knots(knots: Floats) -> tuple[TColStd_Array1OfReal, TColStd_Array1OfInteger]:
    """Distinct knots and how often each stands."""
    distinct, times = np.unique(knots, return_counts=True)
    values, counts = TColStd_Array1OfReal(1, len(distinct)), TColStd_Array1OfInteger(1, len(distinct))
    for number, (value, count) in enumerate(zip(distinct, times, strict=True), start=1):
        values.SetValue(number, float(value))
        counts.SetValue(number, int(count))
    return values, counts


def _three_periods(face: SplineSurface) -> tuple[Floats, Floats]:
    """Knots around and poles of a periodic surface, over the period before, the base period and the one after."""
    period = face.period_mm or 0.0
    distinct = face.knots_around[DEGREE:-DEGREE]
    n = len(distinct) - 1
    numbers = np.arange(-n - DEGREE, 2 * n + DEGREE + 1)
    knots = distinct[numbers % n] + period * (numbers // n)
    return knots, face.poles[:, np.arange(-n, 2 * n + DEGREE) % n]
