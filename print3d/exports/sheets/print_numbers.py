"""What the print sheet says of each part; None where only the slicer or a print plan knows, which leaves room to write."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from print3d.geometry.mesh import Mesh
from print3d.inputs.materials import Material

MM3_PER_CM3 = 1000.0


@dataclass(frozen=True)
class PrintNumbers:
    """One part as it is printed.

    size_mm : (x, y, z) of the part as exported
    volume_cm3, mass_g : of the part, solid
    on_bed_mm : (x, y, z) of the part in its position on the bed
    support_mass_g, support_marks_mm2 : of its supports, and how much of the skin side they mark
    layers, minutes, strength_percent : of that position; strength across the layers against that in their plane
    """

    part: str
    size_mm: tuple[float, float, float]
    volume_cm3: float
    mass_g: float
    on_bed_mm: tuple[float, float, float] | None = None
    support_mass_g: float | None = None
    support_marks_mm2: float = 0.0
    layers: int | None = None
    minutes: float | None = None
    strength_percent: float | None = None


def from_meshes(meshes: Mapping[str, Mesh], material: Material) -> list[PrintNumbers]:
    """Return what the finished meshes alone tell: size, volume and mass."""
    numbers = []
    for name, mesh in meshes.items():
        size = np.ptp(mesh.vertices, axis=0)
        volume = mesh.volume_mm3() / MM3_PER_CM3
        mass = volume * material.density_g_per_cm3.value
        numbers.append(PrintNumbers(name, (float(size[0]), float(size[1]), float(size[2])), volume, mass))
    return numbers
