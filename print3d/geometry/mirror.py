"""From the modelled right hand to the hand of the case: the one place where sides differ."""

from typing import Literal

import numpy as np

from print3d.geometry.frames import mirrored
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats

Side = Literal["left", "right"]


def mirror_for_side(mesh: Mesh, side: Side) -> Mesh:
    """Return `mesh` for the asked hand: the right one as it is, the left one mirrored with its faces turned."""
    if side == "right":
        return mesh
    return Mesh(mirrored(mesh.vertices), mesh.faces[:, ::-1])


def points_for_side(points: Floats, side: Side) -> Floats:
    """Return points or arrows (n, 3), or one (3,), for the asked hand."""
    return points if side == "right" else mirrored(points)


def axis_for_side(axis: Floats, side: Side) -> Floats:
    """Return an axis of rotation (3,) for the asked hand.

    A mirror reverses the way of turning, so the axis is reversed beside being mirrored as an arrow is.
    """
    return axis if side == "right" else -mirrored(axis)


def turn_for_side(rotation: Floats, side: Side) -> Floats:
    """Return a rotation (3, 3) between two mirrored frames, for the asked hand."""
    flip = np.diag([1.0, -1.0, 1.0])
    return rotation if side == "right" else flip @ rotation @ flip
