"""Pictures without a graphics card: the orthosis on its translucent limb, from four sides."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from print3d.errors import ExportError
from print3d.exports.raycast import Camera, visible_faces
from print3d.geometry.mesh import Mesh

Floats = NDArray[np.float64]
Side = Literal["left", "right"]

SHELL_COLOUR = (0.16, 0.44, 0.66)
LIMB_COLOUR = (0.91, 0.78, 0.69)
LIMB_OVER_SHELL = 0.45
"""How opaque the limb is where it lies in front of the orthosis."""
INK = (30, 34, 40)
PANEL = (800, 560)
HEADER = 80
FINER = 2
LINE_MM = 0.12
"""A bend of the depth by more than this between neighbouring pixels is drawn as a line: edges and letters."""
FONT_FILE = "mpl-data/fonts/ttf/DejaVuSans.ttf"


@dataclass(frozen=True, eq=False)
class Body:
    """A mesh with its look; `opacity` counts where it lies in front of another body."""

    mesh: Mesh
    colour: tuple[float, float, float]
    opacity: float = 1.0
    has_lines: bool = True


def views(side: Side) -> Mapping[str, tuple[Floats, Floats]]:
    """Return name -> (forward, up) of the four views; radial and ulnar change places for a left hand."""
    across = 1.0 if side == "right" else -1.0
    x, y, z = np.eye(3)
    return {
        "dorsal": (-z, x),
        "volar": (z, x),
        "radial": (-across * y, z),
        "ulnar": (across * y, z),
    }


def write_views(path: Path, parts: Sequence[Mesh], limb: Mesh, *, title: str, side: Side) -> None:
    """Write a PNG of the parts on the limb, dorsal, volar, radial and ulnar, at one scale."""
    bodies = [
        *(Body(part, SHELL_COLOUR) for part in parts),
        Body(limb, LIMB_COLOUR, LIMB_OVER_SHELL, has_lines=False),
    ]
    low, high = _box([part for part in parts])
    margin = 0.16 * float((high - low).max())
    scale = _scale(low - margin, high + margin, side)
    sheet = Image.new("RGB", (2 * PANEL[0], 2 * PANEL[1] + HEADER), "white")
    draw = ImageDraw.Draw(sheet)
    draw.text((28, 22), title, fill=INK, font=_font(32))
    for number, (name, (forward, up)) in enumerate(views(side).items()):
        camera = Camera(forward, up, (low + high) / 2, scale, PANEL)
        corner = (PANEL[0] * (number % 2), HEADER + PANEL[1] * (number // 2))
        sheet.paste(Image.fromarray(render(bodies, camera)), corner)
        _annotate(draw, corner, name, camera)
    sheet.save(path, optimize=False)


def render(bodies: Sequence[Body], camera: Camera) -> NDArray[np.uint8]:
    """Return the picture (height, width, 3) of bodies, smoothed over 2 x 2 finer pixels."""
    width, height = camera.size
    fine = Camera(
        camera.forward, camera.up, camera.centre, camera.mm_per_pixel / FINER, (FINER * width, FINER * height)
    )
    layers = [_layer(body, fine) for body in bodies]
    depths = np.array([depth for depth, _ in layers])
    picture = np.ones((*depths.shape[1:], 3))
    order = np.argsort(-depths, axis=0, kind="stable")
    seen = np.zeros(depths.shape[1:], dtype=bool)
    for rank in range(len(bodies)):
        behind = seen.copy()
        for number, (depth, colour) in enumerate(layers):
            here = (order[rank] == number) & np.isfinite(depth)
            opacity = np.where(behind, bodies[number].opacity, 1.0)[here][:, None]
            picture[here] = (1.0 - opacity) * picture[here] + opacity * colour[here]
            seen |= here
    small = picture.reshape(height, FINER, width, FINER, 3).mean(axis=(1, 3))
    return np.asarray(np.round(255.0 * small), dtype=np.uint8)


def _layer(body: Body, camera: Camera) -> tuple[Floats, Floats]:
    """Depth (h, w), infinite where the body is not, and shaded colour (h, w, 3)."""
    face = visible_faces(body.mesh, camera)
    hit = face >= 0
    normals = body.mesh.area_vectors()
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    depth = np.full(face.shape, np.inf)
    rows, columns = np.nonzero(hit)
    normal = normals[face[hit]]
    start = camera.project(body.mesh.vertices[body.mesh.faces[face[hit], 0]])
    across = -(normal @ camera.right) * (columns - start[:, 0]) + (normal @ camera.up) * (rows - start[:, 1])
    facing = normal @ camera.forward
    depth[hit] = start[:, 2] + camera.mm_per_pixel * across / np.where(np.abs(facing) < 0.02, -0.02, facing)
    shade = np.zeros(face.shape)
    shade[hit] = _light(normal, camera)
    if body.has_lines:
        shade *= _lines(depth)
    return depth, shade[..., None] * np.array(body.colour)


def _light(normal: Floats, camera: Camera) -> Floats:
    """Soft light from the eye and from above its left shoulder."""
    eye = -camera.forward
    lamp = eye + 0.8 * camera.up - 0.6 * camera.right
    lamp /= np.linalg.norm(lamp)
    return np.clip(0.30 + 0.42 * np.abs(normal @ eye) + 0.42 * np.maximum(normal @ lamp, 0.0), 0.0, 1.12)


def _lines(depth: Floats) -> Floats:
    """Darkening (h, w) where the depth bends sharply: outlines, rims, letters."""
    filled = np.where(np.isfinite(depth), depth, BACKGROUND_MM)
    bend = np.zeros(depth.shape)
    for axis in (0, 1):
        ahead, behind = np.roll(filled, -1, axis), np.roll(filled, 1, axis)
        bend = np.maximum(bend, np.abs(ahead + behind - 2.0 * filled))
    return 1.0 - 0.55 * np.clip(bend / LINE_MM - 1.0, 0.0, 1.0)


BACKGROUND_MM = 500.0


def _annotate(draw: ImageDraw.ImageDraw, corner: tuple[int, int], name: str, camera: Camera) -> None:
    """Name of the view, where the fingertip points, and a 10 mm bar."""
    left, top = corner
    tip = camera.project(camera.centre + np.eye(3)[:1])[0, :2] - camera.project(camera.centre[None])[0, :2]
    arrow = "→" if tip[0] > 0.1 else "←" if tip[0] < -0.1 else "↑"
    draw.rectangle((left, top, left + PANEL[0] - 1, top + PANEL[1] - 1), outline=(205, 210, 216))
    draw.text((left + 20, top + 14), f"{name}   fingertip {arrow}", fill=INK, font=_font(24))
    length = 10.0 / camera.mm_per_pixel
    x, y = left + 24, top + PANEL[1] - 28
    draw.line((x, y, x + length, y), fill=INK, width=3)
    for end in (x, x + length):
        draw.line((end, y - 6, end, y + 6), fill=INK, width=3)
    draw.text((x + length + 12, y - 14), "10 mm", fill=INK, font=_font(20))


def _box(meshes: Sequence[Mesh]) -> tuple[Floats, Floats]:
    points = np.vstack([mesh.vertices for mesh in meshes])
    return points.min(axis=0), points.max(axis=0)


def _scale(low: Floats, high: Floats, side: Side) -> float:
    """The scale at which the box fits every view."""
    size = high - low
    return max(
        float(max(np.abs(np.cross(forward, up)) @ size / PANEL[0], np.abs(up) @ size / (PANEL[1] - 40)))
        for forward, up in views(side).values()
    )


def _font(size: int) -> ImageFont.FreeTypeFont:
    package = find_spec("matplotlib")
    if package is None or package.origin is None:
        raise ExportError("pictures need the font that ships with matplotlib, which is not installed")
    return ImageFont.truetype(str(Path(package.origin).parent / FONT_FILE), size)
