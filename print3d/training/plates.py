"""Bodies laid out on as few beds as a packer finds, box by box."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from print3d.errors import InputError
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.language.message import message

APART_MM = 6.0
"""Free room around every part; a brim of 5 mm fits; own choice."""
PER_MM = 100
"""The packer counts in whole numbers: hundredths of a millimetre."""

Plate = dict[str, Mesh]


def packed(parts: Mapping[str, Mesh], bed_mm: tuple[float, float, float]) -> list[Plate]:
    """Return plates with the parts moved to their places.

    Parts stand on z = 0; the bed's corner is the origin.

    parts : by name, z up; each may be turned by 90 degrees

    Raises InputError if a part is larger than the bed.
    """
    import rectpack

    room = np.array(bed_mm[:2]) - APART_MM
    packer = rectpack.newPacker(rotation=True, bin_algo=rectpack.PackingBin.BBF)
    for name, mesh in parts.items():
        size = np.ptp(mesh.vertices, axis=0)
        if size[2] > bed_mm[2] or (np.sort(size[:2] + APART_MM) > np.sort(room)).any():
            shown = " x ".join(f"{side:.0f}" for side in size)
            offered = " x ".join(f"{side:.0f}" for side in bed_mm)
            raise InputError(message("refusals.training.too_large", part=name, size=shown, bed=offered))
        packer.add_rect(*_whole(size[:2] + APART_MM), rid=name)
    packer.add_bin(*(_whole(room) - 1), count=float("inf"))
    packer.pack()
    plates: list[Plate] = [{} for _ in packer]
    for plate, x, y, width, height, name in packer.rect_list():
        box = np.array([x, y, width, height]) / PER_MM
        plates[plate][name] = _laid(parts[name], box[:2] + APART_MM, box[2:] - APART_MM)
    return [dict(sorted(plate.items())) for plate in plates]


def overlap_mm(plate: Plate) -> float:
    """Return how deep the boxes of two parts of a plate run into each other at most.

    It is negative where all stand apart.
    """
    boxes = [(mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)) for mesh in plate.values()]
    deepest = -np.inf
    for number, (low, high) in enumerate(boxes):
        for other_low, other_high in boxes[:number]:
            shared = np.minimum(high, other_high)[:2] - np.maximum(low, other_low)[:2]
            deepest = max(deepest, float(shared.min()))
    return deepest


def _whole(lengths: Floats) -> NDArray[np.int64]:
    return np.ceil(lengths * PER_MM).astype(np.int64)


def _laid(mesh: Mesh, corner: Floats, size: Floats) -> Mesh:
    """Return a body with its box at a corner, turned if the box lies the other way."""
    vertices = mesh.vertices
    own = np.ptp(vertices, axis=0)[:2]
    if np.abs(own - size).max() > 0.05:
        vertices = np.column_stack([-vertices[:, 1], vertices[:, 0], vertices[:, 2]])
    shift = np.append(corner, 0.0) - vertices.min(axis=0)
    return Mesh(vertices + shift, mesh.faces)
