"""The teacher's sheet: every model of a set with its picture, what it shows, and on which plate it lies (PDF, A4)."""

from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from print3d import __version__
from print3d.exports.pictures import LIMB_COLOUR
from print3d.exports.raycast import Camera
from print3d.exports.render import Body, render
from print3d.models.class_set import ClassSet, Outcome
from print3d.texts.fonts import font_file

PER_PAGE = 6
PICTURE = (300, 300)
FORWARD = np.array([-0.55, 0.75, -0.35])
"""The eye stands to the volar side and a little above."""
NAME, BOLD = "Sheet", "Sheet-Bold"


def write_teacher_sheet(path: Path, models: ClassSet) -> None:
    """Write the sheet of a set. Rows that gave no model stand at its end, each with its reason."""
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.units import mm
    from reportlab.pdfgen.canvas import Canvas

    _register_fonts()
    page = Canvas("", pagesize=A4, invariant=1)
    page.setTitle("Training models: teacher's sheet")
    built = [outcome for outcome in models.outcomes if outcome.is_built]
    pages = [built[start : start + PER_PAGE] for start in range(0, len(built), PER_PAGE)]
    for number, group in enumerate(pages, start=1):
        _head(page, A4, f"Training models: teacher's sheet, page {number} of {len(pages)}")
        for place, outcome in enumerate(group):
            _entry(page, outcome, models.plate_of(outcome), A4[1] - (32 + 42 * (place + 1)) * mm)
        page.showPage()
    failed = [outcome for outcome in models.outcomes if not outcome.is_built]
    if failed:
        _head(page, A4, "Rows without a model")
        _list(page, failed, A4[1] - 36 * mm)
        page.showPage()
    path.write_bytes(page.getpdfdata())


def _register_fonts() -> None:
    """The open font that ships with matplotlib, as on the pictures."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name in (NAME, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(font_file(is_bold=name == BOLD))))


def _head(page: Any, size: tuple[float, float], title: str) -> None:
    from reportlab.lib.units import mm

    page.setFont(BOLD, 14)
    page.drawString(18 * mm, size[1] - 20 * mm, title)
    page.setFont(NAME, 8)
    page.drawString(
        18 * mm,
        12 * mm,
        f"print3d {__version__}. Models for teaching, computed from measurements; not for treatment.",
    )


def _entry(page: Any, outcome: Outcome, plate: str, bottom: float) -> None:
    from reportlab.lib.units import mm
    from reportlab.lib.utils import ImageReader, simpleSplit

    page.drawImage(ImageReader(_picture(outcome)), 18 * mm, bottom, 38 * mm, 38 * mm)
    left, top = 62 * mm, bottom + 34 * mm
    page.setFont(BOLD, 12)
    page.drawString(left, top, f"{outcome.code}   {outcome.title}")
    page.setFont(NAME, 9)
    lines = simpleSplit(outcome.shows, NAME, 9, 125 * mm)
    lines += [f"Parts: {len(outcome.parts)}. Plate: {plate or 'none, it fits no bed as it stands'}."]
    lines += [f"Check failed: {words}" for words in outcome.failed]
    for number, line in enumerate(lines):
        page.drawString(left, top - (number + 1) * 5 * mm, line)
    page.setLineWidth(0.3)
    page.line(18 * mm, bottom - 1.5 * mm, 192 * mm, bottom - 1.5 * mm)


def _list(page: Any, failed: list[Outcome], top: float) -> None:
    from reportlab.lib.units import mm
    from reportlab.lib.utils import simpleSplit

    y = top
    page.setFont(NAME, 8)
    for outcome in failed:
        for line in simpleSplit(f"{outcome.code}: {outcome.error}", NAME, 8, 174 * mm):
            if y < 20 * mm:
                page.showPage()
                page.setFont(NAME, 8)
                y = top
            page.drawString(18 * mm, y, line)
            y -= 4.5 * mm
        y -= 2 * mm


def _picture(outcome: Outcome) -> Image.Image:
    """All bodies of a model from one side."""
    bodies = [Body(mesh, LIMB_COLOUR) for mesh in outcome.parts.values()]
    points = np.vstack([mesh.vertices for mesh in outcome.parts.values()])
    forward = FORWARD / np.linalg.norm(FORWARD)
    up = np.array([0.0, 0.0, 1.0]) - forward[2] * forward
    up /= np.linalg.norm(up)
    seen = np.column_stack([points @ np.cross(forward, up), points @ up])
    scale = float((np.ptp(seen, axis=0) / (np.array(PICTURE) - 16)).max())
    centre = (points.min(axis=0) + points.max(axis=0)) / 2.0
    return Image.fromarray(render(bodies, Camera(forward, up, centre, scale, PICTURE)))
