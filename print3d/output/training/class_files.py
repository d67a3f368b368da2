"""The files of a class set.

There is a 3MF for each plate with its bodies by name, a picture of it, and the teacher's sheet.
"""

from pathlib import Path

import numpy as np
from PIL import Image

from print3d.language.catalogue import Language, text
from print3d.output.mesh.threemf import write_3mf
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.limb_look import LIMB_COLOUR
from print3d.output.pictures.render import DrawnBody, render
from print3d.output.training.teacher_sheet import write_teacher_sheet
from print3d.training.class_set import ClassSet, plate_name
from print3d.training.plates import Plate

SEEN = (900, 900)
"""Pixels of a picture of a bed, width and height; own choice."""


def write_class_set(folder: Path, models: ClassSet, language: Language = "en") -> list[str]:
    """Write all files of a set into a folder and return their names."""
    written = []
    names = {body: name for outcome in models.outcomes for body, name in outcome.names.items()}
    for printer, plates in models.plates.items():
        for number, plate in enumerate(plates, start=1):
            name = plate_name(printer, number)
            bodies = {names[body].said(language): mesh for body, mesh in plate.items()}
            material = text("training.material", language)
            write_3mf(folder / f"{name}.3mf", bodies, says={"Title": name}, material_name=material)
            _picture_from_above(plate).save(folder / f"{name}.png")
            written += [f"{name}.3mf", f"{name}.png"]
    write_teacher_sheet(folder / "teachers_sheet.pdf", models, language)
    return [*written, "teachers_sheet.pdf"]


def _picture_from_above(plate: Plate) -> Image.Image:
    points = np.vstack([mesh.vertices for mesh in plate.values()])
    low, high = points.min(axis=0), points.max(axis=0)
    scale = float((np.ptp(points, axis=0)[:2] / (np.array(SEEN) - 20)).max())
    camera = Camera(np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0]), (low + high) / 2.0, scale, SEEN)
    return Image.fromarray(render([DrawnBody(mesh, LIMB_COLOUR) for mesh in plate.values()], camera))
