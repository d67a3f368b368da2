"""What of a body lies behind another one, as a dashed outline.

A film of its colour would look as if it lay in front.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import ImageDraw
from scipy import ndimage

from print3d.geometry.types import Floats, Ints
from print3d.output.pictures.render import Sight

Bools = NDArray[np.bool_]

DASH_PX = 9.0
"""Length of a dash; own choice."""
LEFT_OUT_PX = 6.0
"""Between two dashes; own choice."""
LINE = (24, 62, 104)
"""Dark blue; red, green and blue to 255; own choice."""
SMOOTH = 7
"""Steps of a pixel over which an outline is smoothed; own choice."""
SMALL_HOLE_MM2 = 60.0
"""Smaller holes, such as vents and slots, get no outline of their own; own choice."""


@dataclass(frozen=True, eq=False)
class Contour:
    """A closed line around what a body covers of a picture.

    points : (n, 2) columns and rows, pixels
    inside : (n, 2) row and column of the pixel within, beside the step that begins at each point
    """

    points: Ints
    inside: Ints


def draw_hidden(
    draw: ImageDraw.ImageDraw, corner: tuple[int, int], seen: Sight, n_parts: int, mm_per_pixel: float
) -> None:
    """Draw dashes along the outline of the first bodies of a sight where they lie behind the others.

    corner : of the sight in the picture, pixels
    """
    behind, front = (seen.depths[each].min(axis=0) for each in (np.s_[:n_parts], np.s_[n_parts:]))
    is_hidden = front < behind
    rows, columns = seen.window
    shift = np.array([corner[0] + columns.start, corner[1] + rows.start])
    for outline in outlines(without_small_holes(np.isfinite(behind), SMALL_HOLE_MM2 / mm_per_pixel**2)):
        for dash in _dashes(outline, is_hidden):
            draw.line([tuple(each) for each in dash + shift], fill=LINE, width=2)


def outlines(mask: Bools) -> Iterator[Contour]:
    """Yield the closed lines around what is in a mask (height, width), which lies at their right."""
    steps = _steps(np.pad(mask, 1))
    onward = {(int(step[0]), int(step[1])): list[int]() for step in steps}
    for number, step in enumerate(steps):
        onward[int(step[0]), int(step[1])].append(number)
    for waiting in onward.values():
        while waiting:
            number, around = waiting.pop(), list[int]()
            while True:
                around.append(number)
                others = onward[int(steps[number][2]), int(steps[number][3])]
                if not others:
                    break
                number = others.pop()
            yield Contour(steps[around][:, :2] - 1, steps[around][:, 4:] - 1)


def _steps(mask: Bools) -> Ints:
    """Every side (n, 6) of a pixel between inside and outside.

    From column and row, to column and row; row and column of the pixel inside.
    """
    found = []
    down, right = np.diff(mask.astype(np.int8), axis=0), np.diff(mask.astype(np.int8), axis=1)
    for is_side, starts, ends, within in (
        (down == 1, (0, 1), (1, 1), (1, 0)),
        (down == -1, (1, 1), (0, 1), (0, 0)),
        (right == 1, (1, 1), (1, 0), (0, 1)),
        (right == -1, (1, 0), (1, 1), (0, 0)),
    ):
        row, column = np.nonzero(is_side)
        sides = (
            column + starts[0], row + starts[1], column + ends[0], row + ends[1], row + within[0], column + within[1]
        )  # fmt: skip
        found.append(np.column_stack(sides))
    return np.vstack(found)


def _dashes(outline: Contour, is_hidden: Bools) -> Iterator[Floats]:
    """Yield the lines (n, 2) to be drawn of an outline."""
    points = np.asarray(ndimage.uniform_filter1d(outline.points.astype(float), SMOOTH, axis=0, mode="wrap"))
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    drawn = is_hidden[outline.inside[:, 0], outline.inside[:, 1]] & (
        along % (DASH_PX + LEFT_OUT_PX) < DASH_PX
    )
    cuts = np.flatnonzero(np.diff(drawn)) + 1
    for start, piece in zip([0, *cuts], np.split(points, cuts), strict=True):
        if drawn[start] and len(piece) > 1:
            yield piece


def without_small_holes(mask: Bools, most_pixels: float) -> Bools:
    """Return a mask (height, width) with every hole of fewer pixels filled."""
    holes, count = ndimage.label(~mask)
    sizes = ndimage.sum_labels(np.ones_like(holes), holes, np.arange(count + 1))
    outside = np.unique(np.concatenate([holes[0], holes[-1], holes[:, 0], holes[:, -1]]))
    is_small = sizes < most_pixels
    is_small[outside] = False
    is_small[0] = False
    return np.asarray(mask | is_small[holes])
