"""Pictures of a scene.

They show wall and gap as maps with their scale, and every free joint at the end of its free arc.

+---------------------------------+        +----------+----------+----------+
| title                     note  |        | title              note        |
+-----------+-----------+---------+        +----------+----------+----------+
| dorsal    | volar     | 3.0 [#] |        | MCP 90   | PIP 100  | DIP 80   |
|           |           | 2.5 [#] |        |          |          |          |
+-----------+-----------+---------+        +----------+----------+----------+
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from print3d.geometry.frames import DISTAL, DORSAL, RADIAL, apply
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.mirror import points_for_side
from print3d.geometry.types import Floats
from print3d.language.catalogue import Language, number, text
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.colour_scale import NO_VALUE, colours
from print3d.output.pictures.joint_chain import FreeJoint, drifted, moved
from print3d.output.pictures.limb_look import LIMB_COLOUR, drawn_limb
from print3d.output.pictures.render import DrawnBody, Sight, sight
from print3d.output.pictures.scene import ON_SKIN, Scale, Scene, SceneBody
from print3d.output.pictures.views import (
    FRAME,
    GREY,
    HEADER,
    INK,
    SHELL_COLOUR,
    View,
    across_words,
    annotate,
    clear_of_words,
    draw_on_limb,
    fitted,
    font,
    head,
    png,
    scale_of,
    shown_box,
)

MAP_SIZE = (1080, 720)
"""Pixels of a map, width and height; own choice."""
SCALE_WIDTH = 230
"""Pixels beside it for the scale; own choice."""
END_SIZE = (1320, 560)
"""Pixels of a picture of both ends of a motion; own choice."""
BEHIND_MM = 45.0
"""How much of the limb is shown proximal of the first free joint; own choice."""
Panel = tuple[View, Camera, Sight]


def map_pictures(scene: Scene, titles: Mapping[str, str], language: Language = "en") -> dict[str, bytes]:
    """Return a PNG of 1080 x 720 pixels for each map of the scene.

    It shows the part from dorsal and from volar, at one scale, with its colour scale.

    titles : map -> what stands over its picture
    """
    parts = [part.mesh for part in scene.of_role("part")]
    limb = joined([body.mesh for body in scene.of_role("skin", "still")])
    views = _map_views(scene, language)

    def panels(bodies: Sequence[DrawnBody], around: Mesh) -> list[Panel]:
        cameras = _cameras(views, shown_box(parts, around))
        return [(view, camera, sight(bodies, camera)) for view, camera in zip(views, cameras, strict=True)]

    made = {}
    on_parts = {name: title for name, title in titles.items() if name != ON_SKIN}
    if ON_SKIN in titles:
        bare = panels([DrawnBody(limb, LIMB_COLOUR, has_lines=False, is_lit=False)], limb)
        made[ON_SKIN] = _map_picture(scene, ON_SKIN, bare, titles[ON_SKIN], language)
    if on_parts:
        bodies = [DrawnBody(part, SHELL_COLOUR, is_lit=False) for part in parts]
        behind = panels([*bodies, DrawnBody(limb, LIMB_COLOUR, 0.0, has_lines=False)], joined(parts))
        made |= {name: _map_picture(scene, name, behind, title, language) for name, title in on_parts.items()}
    return made


def _map_views(scene: Scene, language: Language) -> tuple[View, View]:
    width, height = (MAP_SIZE[0] - SCALE_WIDTH) // 2, MAP_SIZE[1] - HEADER
    across = across_words(scene.side, language)
    dorsal, volar = (text(f"report.live.look_{each}", language).capitalize() for each in ("dorsal", "volar"))
    return (
        View(dorsal, -DORSAL, DISTAL, (0, HEADER, width, height), across),
        View(volar, DORSAL, DISTAL, (width, HEADER, width, height), across[::-1]),
    )


def _map_picture(scene: Scene, name: str, panels: Sequence[Panel], title: str, language: Language) -> bytes:
    scale = scene.scales[name]
    if name == ON_SKIN:
        values = np.concatenate([body.fields[name] for body in scene.of_role("skin", "still")])
        shown = [colours(values, scale.low, scale.high, LIMB_COLOUR)]
    else:
        of_parts = [colours(part.fields[name], scale.low, scale.high) for part in scene.of_role("part")]
        shown = [*of_parts, LIMB_COLOUR]
    sheet, draw = _sheet(MAP_SIZE, title, text(f"report.picture.{name}_note", language))
    for view, camera, seen in panels:
        _paste(sheet, view, seen.picture(shown))
        annotate(draw, view, camera, language)
    nothing = LIMB_COLOUR if name == ON_SKIN else NO_VALUE
    _draw_scale(draw, (scale, nothing), text(f"report.live.map_{name}", language), language)
    return png(sheet)


def free_end_picture(scene: Scene, *, title: str, language: Language = "en") -> bytes | None:
    """Return a PNG of 1320 x 560 pixels.

    It has a panel for each free joint, turned alone to the end of its free arc; None without any.
    """
    joints = list(dict.fromkeys(hinge.joint for hinge in scene.hinges))
    if not joints:
        return None
    radial = points_for_side(RADIAL, scene.side)
    width, height = END_SIZE[0] // len(joints), END_SIZE[1] - HEADER
    views, panels, shapes = [], [], []
    for number_, joint in enumerate(joints):
        chosen = [hinge for hinge in scene.hinges if hinge.joint == joint]
        parts, limb, marks = posed(scene, {hinge.key: hinge.free_to_deg for hinge in chosen})
        name = text("report.picture.joint_end", language, joint=joint.upper(), degrees=_span(chosen))
        views.append(View(name, -radial, DORSAL, (number_ * width, HEADER, width, height)))
        panels.append(([DrawnBody(each, SHELL_COLOUR) for each in parts], drawn_limb(joined(limb), marks)))
        shapes.append(shown_box(parts, joined(limb)))
    box = np.array([np.min(shapes, axis=0)[0], np.max(shapes, axis=0)[1]])
    box[0, 0] = max(box[0, 0], min(hinge.centre[0] for hinge in scene.hinges) - BEHIND_MM)
    sheet, draw = _sheet(END_SIZE, title, text("report.picture.free_end_note", language))
    for view, camera, bodies in zip(views, _cameras(views, box), panels, strict=True):
        draw_on_limb(sheet, view, camera, bodies, goes_on=False)
        annotate(draw, view, camera, language)
    return png(sheet)


def posed(scene: Scene, angles: dict[str, float]) -> tuple[list[Mesh], list[Mesh], list[tuple[str, Mesh]]]:
    """Return the parts, the limb's pieces and its marks with joints at `angles` (deg, by key), the hand still."""
    by_key = {hinge.key: hinge for hinge in scene.hinges}

    def placed(body: SceneBody) -> Mesh:
        transform = moved(body.chain, by_key, angles)
        if body.drift is not None:
            hinge = by_key[body.drift.joint]
            transform = transform @ drifted(hinge, body.drift, angles.get(hinge.key, hinge.built_deg))
        return replace(body.mesh, vertices=apply(transform, body.mesh.vertices))

    parts, pieces = scene.of_role("part"), scene.of_role("segment", "still")
    marks = [(each.name, placed(each)) for each in scene.of_role("mark")]
    return [placed(each) for each in parts], [placed(each) for each in pieces], marks


def _span(chosen: Iterable[FreeJoint]) -> str:
    """The angles of one joint over all fingers: "90", or "88 to 90" as "88–90"."""
    angles = sorted({round(hinge.free_to_deg) for hinge in chosen})
    return f"{angles[0]}" if len(angles) == 1 else f"{angles[0]}–{angles[-1]}"


def _sheet(size: tuple[int, int], title: str, note: str) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    sheet = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(sheet)
    head(draw, size[0], title, note)
    return sheet, draw


def _cameras(views: Sequence[View], box: Floats) -> list[Camera]:
    """A camera for each view, all at the scale at which the box (2, 3) fits every panel."""
    scale = max(scale_of(box, view) for view in views)
    return [Camera(view.forward, view.up, box.mean(axis=0), scale, view.panel[2:]) for view in views]


def _paste(sheet: Image.Image, view: View, picture: NDArray[np.uint8]) -> None:
    sheet.paste(Image.fromarray(clear_of_words(picture)), view.panel[:2])


def _draw_scale(
    draw: ImageDraw.ImageDraw, scaled: tuple[Scale, Floats], name: str, language: Language
) -> None:
    """Draw the colour scale with its numbers, its limit if that lies on it, and the colour of no value."""
    scale, nothing = scaled
    left, top, bottom = MAP_SIZE[0] - SCALE_WIDTH + 24, HEADER + 84, MAP_SIZE[1] - 96
    draw.text((left, HEADER + 16), name, fill=INK, font=fitted(draw, name, SCALE_WIDTH - 36, 21))
    values = np.linspace(scale.high, scale.low, bottom - top + 1)
    for row, colour in enumerate(colours(values, scale.low, scale.high)):
        draw.line((left, top + row, left + 44, top + row), fill=_rgb(colour))
    draw.rectangle((left, top, left + 44, bottom), outline=FRAME)
    ticks, decimals = (6, 1) if scale.limit is None or scale.sense == "at least" else (5, 2)
    for value in np.linspace(scale.low, scale.high, ticks):
        y = bottom - (value - scale.low) / (scale.high - scale.low) * (bottom - top)
        draw.line((left + 44, y, left + 54, y), fill=INK, width=2)
        draw.text(
            (left + 62, y), number(value, language, decimals=decimals), fill=INK, font=font(20), anchor="lm"
        )
    if scale.limit is None:
        draw.text((left, HEADER + 46), scale.unit, fill=GREY, font=font(18))
    else:
        words = text("report.picture.limit", language, limit=scale.limit, unit=scale.unit)
        draw.text((left, HEADER + 46), words, fill=GREY, font=font(18))
        if scale.low <= scale.limit <= scale.high:
            y = bottom - (scale.limit - scale.low) / (scale.high - scale.low) * (bottom - top)
            draw.line((left - 10, y, left + 44, y), fill=INK, width=5)
    draw.rectangle((left, bottom + 28, left + 44, bottom + 56), fill=_rgb(nothing), outline=FRAME)
    draw.text((left + 62, bottom + 42), text("report.picture.no_value", language), fill=INK, font=font(19), anchor="lm")  # fmt: skip


def _rgb(colour: Floats) -> tuple[int, int, int]:
    red, green, blue = (round(255.0 * float(each)) for each in colour)
    return red, green, blue
