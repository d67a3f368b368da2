"""Strength across layers: how layers lie to the direction in which a part is stressed."""

from dataclasses import dataclass

import numpy as np

from print3d.forms.orthosis import Part
from print3d.geometry.types import Floats, Ints

MOST_PLACES = 400
"""Places of a shell that are looked at, evenly over its pattern; own choice."""


@dataclass(frozen=True, eq=False)
class Stressed:
    """Places of a part and the direction in which each is bent: along a shell, around a ring.

    points, tangents : (n, 3), limb frame; tangents are unit vectors
    """

    points: Floats
    tangents: Floats


def stressed_along(part: Part) -> Stressed:
    """Return where and in which direction a part is bent.

    A shell is bent along its middle surface, a ring along its centre lines.
    """
    if part.rings:
        lines = [_on_middle(part, line) for line in part.rings]
        pieces = [np.roll(line, -1, axis=0) - line for line in lines]
        # a ring's last piece runs across the seam of its pattern, whose two ends are one place
        return _unit(np.vstack(lines), np.vstack(pieces))
    flat = part.shell.pattern_points
    flat = flat[:: max(1, len(flat) // MOST_PLACES)]
    return _unit(_on_middle(part, flat), part.definition.inner.derivatives(flat[:, 0], flat[:, 1])[0])


def layer_strength(tangents: Floats, directions: Floats, layer_factor: float) -> tuple[Floats, Ints]:
    """Return the least share of the strength left with each direction (n, 3) upward.

    Second comes which of the tangents (k, 3) has it.

    A stress s along a tangent pulls at the layers with s cos2(t), where t is the angle between tangent and upward direction
    (stress on an inclined plane); layers hold `layer_factor` of the strength in their plane. So the share is
    layer_factor / cos2(t), and never above 1.
    """
    squared = (tangents @ directions.T) ** 2
    weakest = np.argmax(squared, axis=0)
    most = squared[weakest, np.arange(len(directions))]
    return np.minimum(1.0, layer_factor / np.maximum(most, 1e-12)), weakest


def _on_middle(part: Part, flat: Floats) -> Floats:
    """Points (n, 3) half way through the wall."""
    return part.definition.points(flat[:, 0], flat[:, 1], np.full(len(flat), part.definition.wall_mm / 2))


def _unit(points: Floats, along: Floats) -> Stressed:
    length = np.linalg.norm(along, axis=1)
    real = length > 1e-9
    return Stressed(points[real], along[real] / length[real, None])
