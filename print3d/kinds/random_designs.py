"""Random options of kinds for the population sweep (`tests/sweep`).

What shells and bands share lies here, a kind's own options in its `sweep.py`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from print3d.inputs.options import MOST_END_FORCE_N, MOST_TORQUE_N_MM, OPEN_WHEN_TOUCHING, STRAP_WIDTHS_MM

Rng = np.random.Generator
Table = dict[str, object]
Draw = Callable[[Rng, float], Table]
"""From a generator and the size of vents, straps and letters (1 for an adult) to the options of [orthosis]."""
Choice = TypeVar("Choice")


@dataclass(frozen=True)
class Sweep:
    """How a kind is drawn.

    share : of all bodies; shares of all kinds are taken against their sum
    draw : random options, inside what the kind allows
    large_printer_share : how often a large printer is chosen on purpose
    """

    share: float
    draw: Draw
    large_printer_share: float = 0.0


def between(rng: Rng, low: float, high: float) -> float:
    """Return a number with one digit after the point."""
    return round(float(rng.uniform(low, high)), 1)


def degrees(rng: Rng, low: int, high: int) -> float:
    """Return a whole angle, both ends included."""
    return float(rng.integers(low, high + 1))


def one(rng: Rng, *choices: Choice) -> Choice:
    """Return one of the choices."""
    return choices[rng.integers(len(choices))]


def some(rng: Rng, table: Mapping[str, object], share: float = 0.5) -> Table:
    """Return some of the keys; the others keep their defaults."""
    return {key: value for key, value in table.items() if rng.random() < share}


def shell(rng: Rng, size: float, *, is_forearm: bool) -> Table:
    """Return what every shell takes.

    A rim stays below half the wall and half the bridge between vents, as a message asks.
    """
    scale = 1.6 * size if is_forearm else size
    wall = between(rng, *((2.0, 4.0) if is_forearm else (1.4, 3.0)))
    rim = round(float(rng.uniform(max(0.3, 0.25 * wall), 0.47 * wall)), 2)
    chosen = {
        "clearance_mm": between(rng, 0.0, 2.0 if is_forearm else 1.2),
        "flare": _flare(rng, is_forearm=is_forearm),
        "straps": _straps(rng, size, is_forearm=is_forearm),
        "marking": _marking(rng, scale, wall),
        **_load(rng),
    }
    return {"wall_mm": wall, "rim_radius_mm": rim, "vents": _vents(rng, scale, rim), **some(rng, chosen)}


def band(rng: Rng, widths_mm: tuple[float, float]) -> Table:
    """Return what every band takes."""
    wall = between(rng, 1.4, 3.2)
    rim = round(float(rng.uniform(0.5, 0.47 * wall)), 2)
    width = max(between(rng, *widths_mm), round(2 * rim + 0.2, 1))
    chosen = {"clearance_mm": between(rng, 0.0, 0.8), "band_width_mm": width, **_load(rng)}
    return {"wall_mm": wall, "rim_radius_mm": rim, **some(rng, chosen)}


def _flare(rng: Rng, *, is_forearm: bool) -> Table:
    if is_forearm:
        return {"length_mm": between(rng, 6.0, 15.0), "height_mm": between(rng, 0.0, 4.0)}
    length = between(rng, 2.0, 6.0)
    return {"length_mm": length, "height_mm": between(rng, 0.0, min(1.5, 0.06 * length**2))}


def _vents(rng: Rng, scale: float, rim: float) -> Table:
    grid = one(rng, "hexagonal", "square", "none")
    diameter = max(1.0, round(float(rng.uniform(2.0, 4.5)) * scale, 1))
    if grid == "none":
        return {"grid": grid}
    vents: Table = {"grid": grid, "diameter_mm": diameter}
    bridge = round(2 * rim + float(rng.uniform(0.3, 3.0)), 1)
    if rng.random() < 0.3:
        share = round(OPEN_WHEN_TOUCHING[grid], 4) * (diameter / (diameter + bridge)) ** 2
        vents["open_fraction"] = max(0.01, min(0.6, round(share - 0.005, 3)))
    else:
        vents["pitch_mm"] = round(diameter + bridge, 1)
    margins = {
        "edge_margin_mm": round(2 * rim + 0.2 + float(rng.uniform(0.0, 3.0)) * scale, 1),
        "slot_margin_mm": round(float(rng.uniform(1.5, 4.0)) * scale + rim, 1),
        "bony_margin_mm": round(float(rng.uniform(2.0, 6.0)) * scale, 1),
    }
    return vents | some(rng, margins)


def _straps(rng: Rng, size: float, *, is_forearm: bool) -> Table:
    if is_forearm:
        widths = [width for width in STRAP_WIDTHS_MM if width <= 50.0 * size]
        straps: Table = {
            "style": one(rng, "slots", "slots", "slots", "none"),
            "width_mm": one(rng, *[width for width in widths if width <= 30.0 * size]),
            "forearm_width_mm": one(rng, *widths[1:]),
            "slot_gap_mm": between(rng, 2.5, 5.0),
        }
        return straps | ({"fingers_width_mm": 16.0} if rng.random() < 0.2 else {})
    return {
        "style": one(rng, "slots", "wrap", "none"),
        "width_mm": one(rng, 10.0, 10.0, 13.0, 16.0),
        "slot_gap_mm": between(rng, 1.5, 3.5),
    }


def _marking(rng: Rng, scale: float, wall: float) -> Table:
    style = one(rng, "raised", "engraved", "none")
    deepest = min(1.0, wall - 0.8) if style == "engraved" else 1.0
    depth = {"depth_mm": between(rng, 0.2, max(0.2, deepest))}
    height = {"letter_height_mm": round(max(2.0, float(rng.uniform(2.5, 5.5)) * scale), 1)}
    return {
        "style": style,
        **some(rng, height | (depth if style == "engraved" or rng.random() < 0.3 else {})),
    }


def _load(rng: Rng) -> Table:
    loads: Table = {
        "wear_hours_per_day": between(rng, 0.5, 24.0),
        "soft_tissue_compression": {
            "motion_mm": between(rng, 0.0, 2.0),
            "stop_mm": between(rng, 0.0, 1.0),
            "donning_mm": between(rng, 0.0, 1.0),
        },
    }
    pull: Table = one(
        rng,
        {},
        {"end_force_n": between(rng, 0.1, MOST_END_FORCE_N)},
        {"joint_torque_nmm": between(rng, 1.0, MOST_TORQUE_N_MM)},
    )
    return loads | pull
