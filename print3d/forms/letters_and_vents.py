"""What shells carry besides straps: one line of letters, and vents where letters, edges, openings and bony points leave room."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from print3d.inputs.options import MarkingOptions, VentOptions
from print3d.shell.letters import letter_loops, text_size
from print3d.shell.pattern import Loop


@dataclass(frozen=True)
class Label:
    """What is written on a part, in one line along it.

    centre : of the line, in the pattern plane
    room_mm : how long it may be
    """

    text: str
    centre: tuple[float, float]
    room_mm: float
    is_mirrored: bool


def letters_of(label: Label, marking: MarkingOptions) -> tuple[Loop, ...]:
    """Return the loops of a label's letters: as high as asked, or lower where its room is short."""
    length, _ = text_size(label.text, marking.letter_height_mm)
    height = marking.letter_height_mm * min(1.0, label.room_mm / length)
    return letter_loops(label.text, label.centre, round(height, 3), is_mirrored=label.is_mirrored)


def mark_height_mm(marking: MarkingOptions) -> float:
    """Return the height of the letters above the outer face; negative for engraved ones."""
    return marking.depth_mm * (-1.0 if marking.style == "engraved" else 1.0)


@dataclass(frozen=True, eq=False)
class KeepOut:
    """What vents keep clear of, each by its own margin.

    openings, opening_margin_mm : slots and holes, and the margin around each
    bony_places : in the pattern plane
    solid_zones : pattern-plane shapes that already contain their margin
    letters, letter_margin_mm : the line of letters, and the margin around its box
    """

    openings: Sequence[Loop]
    opening_margin_mm: float
    bony_places: Sequence[tuple[float, float]]
    solid_zones: Sequence[shapely.Geometry]
    letters: Sequence[Loop]
    letter_margin_mm: float


def room_for_vents(
    outline: shapely.Polygon, vents: VentOptions, keep_out_zones: KeepOut, least_scale: float
) -> shapely.Geometry:
    """Return where vents may lie, with their margins kept on the skin.

    least_scale : skin mm per pattern mm where the pattern shrinks most
    """
    by_slot, by_bone, by_edge = (
        margin / least_scale
        for margin in (keep_out_zones.opening_margin_mm, vents.bony_margin_mm, vents.edge_margin_mm)
    )
    keep_out = [shapely.Polygon(each.points).buffer(by_slot) for each in keep_out_zones.openings]
    keep_out += [shapely.Point(place).buffer(by_bone) for place in keep_out_zones.bony_places]
    keep_out += keep_out_zones.solid_zones
    if keep_out_zones.letters:
        line = shapely.MultiPoint(np.vstack([letter.points for letter in keep_out_zones.letters]))
        keep_out.append(shapely.box(*line.bounds).buffer(keep_out_zones.letter_margin_mm))
    return outline.buffer(-by_edge).difference(shapely.union_all(keep_out))
