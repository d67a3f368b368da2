"""The CAD solid of a shell: trimmed B-spline faces sewn to rim faces.

Its surfaces and loops are those of the mesh.
CadQuery trims, sews and measures; the kernel itself is asked only for B-splines with given knots and poles and for
edges on a surface, which CadQuery does not offer.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

import cadquery as cq
import numpy as np
import shapely
from cadquery.occ_impl.shapes import shell, solid
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
from print3d.geometry.types import Floats
from print3d.language.message import Message, message
from print3d.shell.definition import ShellDefinition
from print3d.shell.outlines import (
    Arc,
    Outline,
    cuts_across,
    followed,
    letter_outline,
    refuse_crossings,
    rim_outline,
)
from print3d.shell.pattern import Loop

SEW_MM = 0.01
"""Edges of neighbouring faces agree far better (`outlines.FIT_MM`); this is what sewing may bridge."""
ROWS_CHORD_MM = 0.012
"""Rows of a rim as far apart as for this chord error: a cubic through them keeps to the quarter circle within 0.002 mm."""
FACE_MM = 1e-6
"""The kernel's tolerance for a face that is a whole surface; ten times its least."""
BEYOND_MM = 1.0
"""A piece of a surface reaches this far beyond the face that is trimmed from it."""


@contextmanager
def stage(step: Message, **dimensions: float) -> Iterator[None]:
    """Name the modelling step and its dimensions in any failure of the kernel inside it."""
    try:
        yield
    except ShapingError:
        raise
    # guard: the step that failed
    except Exception as error:  # the kernel's exceptions have no common base
        given = ", ".join(f"{key}={value:g}" for key, value in dimensions.items())
        raise ShapingError(
            message("refusals.solid.failed", step=step, given=given, reason=str(error))
        ) from error


def build_solid(definition: ShellDefinition) -> cq.Solid:
    """Return the shell as one valid, closed solid (mm, limb frame).

    Raises ShapingError if two loops come too close for their rims, if openings leave no place to cut a wrap-around
    pattern, or if the kernel fails; the message then names the step.
    """
    # guard: loops that cross
    refuse_crossings(definition)
    definition = followed(definition)
    pattern = definition.pattern
    cuts = cuts_across(definition)
    coarse = replace(definition, facets=replace(definition.facets, chord_error_mm=ROWS_CHORD_MM))
    rims = [coarse.rim_grid(loop) for loop in pattern.rimmed]
    sides = [_letter_side(definition, mark) for mark in pattern.marks]
    outlines = [rim_outline(definition, *pair, cuts) for pair in zip(pattern.rimmed, rims, strict=True)]
    letters = [letter_outline(*pair) for pair in zip(pattern.marks, sides, strict=True)]
    with stage(message("refusals.solid.step.trim"), loops=len(outlines) + len(letters)):
        edges, holes = outlines[: len(pattern.boundary)], outlines[len(pattern.boundary) :]
        faces = _trimmed(definition.inner, edges, holes)
        faces += _outer_side(definition, edges, holes, letters)
    with stage(message("refusals.solid.step.round"), radius_mm=definition.rim_radius_mm, loops=len(rims)):
        for outline, grid in zip(outlines, rims, strict=True):
            faces += _strip(outline, _evened(grid))
    with stage(
        message("refusals.solid.step.letters"), height_mm=definition.mark_height_mm, contours=len(sides)
    ):
        for outline, grid in zip(letters, sides, strict=True):
            faces += _strip(outline, grid)
    with stage(message("refusals.solid.step.sew"), faces=len(faces), tolerance_mm=SEW_MM):
        sewn = solid(shell(*faces, tol=SEW_MM))
    return one_solid(sewn, message("refusals.solid.step.sew"))


def one_solid(shape: cq.Shape, after: Message) -> cq.Solid:
    """Return the only solid in `shape`; raise ShapingError for empty, invalid or split results."""
    solids = shape.Solids()
    # guard: one solid
    if len(solids) != 1:
        raise ShapingError(message("refusals.solid.count", step=after, count=len(solids)))
    (only,) = solids
    if (
        # guard: a valid solid
        not only.isValid()
        # guard: turned outward
        or not BRepLib.OrientClosedSolid_s(only.wrapped)  # turned where far away is inside
    ):
        raise ShapingError(message("refusals.solid.invalid", step=after))
    return only


# --- faces ------------------------------------------------------------------------------------------------------


def _outer_side(
    definition: ShellDefinition,
    boundary: Sequence[Outline],
    holes: Sequence[Outline],
    letters: Sequence[Outline],
) -> list[cq.Face]:
    """The outer face, its islands inside letters (the middle of an O), and the tops of the letters."""
    strokes = [letter for letter in letters if shapely.LinearRing(letter.points).is_ccw]
    counters = [letter for letter in letters if letter not in strokes]
    faces = _trimmed(definition.outer, boundary, [*holes, *strokes])
    for counter in counters:
        faces += _trimmed(definition.outer, [counter], [])
    top = definition.face_at_depth(definition.wall_mm + definition.mark_height_mm)
    for stroke in strokes:
        shape = shapely.Polygon(stroke.points)
        inside = [counter for counter in counters if shape.contains(shapely.Point(counter.points[0]))]
        faces += _trimmed(top, [stroke], inside)
    return faces


def _trimmed(face: SplineSurface, boundary: Sequence[Outline], holes: Sequence[Outline]) -> list[cq.Face]:
    """Faces inside the boundary, less the holes: one, or the two sectors of a wrap-around pattern."""
    if len(boundary) == 2:
        return _sectors(face, boundary, holes)
    surface = _piece(face, boundary[0].points)
    outer, *inner = (_closed_wire(surface, outline) for outline in (*boundary, *holes))
    return [natural_face(surface).trim(outer, *inner)]


def _sectors(face: SplineSurface, boundary: Sequence[Outline], holes: Sequence[Outline]) -> list[cq.Face]:
    """Two faces, each between an arc of the distal edge and one of the proximal edge, closed by straight cuts.

    Each lies on its own piece of the surface: on one that covers a place twice, sewing would lose the way.
    """
    period = face.period_mm or 0.0
    proximal, distal = sorted(boundary, key=lambda edge: edge.step_mm)
    faces = []
    for out_arc, back_arc in zip(distal.arcs, proximal.arcs, strict=True):
        out, back = distal.along_arc(out_arc), proximal.along_arc(back_arc)
        shift = period * np.round((out[-1, 1] - back[0, 1]) / period)
        back = back + [0.0, shift]
        pieces = [
            _arc_curve(distal, out_arc),
            _segment(out[-1], back[0]),
            _arc_curve(proximal.shifted(shift), back_arc),
            _segment(back[-1], out[0]),
        ]
        surface = _piece(face, np.vstack([out, back]))
        sector = shapely.Polygon(np.vstack([out, back]))
        wires = []
        for hole in holes:
            turned = hole.shifted(period * np.round((sector.centroid.y - hole.points[:, 1].mean()) / period))
            if sector.contains(shapely.Point(turned.points[0])):
                wires.append(_closed_wire(surface, turned))
        faces.append(natural_face(surface).trim(_wire(surface, pieces), *wires))
    return faces


def natural_face(surface: Geom_BSplineSurface) -> cq.Face:
    """The whole surface as a face."""
    return cq.Face(BRepBuilderAPI_MakeFace(surface, FACE_MM).Face())


def _letter_side(definition: ShellDefinition, mark: Loop) -> Floats:
    """The side wall of a letter as a grid (2, n, 3), outer face to letter top."""
    along, around = mark.points.T
    depths = (definition.wall_mm, definition.wall_mm + definition.mark_height_mm)
    return np.array([definition.points(along, around, np.full(len(along), depth)) for depth in depths])


def _evened(grid: Floats) -> Floats:
    """The grid with rows put in on the straight part of a rim, where a cubic would bulge."""
    gaps = np.linalg.norm(np.diff(grid, axis=0), axis=2).mean(axis=1)
    pieces = np.maximum(np.round(gaps / np.median(gaps)), 1.0).astype(np.int64)
    rows = np.concatenate([[0.0], *(k + np.arange(1, n + 1) / n for k, n in enumerate(pieces))])
    return np.asarray(make_interp_spline(np.arange(len(grid)), grid, k=1)(rows))


def _strip(outline: Outline, grid: Floats) -> list[cq.Face]:
    """Faces through a grid of points (rows, n, 3) that closes around a loop, one for each arc."""
    n_rows, n, _ = grid.shape
    numbers = outline.numbers
    along_loop = outline.curve(np.swapaxes(grid[:, numbers % n], 0, 1))
    heights = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(grid, axis=0), axis=2).mean(axis=1))])
    degree = min(DEGREE, n_rows - 1)
    across = make_interp_spline(heights, np.swapaxes(along_loop.c, 0, 1), k=degree)
    poles = np.swapaxes(across.c, 0, 1)
    faces = []
    for start, stop in outline.arcs:
        surface = kernel_surface(along_loop.t, across.t, poles, (DEGREE, degree))
        surface.Segment(float(start), float(stop), float(heights[0]), float(heights[-1]))
        faces.append(natural_face(surface))
    return faces


# --- kernel geometry --------------------------------------------------------------------------------------------


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
    """The cubic through an arc's kept samples, part of the one through the whole loop."""
    spline = outline.curve(outline.at(outline.numbers))
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


def _piece(face: SplineSurface, points: Floats) -> Geom_BSplineSurface:
    """The kernel's surface under pattern points (n, 2) and a little beyond.

    The points lie up to one turn away from the base period.
    """
    around = (face.knots_around, face.poles) if face.period_mm is None else _three_periods(face)
    surface = kernel_surface(face.knots_along, *around)
    first, last, low, high = surface.Bounds()
    (from_along, from_around), (to_along, to_around) = points.min(axis=0), points.max(axis=0)
    surface.Segment(
        max(first, float(from_along) - BEYOND_MM),
        min(last, float(to_along) + BEYOND_MM),
        max(low, float(from_around) - BEYOND_MM),
        min(high, float(to_around) + BEYOND_MM),
    )
    return surface


def kernel_surface(
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
