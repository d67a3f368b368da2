"""How an orthosis bears on skin: stiff bones press through skin that yields evenly, and it only pushes.

Skin is a bed of equal springs (Winkler foundation): pressure grows with how far it is pressed in, and there is none where it
lifts off. The bones and the orthosis may move as the rows say; they come to rest where all forces balance. As every spring is alike,
their stiffness falls out: forces and pressures follow from the shape alone and grow with the load.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from print3d.geometry.types import Floats, Ints

MOST_ROUNDS = 200
"""Most steps of Newton's method; own choice."""
FAINT = 1e-7
"""A spring on every motion, as a share of the stiffest: where nothing holds, it lets go by a thousand times and more."""
LEAST_HELD = 0.98
"""A bed that takes less of the load than this does not hold it."""

PEAK_AREA_MM2 = 25.0
"""Skin over which a peak is taken: what a fingertip feels as one place, and larger than the patches; own choice."""
MOST_NEIGHBOURS = 128
"""Patches around one that are looked at: of the smallest, half a mm2 each, twice as many as make a peak."""


@dataclass(frozen=True, eq=False)
class Bed:
    """Small patches of skin that can be pressed.

    points : (n, 3) mm
    normals : (n, 3) unit, out of the skin, towards what it bears on
    areas : (n,) mm2
    rows : (n, m) how far each is pressed in per unit of each motion
    zones : (n,) number of the zone each belongs to
    """

    points: Floats
    normals: Floats
    areas: Floats
    rows: Floats
    zones: Ints


@dataclass(frozen=True, eq=False)
class Zone:
    """What one zone carries.

    force : (3,) N, on the orthosis
    centre : (3,) mm, where it acts
    area_mm2 : that carries: the load on it over its mean pressure
    mean_kpa : mean pressure as the load meets it (each newton counts alike, so that skin that is barely touched thins nothing out)
    """

    force: Floats
    centre: Floats
    area_mm2: float
    mean_kpa: float


def pressures(bed: Bed, load: Floats) -> Floats | None:
    """Return the pressures (n,) MPa that balance a load (m,) on the motions; None if nothing holds it.

    The motions minimise a convex energy, quadratic as long as the same skin is touched: Newton's method with shorter steps
    where that changes.
    """
    whole = bed.rows.T @ (bed.areas[:, None] * bed.rows)
    stiffest = np.diag(whole)
    faint = FAINT * np.diag(np.maximum(stiffest, FAINT * stiffest.max()))
    motion = np.asarray(np.linalg.solve(whole + faint, load))

    def energy(at: NDArray[Any]) -> float:
        pressed = np.maximum(bed.rows @ at, 0.0)
        return float(0.5 * bed.areas @ pressed**2 + 0.5 * at @ faint @ at - load @ at)

    for _ in range(MOST_ROUNDS):
        touched = bed.rows @ motion > 0.0
        rows, areas = bed.rows[touched], bed.areas[touched]
        stiffness = rows.T @ (areas[:, None] * rows) + faint
        step = np.linalg.solve(stiffness, load) - motion
        share, here = 1.0, energy(motion)
        while energy(motion + share * step) > here and share > 1e-6:
            share /= 2.0
        motion = motion + share * step
        if share == 1.0 and np.array_equal(bed.rows @ motion > 0.0, touched):
            break
    pressed = np.maximum(bed.rows @ motion, 0.0)
    taken = bed.rows.T @ (bed.areas * pressed)
    held = float(taken @ load / (load @ load))
    return pressed if held > LEAST_HELD else None


def zone_of(bed: Bed, pressed: Floats, number: int) -> Zone | None:
    """Return what a zone carries, or None if it carries nothing."""
    mine = (bed.zones == number) & (pressed > 0.0)
    if not mine.any():
        return None
    load = pressed[mine] * bed.areas[mine]
    total, mean = float(load.sum()), float(load @ pressed[mine] / load.sum())
    return Zone(
        force=load @ bed.normals[mine],
        centre=load @ bed.points[mine] / total,
        area_mm2=total / mean,
        mean_kpa=1000.0 * mean,
    )


def most_pressed(bed: Bed, pressed: Floats, chosen: NDArray[np.bool_]) -> tuple[float, int]:
    """Return the highest mean pressure (kPa) over 25 mm2 of skin that hang together, and the patch in their middle.

    Around every chosen patch the nearest ones are taken until they are so large, the last of them in part: how finely the skin
    is cut does not matter. What is smaller altogether is taken as a whole.
    """
    numbers = np.flatnonzero(chosen)
    points, areas, pressure = bed.points[numbers], bed.areas[numbers], pressed[numbers]
    count = min(len(numbers), MOST_NEIGHBOURS)
    near = KDTree(points).query(points, k=[*range(1, count + 1)])[1]
    taken = np.clip(PEAK_AREA_MM2 - (np.cumsum(areas[near], axis=1) - areas[near]), 0.0, areas[near])
    mean = (taken * pressure[near]).sum(axis=1) / taken.sum(axis=1)
    middle = int(np.argmax(mean))
    return 1000.0 * float(mean[middle]), int(numbers[middle])
