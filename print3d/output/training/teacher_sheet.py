"""The teacher's sheet.

It has every model of a set with its picture, what it shows, and on which plate it lies (PDF).
"""

from pathlib import Path

import numpy as np
from PIL import Image

from print3d import __version__
from print3d.language.catalogue import Language
from print3d.language.message import listed
from print3d.output.paper.drawing import BODY, NOTE, Drawing, Style
from print3d.output.paper.paper import Paper, Size
from print3d.output.paper.signs import fails
from print3d.output.paper.words import Words
from print3d.output.pictures.camera import Camera
from print3d.output.pictures.limb_look import LIMB_COLOUR
from print3d.output.pictures.render import DrawnBody, render
from print3d.training.class_set import ClassSet, ModelOutcome

PICTURE = (300, 300)
"""Pixels of a picture, width and height; own choice."""
PICTURE_MM = 34.0
"""Its width on paper; own choice."""
BESIDE_MM = 5.0
"""Room between picture and words; own choice."""
FORWARD = np.array([-0.55, 0.75, -0.35])
"""The eye stands to the volar side and a little above."""
NAME = Style(11.0, "Sheet-Bold")


def write_teacher_sheet(path: Path, models: ClassSet, language: Language = "en", size: Size = "a4") -> None:
    """Write the sheet of a set. Rows that gave no model stand at its end, each with its reason."""
    words = Words(language)
    paper = Paper(words("models.title"), "", language, size)
    built = [outcome for outcome in models.outcomes if outcome.is_built]
    paper.paragraph(words("models.lead", n=len(built)))
    for outcome in built:
        _entry(paper, words, outcome, models.plate_of(outcome))
    missing = [outcome for outcome in models.outcomes if not outcome.is_built]
    if missing:
        paper.heading(words("models.missing"))
        paper.items(
            [words("models.row", code=each.code, why=listed(each.refused, language)) for each in missing],
            fails,
            NOTE,
        )
    paper.save(path, words("models.foot", version=__version__))


def _entry(paper: Paper, words: Words, outcome: ModelOutcome, plate: str) -> None:
    """A picture with words beside it."""
    plates = words("models.plate", plate=plate) if plate else words("models.no_plate")
    told = [
        *(each.said(words.language) for each in (outcome.shows,) if each),
        f"{words('models.parts', n=len(outcome.parts))}. {plates}.",
        *(
            words("models.fails", what=each.what.said(words.language), measured=each.measured, unit=each.unit)
            for each in outcome.failed
        ),
    ]
    title = f"{outcome.code}  {outcome.title.said(words.language) if outcome.title else ''}"
    picture = Drawing(PICTURE_MM)
    picture.picture((0.0, 0.0), (PICTURE_MM, PICTURE_MM), picture_of(outcome))
    paper.beside(picture, PICTURE_MM + BESIDE_MM, [(title, NAME), *((each, BODY) for each in told)])


def picture_of(outcome: ModelOutcome) -> Image.Image:
    """Return all bodies of a model from one side, in the middle of the picture."""
    bodies = [DrawnBody(mesh, LIMB_COLOUR) for mesh in outcome.parts.values()]
    points = np.vstack([mesh.vertices for mesh in outcome.parts.values()])
    forward = FORWARD / np.linalg.norm(FORWARD)
    up = np.array([0.0, 0.0, 1.0]) - forward[2] * forward
    up /= np.linalg.norm(up)
    right = np.cross(forward, up)
    seen = np.column_stack([points @ right, points @ up])
    scale = float((np.ptp(seen, axis=0) / (np.array(PICTURE) - 16)).max())
    across, along = (seen.min(axis=0) + seen.max(axis=0)) / 2.0
    centre = across * right + along * up
    return Image.fromarray(render(bodies, Camera(forward, up, centre, scale, PICTURE)))
