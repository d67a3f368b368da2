"""A picture of a part as it lies on the bed, for whoever has to lay it there.

It is seen from the side and from above, at one scale.
"""

from collections.abc import Sequence

import numpy as np
from PIL import Image

from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.output.paper.drawing import SMALL, THIN, Drawing, Line
from print3d.output.paper.paper import Paper
from print3d.output.paper.words import Words
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.render import DrawnBody, render

ROOM_MM = 62.0
"""Largest width of each view on the page; own choice."""
TALL_MM = 44.0
"""Largest height of each view on the page; own choice."""
APART_MM = 12.0
"""Room between the two views; own choice."""
LARGEST_SCALE = 1.0
"""A small part is drawn no larger than it is."""
CAPTION_MM = 5.5
"""What stands below both views, with its distance to what follows."""
PIXELS_PER_MM = 8.0
"""Some 200 dots an inch: sharp on a usual printer."""
SHADE = np.array([0.80, 0.82, 0.84])
"""Light grey, red, green and blue, that prints well; own choice."""
BESIDE_MM = 5.0
"""The bed is drawn so far beyond the part."""
BED = Line(0.5)
VIEWS = {
    "from_side": (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])),
    "from_above": (np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0])),
}
"""Direction of sight and upward direction of the picture, in the frame of the bed."""


def draw_on_bed(paper: Paper, words: Words, mesh: Mesh, bed_from_part: Floats, share: float = 1.0) -> None:
    """Draw a part, moved to the bed by a transform (4, 4), with the bed and its extents in mm.

    share : of the room that a drawing takes, where several parts share it
    """
    (width, depth, height), pictures = _seen(mesh, tuple(map(tuple, bed_from_part.tolist())))
    scale = share * paper.scale * _scale((width, depth, height))
    drawing = paper.drawing(CAPTION_MM + scale * max(depth, height))
    for number, (name, height_mm) in enumerate(zip(VIEWS, (height, depth), strict=True)):
        left = number * (ROOM_MM + APART_MM)
        size = scale * width, scale * height_mm
        corner = left + scale * BESIDE_MM, CAPTION_MM
        drawing.picture(corner, size, pictures[name])
        right = corner[0] + size[0] + scale * BESIDE_MM
        if name == "from_side":
            drawing.line([(left, CAPTION_MM), (right, CAPTION_MM)], BED)
        _height(drawing, (right + 2.0, CAPTION_MM), size[1], f"{height_mm:.0f}")
        caption = words(f"sheets.print.{name}", width=width)
        drawing.write((left, 1.6), caption, SMALL)


@kept
def _seen(
    mesh: Mesh, bed_from_part: tuple[tuple[float, ...], ...]
) -> tuple[tuple[float, float, float], dict[str, Image.Image]]:
    """The extents of a part on the bed, and its pictures.

    They are kept, as a sheet is set again until it fits its page.
    """
    placed = Mesh(apply(np.array(bed_from_part), mesh.vertices), mesh.faces)
    width, depth, height = (float(side) for side in np.ptp(placed.vertices, axis=0))
    scale = _scale((width, depth, height))
    pictures = {name: _view(placed, *sight, scale) for name, sight in VIEWS.items()}
    return (width, depth, height), pictures


def _scale(size_mm: Sequence[float]) -> float:
    width, depth, height = size_mm
    across, up = (ROOM_MM - 14.0) / (width + 2 * BESIDE_MM), (TALL_MM - 6.0) / max(depth, height)
    return min(LARGEST_SCALE, across, up)


def _view(mesh: Mesh, forward: Floats, up: Floats, scale: float) -> Image.Image:
    """The picture of a mesh, cut at its outline."""
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    across = np.cross(forward, up)
    sides = np.abs([(high - low) @ across, (high - low) @ up])
    pixels = np.maximum(np.round(PIXELS_PER_MM * scale * sides), 1).astype(int)
    size = int(pixels[0]), int(pixels[1])
    camera = Camera(forward, up, (low + high) / 2.0, 1.0 / (PIXELS_PER_MM * scale), size)
    return Image.fromarray(render([DrawnBody(mesh, SHADE)], camera))


def _height(drawing: Drawing, foot: tuple[float, float], height: float, label: str) -> None:
    """A dimension line, upright, with its length in mm."""
    x, y = foot
    drawing.line([(x, y), (x, y + height)], THIN)
    for end in (y, y + height):
        drawing.line([(x - 1.0, end), (x + 1.0, end)], THIN)
    drawing.write((x + 1.6, y + height / 2 - 1.0), label, SMALL)
