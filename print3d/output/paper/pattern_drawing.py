"""The flat pattern as SVG and DXF, in mm: for a plotter, a cutter or a drawing program."""

import io
import textwrap
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from print3d.geometry.types import Floats
from print3d.shell.flattened import FlatLoop, FlatShell

BORDER_MM = 5.0
"""White around a drawing; own choice."""
DECIMALS = 3
"""Of coordinates in a file: a micrometre."""
LAYERS = {
    "outline": "TRIM_LINE",
    "edge": "TRIM_LINE",
    "opening": "OPENINGS",
    "vent": "VENTS",
    "slot": "SLOTS",
    "mark": "MARKING",
}
"""Layer of each kind of loop; a cutter knows by layer what to cut and what to score."""
SEAM_LAYER, NOTE_LAYER = "SEAM", "NOTE"
LETTER_MM = 2.5
"""Height of the letters of notes; own choice."""
LINE_MM = 4.0
"""From line to line; own choice."""
LETTER_WIDTH_MM = 1.5
"""Room for a letter, from which lines are broken; own choice."""
LEAST_LETTERS = 40
"""Of a line, however narrow the pattern is; own choice."""


def note_lines(flat: FlatShell, notes: Sequence[str]) -> list[str]:
    """Return notes broken into lines about as wide as the pattern."""
    low, high = flat.box_mm
    letters = max(LEAST_LETTERS, int((high[0] - low[0]) / LETTER_WIDTH_MM))
    return [line for note in notes for line in textwrap.wrap(note, letters)]


def write_svg(path: Path, flat: FlatShell, notes: Sequence[str]) -> None:
    """Write a drawing whose user unit is 1 mm, its notes below it; the first is its title."""
    low, high = flat.box_mm
    width, drawn = high - low + 2 * BORDER_MM
    told = note_lines(flat, notes)
    height = drawn + LINE_MM * len(told)
    width = max(width, LETTER_WIDTH_MM * max(map(len, told)) + 2 * BORDER_MM)
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{height:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}">',
        f"<title>{_escaped(notes[0])}</title>",
    ]
    for layer, loops in _by_layer(flat).items():
        stroke = 0.4 if layer == "TRIM_LINE" else 0.2
        rows.append(f'<g id="{layer}" fill="none" stroke="black" stroke-width="{stroke}">')
        rows += [f'<path d="{_path(loop.points, low, high)}"/>' for loop in loops]
        rows.append("</g>")
    rows.append(f'<g id="{NOTE_LAYER}" font-family="sans-serif" font-size="{LETTER_MM}">')
    rows += [
        f'<text x="{BORDER_MM}" y="{drawn + LINE_MM * place:.3f}">{_escaped(line)}</text>'
        for place, line in enumerate(told)
    ]
    rows.append("</g>")
    path.write_text("\n".join([*rows, "</svg>"]) + "\n", encoding="utf-8")


def write_dxf(path: Path, flat: FlatShell, notes: Sequence[str]) -> None:
    """Write closed polylines in mm on named layers (AutoCAD 2010 format), notes below them on a layer of their own."""
    from ezdxf._options import options
    from ezdxf.filemanagement import new
    from ezdxf.units import MM

    options.write_fixed_meta_data_for_testing = True  # no date and no random name: the same bytes each time
    document = new("R2010", units=MM)
    space = document.modelspace()
    for layer, loops in _by_layer(flat).items():
        document.layers.add(layer)
        for loop in loops:
            space.add_lwpolyline(np.round(loop.points, DECIMALS), close=True, dxfattribs={"layer": layer})
    if flat.seam is not None:
        document.layers.add(SEAM_LAYER)
        for end in flat.seam:
            space.add_lwpolyline(np.round(end, DECIMALS), dxfattribs={"layer": SEAM_LAYER})
    document.layers.add(NOTE_LAYER)
    (left, foot), _ = flat.box_mm
    for place, line in enumerate(note_lines(flat, notes), start=1):
        at = float(left), float(foot) - BORDER_MM - LINE_MM * place
        space.add_text(line, height=LETTER_MM, dxfattribs={"layer": NOTE_LAYER, "insert": at})
    for used in sorted(document.entitydb.dxf_types_in_use()):
        # guard: same bytes: classes come in the order of a set
        document.classes.add_class(used)
    stream = io.StringIO()
    document.write(stream)
    path.write_text(stream.getvalue(), encoding="utf-8", newline="\n")


def _by_layer(flat: FlatShell) -> dict[str, list[FlatLoop]]:
    layers: dict[str, list[FlatLoop]] = {}
    for loop in (*flat.boundary, *flat.inner):
        layers.setdefault(LAYERS[loop.kind], []).append(loop)
    return layers


def _path(points: Floats, low: Floats, high: Floats) -> str:
    """Move, lines, close; y runs down in SVG."""
    x = points[:, 0] - low[0] + BORDER_MM
    y = high[1] - points[:, 1] + BORDER_MM
    return "M" + "L".join(f"{a:.3f} {b:.3f}" for a, b in zip(x, y, strict=True)) + "Z"


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;")
