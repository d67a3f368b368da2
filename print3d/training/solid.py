"""The CAD solid of a finger on its stand, with plate, letters and socket.

The limb's own skin is made of two spline surfaces. It is smooth: nail and creases are in the mesh alone. Words on
the stand say which side is dorsal.
"""

from collections.abc import Iterator

import cadquery as cq
import numpy as np
import shapely
from cadquery.occ_impl.shapes import shell, solid

from print3d.errors import ShapingError
from print3d.geometry.frames import apply
from print3d.geometry.mirror import points_for_side
from print3d.geometry.spline import fit_surface
from print3d.geometry.types import Floats
from print3d.language.message import message
from print3d.shell.solid import SEW_MM, kernel_surface, natural_face, one_solid
from print3d.training.build import Model
from print3d.training.stand import BEVEL_MM, CORNER_MM, Relief, StandPlan

AROUND = 20
"""Points of a section through which its spline runs: within 0.02 mm of the superellipse of a finger."""
SECTION_EVERY_MM = 3.0
"""Spacing of the sections along the finger; own choice."""
TIP_ROWS = 8
"""Sections of the rounded tip; own choice."""
LETTER_CHORD_MM = 0.02
"""Chord error of letters; own choice."""
SUNK_MM = 3.0
"""The finger reaches this far into its plate; own choice."""


def build_model_solid(model: Model) -> cq.Solid:
    """Return a finger model as one valid solid on the bed, mirrored and scaled like its mesh.

    Raises ShapingError if the kernel fails.
    """
    try:
        whole = cq.Workplane(obj=_finger(model))
        if model.stand is not None:
            whole = _on_stand(whole, model.stand)
        (found,) = whole.solids().vals()
    except Exception as error:  # the kernel's exceptions have no common base
        raise ShapingError(message("refusals.training.solid_failed", reason=str(error))) from error
    if not isinstance(found, cq.Solid) or not found.isValid():
        raise ShapingError(message("refusals.training.solid_invalid"))
    return found


def _finger(model: Model) -> cq.Solid:
    """The skin from below the plate's top to the tip, with a flat foot.

    A radial and an ulnar surface meet on the midlines.
    """
    limb = model.body.finger
    if limb is None:
        raise ShapingError(message("refusals.training.solid_of_finger"))
    first, fold, tip = model.body.top_mm - SUNK_MM, limb.landmarks["nail_fold"], limb.landmarks["tip"]
    quarter = (tip - fold) * np.pi / 4.0
    sites = np.append(
        np.linspace(first, fold, int((fold - first) / SECTION_EVERY_MM) + 2),
        fold + quarter * np.linspace(0.0, 1.0, TIP_ROWS + 1)[1:],
    )

    def skin(along: Floats, around: Floats) -> Floats:
        rounded = np.clip((along - fold) / quarter, 0.0, 1.0)
        station = np.where(along < fold, along, fold + (tip - fold) * np.sin(rounded * np.pi / 2.0))
        axis, dorsal = limb.spine.at(np.full(1, tip))
        pole = axis[0] + limb.section_middle(np.full(1, tip))[0] * dorsal[0]
        points = limb.skin_points(np.minimum(station, tip - 1e-6), around)
        return _on_bed(model, np.where((rounded == 1.0)[:, None], pole, points))

    halves = []
    for start in (0.0, 0.5):
        half = fit_surface(skin, sites, start + np.linspace(0.0, 0.5, AROUND // 2 + 1))
        halves.append(natural_face(kernel_surface(half.knots_along, half.knots_around, half.poles)))
    edges = [min(half.Edges(), key=lambda edge: edge.Center().z) for half in halves]
    foot = cq.Face.makeFromWires(cq.Wire.assembleEdges(edges))
    return one_solid(solid(shell(*halves, foot, tol=SEW_MM)), message("refusals.solid.step.sew_skin"))


def _on_bed(model: Model, points: Floats) -> Floats:
    """Points (n, 3) of the limb's frame on the printed model."""
    placed = apply(model.body.bed_from_limb(), points)
    return points_for_side(placed, model.case.header.side) * model.case.model.scale


def _on_stand(finger: cq.Workplane, plan: StandPlan) -> cq.Workplane:
    plate = (
        cq.Workplane("XY", origin=(*plan.middle, -plan.thick_mm / 2.0))
        .box(float(plan.size[0]), float(plan.size[1]), plan.thick_mm)
        .edges("|Z")
        .fillet(CORNER_MM)
        .faces("<Z or >Z")
        .edges()
        .chamfer(BEVEL_MM)
    )
    whole = plate.union(finger)
    for relief in plan.reliefs:
        for letter in _raised(relief):
            whole = whole.union(cq.Workplane(obj=letter))
    if plan.hole is not None:
        radius, depth, wider = plan.hole
        bottom = cq.Workplane("XY", origin=(*plan.foot, -plan.thick_mm))
        whole = whole.cut(bottom.circle(radius).extrude(depth))
        if wider > 0.0:
            whole = whole.cut(bottom.circle(radius + wider).workplane(offset=wider).circle(radius).loft())
    return whole


def _raised(relief: Relief) -> Iterator[cq.Shape]:
    """Letters as prisms over their polygons."""
    frame = relief.frame
    plane = cq.Plane(tuple(frame[:3, 3]), tuple(frame[:3, 0]), tuple(frame[:3, 2]))
    for polygon in shapely.get_parts(relief.shape.simplify(LETTER_CHORD_MM)):
        outer, *inner = (
            cq.Wire.makePolygon([plane.toWorldCoords((x, y, 0.0)) for x, y in ring.coords[:-1]], close=True)
            for ring in (polygon.exterior, *polygon.interiors)
        )
        yield cq.Solid.extrudeLinear(outer, inner, plane.zDir * relief.height_mm)
