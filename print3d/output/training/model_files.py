"""The files of a training model.

They are STL and STEP of each body, one 3MF of all, a picture from four sides, and what was measured.
"""

import io
import json
from collections.abc import Mapping
from functools import partial
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from print3d.checks.finding import finding_as_data
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.language.catalogue import Language, text
from print3d.language.message import in_a_row, message
from print3d.output.files import Writer
from print3d.output.findings_json import parts_as_data
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.limb_look import LIMB_COLOUR
from print3d.output.pictures.render import DrawnBody, render
from print3d.output.pictures.views import FRAME, GREY, INK, SHELL_COLOUR, font
from print3d.output.record.record import FORMAT, Stamp, versions
from print3d.training.build import Model
from print3d.training.names import ORTHOSIS, body_name

PANEL = (480, 760)
"""Pixels of a view, width and height; own choice."""
HEADER = 70
"""Pixels above the views for their title; own choice."""
MARGIN = 26
"""Pixels around them; own choice."""
SIDES = {
    "towards_thumb": (0.0, -1.0),
    "volar": (-1.0, 0.0),
    "towards_little": (0.0, 1.0),
    "dorsal": (1.0, 0.0),
}
"""Id of each view of a right hand and the direction of sight on the bed."""
DOWN = 0.22
"""The eye looks down by the arc tangent of this, so that the words on a stand show."""


def model_writers(model: Model, formats: frozenset[str]) -> dict[str, Writer]:
    """Return file name -> writer for the asked formats (stl, 3mf, step, png, json)."""
    name, parts = model.case.model.pose, model.parts
    files: dict[str, Writer] = {}
    if "stl" in formats:
        files |= {f"{part}.stl": partial(_write_stl, mesh) for part, mesh in parts.items()}
    if "3mf" in formats:
        files[f"{name}.3mf"] = partial(_write_3mf, model)
    if "step" in formats and model.has_solid:
        files[f"{name}.step"] = partial(_write_step, model)
    if "png" in formats:
        files["views.png"] = partial(_write_views, model)
    if "json" in formats:
        files["findings.json"] = partial(_write_json, model)
    return files


def stamp_of_model(model: Model) -> Stamp:
    """Return what tells a model, and the orthosis on it, from all others."""
    case = model.case
    tables = {"case": case.header, "measured": case.measured, "model": case.model, "print": case.print}
    return {
        "format": FORMAT,
        "mark": str(case.mark),
        "revision": case.revision,
        "step": None,
        "remade_from": {
            name: table.model_dump(mode="json", exclude_none=True) for name, table in tables.items()
        },
        "material": case.material.model_dump(mode="json", exclude_none=True),
        "printer": case.printer.model_dump(mode="json", exclude_none=True),
        "versions": versions(),
        "parts": parts_as_data(model.parts),
    }


def title_of(model: Model) -> str:
    """Return what a model is called: code, side, finger, pose."""
    head = model.case.header
    title = message(
        "training.title",
        code=str(model.case.mark),
        side=message(f"common.side.{head.side}"),
        finger=message(f"common.finger.{head.finger}"),
        bodies=in_a_row([body_name(part) for part in model.parts]),
    )
    return title.said(head.language)


def _named(model: Model) -> dict[str, Mesh]:
    """The bodies by name in the language of the case."""
    return {body_name(part).said(model.case.header.language): mesh for part, mesh in model.parts.items()}


def _write_stl(mesh: Mesh, path: Path) -> None:
    from print3d.output.mesh.stl import write_stl

    write_stl(path, mesh)


def _write_3mf(model: Model, path: Path) -> None:
    from print3d.output.mesh.threemf import write_3mf

    write_3mf(path, _named(model), says={"Title": title_of(model)}, material_name=model.case.material.title)


def _write_step(model: Model, path: Path) -> None:
    from print3d.output.mesh.step import write_step
    from print3d.training.solid import build_model_solid

    (name,) = _named(model)
    write_step(path, {name: build_model_solid(model)}, product_name=title_of(model), side="right")


def _write_json(model: Model, path: Path) -> None:
    data = {
        "code": model.case.header.code,
        "model": model.case.model.model_dump(mode="json", exclude_none=True),
        "holds": model.holds,
        "findings": [finding_as_data(finding, model.case.header.language) for finding in model.findings],
    }
    path.write_text(json.dumps(data, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")


def _write_views(model: Model, path: Path) -> None:
    write_model_views(path, model.parts, title_of(model), model.case.header.language)


def write_model_views(path: Path, parts: Mapping[str, Mesh], title: str, language: Language = "en") -> None:
    """Write a PNG of bodies on the bed (z up), from four sides at one scale."""
    points = np.vstack([mesh.vertices for mesh in parts.values()])
    bodies = [
        DrawnBody(mesh, SHELL_COLOUR if name.startswith(ORTHOSIS) else LIMB_COLOUR)
        for name, mesh in parts.items()
    ]
    centre = (points.min(axis=0) + points.max(axis=0)) / 2.0
    cameras = [_camera(side, centre) for side in SIDES.values()]
    scale = max(_scale(points, camera) for camera in cameras)
    sheet = Image.new("RGB", (PANEL[0] * len(SIDES), PANEL[1] + HEADER), "white")
    draw = ImageDraw.Draw(sheet)
    draw.text((24, HEADER // 2), title, fill=INK, font=font(28, bold=True), anchor="lm")
    for number, (name, camera) in enumerate(zip(SIDES, cameras, strict=True)):
        left = number * PANEL[0]
        shown = Camera(camera.forward, camera.up, centre, scale, PANEL)
        sheet.paste(Image.fromarray(render(bodies, shown)), (left, HEADER))
        draw.rectangle((left, HEADER, left + PANEL[0] - 1, HEADER + PANEL[1] - 1), outline=FRAME)
        draw.text((left + 14, HEADER + 10), text(f"training.seen.{name}", language), fill=GREY, font=font(18))
    file = io.BytesIO()
    sheet.save(file, format="PNG")
    path.write_bytes(file.getvalue())


def _camera(side: tuple[float, float], centre: Floats) -> Camera:
    forward = np.array([*side, -DOWN]) / np.hypot(1.0, DOWN)
    up = np.array([0.0, 0.0, 1.0]) - forward[2] * forward
    return Camera(forward, up / np.linalg.norm(up), centre, 1.0, PANEL)


def _scale(points: Floats, camera: Camera) -> float:
    """The mm per pixel at which all points fit the panel."""
    seen = np.column_stack([points @ camera.right, points @ camera.up])
    return float((np.ptp(seen, axis=0) / (np.array(PANEL) - 2 * MARGIN)).max())
