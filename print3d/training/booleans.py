"""Exact closed bodies: our meshes into manifold's and back, plates, letters, and girths of sections."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely

from print3d.errors import MeshingError
from print3d.geometry.frames import apply, inverse
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.language.message import message

if TYPE_CHECKING:
    from manifold3d import Manifold

FLAT_MM = 0.02
"""Triangles are thinned out as long as the surface moves by no more than this."""
CIRCLE = 96
"""Sides of a circle's polygon; own choice."""


def solid_of(mesh: Mesh) -> "Manifold":
    """Return the body of a closed mesh.

    Raises MeshingError if it is none.
    """
    import manifold3d

    body = manifold3d.Manifold(
        manifold3d.Mesh64(
            np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.faces, dtype=np.uint64)
        )
    )
    if body.status() != manifold3d.Error.NoError or body.is_empty():
        raise MeshingError(message("refusals.training.open_body", status=body.status().name))
    return body


def mesh_of(body: "Manifold") -> Mesh:
    """Return a body as a mesh."""
    mesh = body.to_mesh64()
    return Mesh(
        np.array(mesh.vert_properties, dtype=np.float64)[:, :3], np.array(mesh.tri_verts, dtype=np.int64)
    )


def largest(body: "Manifold") -> "Manifold":
    """Return the largest of a body's separate pieces, hollows filled, its triangles thinned out."""
    return max(body.decompose(), key=lambda piece: float(piece.volume())).simplify(FLAT_MM)


def extruded(shape: shapely.Geometry, height_mm: float) -> "Manifold":
    """Return a flat shape (x, y) raised from z = 0."""
    import manifold3d

    rings = [
        np.asarray(ring.coords)[:-1]
        for polygon in shapely.get_parts(shape)
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    section = manifold3d.CrossSection(rings, manifold3d.FillRule.EvenOdd)
    return manifold3d.Manifold.extrude(section, height_mm)


def cylinder(radius_mm: float, height_mm: float, *, top_radius_mm: float | None = None) -> "Manifold":
    """Return an upright cylinder or cone on z = 0."""
    import manifold3d

    top = radius_mm if top_radius_mm is None else top_radius_mm
    return manifold3d.Manifold.cylinder(height_mm, radius_mm, top, CIRCLE)


def placed(body: "Manifold", frame: Floats) -> "Manifold":
    """Return a body moved by a (4, 4) transform."""
    return body.transform(np.ascontiguousarray(frame[:3]))


def united(bodies: "Sequence[Manifold]") -> "Manifold":
    """Return all bodies as one."""
    import manifold3d

    return manifold3d.Manifold.batch_boolean(list(bodies), manifold3d.OpType.Add)


def taped_girth_mm(mesh: Mesh, across: Floats) -> float | None:
    """Return what a tape reads around the piece of a mesh that holds the origin of a section plane.

    None if there is no such piece.

    across : (4, 4) frame whose x is the normal of the plane; a tape bridges hollows
    """
    turned = apply(inverse(across), mesh.vertices)
    body = solid_of(Mesh(np.column_stack([turned[:, 1], turned[:, 2], turned[:, 0]]), mesh.faces))
    for piece in body.slice(0.0).decompose():
        outline = shapely.union_all([shapely.Polygon(ring) for ring in piece.to_polygons()])
        if outline.contains(shapely.Point(0.0, 0.0)):
            return float(outline.convex_hull.length)
    return None
