"""A triangle mesh as two arrays, and the few numbers every stage wants from it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from print3d.geometry.frames import apply
from print3d.geometry.types import Floats, Ints


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles with shared vertices.

    vertices : (n, 3) mm, limb frame
    faces : (m, 3) vertex indices, counter-clockwise seen from outside
    """

    vertices: Floats
    faces: Ints

    def corners(self) -> Floats:
        """Return the corner points (m, 3, 3) of every face."""
        return self.vertices[self.faces]

    def volume_mm3(self) -> float:
        """Return the enclosed volume (divergence theorem); meaningful for a closed mesh."""
        a, b, c = np.moveaxis(self.corners(), 1, 0)
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)

    def area_vectors(self) -> Floats:
        """Return outward area vectors (m, 3) mm2."""
        a, b, c = np.moveaxis(self.corners(), 1, 0)
        return 0.5 * np.cross(b - a, c - a)

    def moved(self, frame: Floats) -> "Mesh":
        """Return the mesh moved by a (4, 4) transform."""
        return Mesh(apply(frame, self.vertices), self.faces)


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Return several meshes as one."""
    starts = np.cumsum([0, *(len(each.vertices) for each in meshes)])
    return Mesh(
        np.vstack([each.vertices for each in meshes]),
        np.vstack([each.faces + start for each, start in zip(meshes, starts[:-1], strict=True)]),
    )
