"""What every kind returns: the finished parts, the limb they sit on, and what they hold and free."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from print3d.limb.finger import FingerJoint, FingerLimb, Segment
from print3d.shell.definition import ShellDefinition
from print3d.shell.mesh import ShellMesh

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class FreeArc:
    """A joint that must stay free, and the arc it is swept through (flexion positive)."""

    joint: FingerJoint
    from_deg: float
    to_deg: float


@dataclass(frozen=True, eq=False)
class Part:
    """One printed body.

    planned_gap_mm : (n_flat,) clearance planned between skin and inner face at each point of the
        flat triangulation (`mesh.pattern_points`)
    """

    name: str
    definition: ShellDefinition
    mesh: ShellMesh
    planned_gap_mm: Floats


@dataclass(frozen=True, eq=False)
class Orthosis:
    """A finished orthosis on its limb.

    carrier : the segment the orthosis moves with when a free joint moves
    held : joint -> flexion (degrees) at which it is held
    freed : joints that stay free, each with the arc that is swept
    """

    kind: str
    limb: FingerLimb
    parts: tuple[Part, ...]
    carrier: Segment
    held: Mapping[FingerJoint, float]
    freed: tuple[FreeArc, ...]
