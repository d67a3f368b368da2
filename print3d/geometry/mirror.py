"""From the modelled right hand to the hand of the case."""

from typing import Literal

from print3d.geometry.frames import mirrored
from print3d.geometry.mesh import Mesh


def handed(mesh: Mesh, side: Literal["left", "right"]) -> Mesh:
    """Return `mesh` for the asked hand: the right one as it is, the left one mirrored with its faces turned."""
    if side == "right":
        return mesh
    return Mesh(mirrored(mesh.vertices), mesh.faces[:, ::-1])
