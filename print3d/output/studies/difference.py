"""Where two variants differ: signed distance from one mesh to the other, as a coloured picture with a scale."""

from dataclasses import dataclass

import numpy as np

from print3d.built import Built
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.mirror import Side
from print3d.geometry.nearest import Surface
from print3d.geometry.types import Floats
from print3d.language.catalogue import Language, text
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.render import DrawnBody, render
from print3d.output.pictures.views import bar_mm, views
from print3d.output.studies.plots import as_png, figure

LEAST_SCALE_MM = 0.05
"""The colours span at least this much: smaller differences are the triangulation's."""
PANEL = (560, 400)
"""Pixels of a picture, width and height; own choice."""
SHADE = 0.86
"""Colours are dimmed by this share, so that light and lines show on the palest too."""


@dataclass(frozen=True, eq=False)
class Difference:
    """Signed distances between two variants.

    mesh : of the first, all parts
    signed_mm : (n,) from its vertices to the second, positive where the first stands out beyond it
    farthest_mm : the largest distance from either to the other, at vertices
    """

    mesh: Mesh
    signed_mm: Floats
    farthest_mm: float


def measure_difference(first: Built, second: Built) -> Difference:
    """Measure from the vertices of each to the exactly nearest point of the other."""
    meshes = [joined(list(each.meshes.values())) for each in (first, second)]
    surfaces = [Surface(mesh) for mesh in meshes]
    signed = surfaces[1].signed(meshes[0].vertices)
    back, _, _ = surfaces[0].nearest(meshes[1].vertices)
    return Difference(meshes[0], signed, float(max(np.abs(signed).max(), back.max())))


def difference_picture(difference: Difference, side: Side, title: str, language: Language = "en") -> bytes:
    """Return a PNG of the first variant from four sides, coloured by how far it stands out beyond the second."""
    from matplotlib import colormaps
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    span = max(float(np.abs(difference.signed_mm).max()), LEAST_SCALE_MM)
    look = ScalarMappable(Normalize(-span, span), colormaps["RdBu"])
    colour = SHADE * look.to_rgba(difference.signed_mm)[:, :3]
    mesh = difference.mesh
    sheet, axes = figure(12.5, 8.2, rows=2, columns=2)
    for panel, view in zip((*axes[0], *axes[1]), views(side, language=language), strict=True):
        camera = Camera(view.forward, view.up, *_fitted(mesh.vertices, view.forward, view.up), PANEL)
        panel.imshow(render([DrawnBody(mesh, colour)], camera))
        panel.set_title(view.name, loc="left", fontsize=11)
        panel.axis("off")
        length = bar_mm(camera.mm_per_pixel)
        end, y = 20 + length / camera.mm_per_pixel, PANEL[1] - 14
        panel.plot([20, end], [y, y], color="black", linewidth=2)
        panel.text(end + 8, y, f"{length} mm", va="center", fontsize=9)
    bar = sheet.colorbar(look, ax=[*axes[0], *axes[1]], shrink=0.8, pad=0.02)
    bar.set_label(text("studies.compare.difference_bar", language))
    sheet.suptitle(title, fontsize=12)
    return as_png(sheet, language)


def _fitted(points: Floats, forward: Floats, up: Floats) -> tuple[Floats, float]:
    """Middle (3,) of the points and the mm per pixel at which they fill a panel."""
    low, high = points.min(axis=0), points.max(axis=0)
    across = np.abs(np.cross(forward, up)) @ (high - low), np.abs(up) @ (high - low)
    scale = max(across[0] / (PANEL[0] - 40), across[1] / (PANEL[1] - 60))
    return (low + high) / 2, float(scale)
