"""Where the rims of an opening stand widest.

There is least material left beside it, and least way through it.
"""

from print3d.forms.orthosis import Part
from print3d.geometry.types import Floats


def rim_walls(part: Part) -> list[Floats]:
    """Return the edges (2, n, 3) of every rim's straight wall: towards the skin, and towards the outer face.

    A full half round has no straight wall; both edges are then its outermost line. Boundary first, then the openings.
    """
    vertices = part.shell.mesh.vertices
    quarter = (len(part.definition.rim_profile()) + 1) // 2
    return [vertices[rim[[quarter - 1, len(rim) - quarter]]] for rim in part.shell.rims]
