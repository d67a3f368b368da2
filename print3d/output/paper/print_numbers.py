"""What the print sheet says of each part, all of it from its print plan and its finished mesh."""

from dataclasses import dataclass

import numpy as np

from print3d.built import Built
from print3d.geometry.mesh import Mesh
from print3d.printing.plan import PrintPlan

MM3_PER_CM3 = 1000.0
"""10 mm to the centimetre."""


@dataclass(frozen=True, eq=False)
class PrintNumbers:
    """One part as it is printed.

    mesh : of the hand of the case, as exported
    plan : its best position and what that costs
    """

    mesh: Mesh
    plan: PrintPlan

    @property
    def part(self) -> str:
        """The part's name."""
        return self.plan.part

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """(x, y, z) of the part as exported."""
        x, y, z = np.ptp(self.mesh.vertices, axis=0)
        return float(x), float(y), float(z)

    @property
    def volume_cm3(self) -> float:
        """Of the part, solid."""
        return self.mesh.volume_mm3() / MM3_PER_CM3


def print_numbers(built: Built) -> list[PrintNumbers]:
    """Return the numbers of every part of a case."""
    return [PrintNumbers(built.meshes[plan.part], plan) for plan in built.plans]
