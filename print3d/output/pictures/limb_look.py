"""How limb and straps look in every picture.

Skin with its nails and creases is one body, so that no mark shows through a finger.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.types import Floats
from print3d.output.pictures.render import DrawnBody

LIMB_COLOUR = np.array([0.93, 0.80, 0.71])
"""Skin; red, green and blue from 0 to 1; own choice."""
MARK_COLOUR: Mapping[str, Floats] = {
    "nail": np.array([0.99, 0.91, 0.90]),
    "crease": np.array([0.70, 0.50, 0.42]),
}
"""Nails lighter than skin, creases darker; own choice."""
STRAP_COLOUR = np.array([0.27, 0.30, 0.33])
"""Dark grey; red, green and blue from 0 to 1; own choice."""

Marks = Sequence[tuple[str, Mesh]]
"""Nails and creases, each with its sort."""


def drawn_limb(limb: Mesh, marks: Marks) -> DrawnBody:
    """Return a limb with its marks as one body to draw."""
    meshes = [limb, *(mesh for _, mesh in marks)]
    tints = [LIMB_COLOUR, *(MARK_COLOUR[sort] for sort, _ in marks)]
    colours = np.vstack(
        [np.tile(tint, (len(mesh.vertices), 1)) for mesh, tint in zip(meshes, tints, strict=True)]
    )
    return DrawnBody(joined(meshes), colours, has_lines=False)
