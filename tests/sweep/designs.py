"""Random designs of every kind as the [orthosis] and [print] tables of a case file: every option that a kind has, inside what it allows."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from print3d.forms.protocols import SHIPPED
from print3d.inputs.materials import read_materials, read_printers
from print3d.inputs.options import MOST_END_FORCE_N, MOST_TORQUE_N_MM, STRAP_WIDTHS_MM
from tests.conftest import CASES

Rng = np.random.Generator
Table = dict[str, Any]

SHARES = {
    "pip_extension": 0.24,
    "mallet": 0.20,
    "mallet_with_pip_block": 0.18,
    "figure_of_eight": 0.16,
    "relative_motion": 0.14,
    "dorsal_blocking": 0.08,
}
"""How many bodies of each kind; a forearm costs some five times a finger."""
LARGE_PRINTERS = ("extrusion_large", "powder_bed_laser", "powder_bed_multi_jet")
LEAST_CHILD_RIM_MM = 0.3


def design(rng: Rng, kind: str, person: Mapping[str, Any]) -> Table:
    """Return the [orthosis] and [print] tables, and [override] where an option needs it."""
    orthosis = {"kind": kind, **MAKERS[kind](rng, _size(person))}
    return {"orthosis": orthosis, "print": _print(rng, kind)}


def any_kind(rng: Rng) -> str:
    return str(rng.choice(list(SHARES), p=list(SHARES.values())))


def _size(person: Mapping[str, Any]) -> float:
    """Size of vents, straps and letters: a child's are smaller."""
    age = person["measured"].get("age_years", 17.0)
    return float(np.interp(age, [2.0, 17.0], [0.55, 1.0]))


def _between(rng: Rng, low: float, high: float) -> float:
    """A number with one digit after the point."""
    return round(float(rng.uniform(low, high)), 1)


def _degrees(rng: Rng, low: int, high: int) -> float:
    return float(rng.integers(low, high + 1))


def _one(rng: Rng, *choices: Any) -> Any:
    return choices[rng.integers(len(choices))]


def _some(rng: Rng, table: Table, share: float = 0.5) -> Table:
    """Some of the keys; the others keep their defaults."""
    return {key: value for key, value in table.items() if rng.random() < share}


def _print(rng: Rng, kind: str) -> Table:
    """A material and a printer that go together; most forearms go to a large printer."""
    materials, printers = read_materials(CASES.parent / "materials"), read_printers(CASES.parent / "printers")
    pairs = [
        (material, printer)
        for material, made in materials.items()
        for printer, machine in printers.items()
        if machine.process in made.processes
    ]
    if kind == "dorsal_blocking" and rng.random() < 0.8:
        pairs = [pair for pair in pairs if pair[1] in LARGE_PRINTERS]
    material, printer = pairs[rng.integers(len(pairs))]
    return {"material": material, "printer": printer}


def _shell(rng: Rng, size: float, *, is_forearm: bool) -> Table:
    """What every shell takes. A rim stays below half the wall and half the bridge between vents, as a message asks."""
    scale = 1.6 * size if is_forearm else size
    wall = _between(rng, *((2.0, 4.0) if is_forearm else (1.4, 3.0)))
    rim = round(float(rng.uniform(max(0.3, 0.25 * wall), 0.47 * wall)), 2)
    chosen = {
        "clearance_mm": _between(rng, 0.0, 2.0 if is_forearm else 1.2),
        "flare": _flare(rng, is_forearm=is_forearm),
        "straps": _straps(rng, size, is_forearm=is_forearm),
        "marking": _marking(rng, scale, wall),
        **_load(rng),
    }
    return {"wall_mm": wall, "rim_radius_mm": rim, "vents": _vents(rng, scale, rim), **_some(rng, chosen)}


def _flare(rng: Rng, *, is_forearm: bool) -> Table:
    if is_forearm:
        return {"length_mm": _between(rng, 6.0, 15.0), "height_mm": _between(rng, 0.0, 4.0)}
    length = _between(rng, 2.0, 6.0)
    return {"length_mm": length, "height_mm": _between(rng, 0.0, min(1.5, 0.06 * length**2))}


def _vents(rng: Rng, scale: float, rim: float) -> Table:
    grid = _one(rng, "hexagonal", "square", "none")
    diameter = round(float(rng.uniform(2.0, 4.5)) * scale, 1)
    vents: Table = {"grid": grid, "diameter_mm": max(1.0, diameter)}
    if grid == "none":
        return {"grid": grid}
    bridge = round(2 * rim + float(rng.uniform(0.3, 3.0)), 1)
    if rng.random() < 0.3:
        touching = {"hexagonal": 0.9069, "square": 0.7854}[grid]
        share = touching * (vents["diameter_mm"] / (vents["diameter_mm"] + bridge)) ** 2
        vents["open_fraction"] = max(0.01, min(0.6, round(float(share) - 0.005, 3)))
    else:
        vents["pitch_mm"] = round(vents["diameter_mm"] + bridge, 1)
    margins = {
        "edge_margin_mm": round(2 * rim + 0.2 + float(rng.uniform(0.0, 3.0)) * scale, 1),
        "slot_margin_mm": round(float(rng.uniform(1.5, 4.0)) * scale + rim, 1),
        "bony_margin_mm": round(float(rng.uniform(2.0, 6.0)) * scale, 1),
    }
    return vents | _some(rng, margins)


def _straps(rng: Rng, size: float, *, is_forearm: bool) -> Table:
    if is_forearm:
        widths = [width for width in STRAP_WIDTHS_MM if width <= 50.0 * size]
        straps: Table = {
            "style": _one(rng, "slots", "slots", "slots", "none"),
            "width_mm": _one(rng, *[width for width in widths if width <= 30.0 * size]),
            "forearm_width_mm": _one(rng, *widths[1:]),
            "slot_gap_mm": _between(rng, 2.5, 5.0),
        }
        return straps | ({"fingers_width_mm": 16.0} if rng.random() < 0.2 else {})
    return {
        "style": _one(rng, "slots", "wrap", "none"),
        "width_mm": _one(rng, 10.0, 10.0, 13.0, 16.0),
        "slot_gap_mm": _between(rng, 1.5, 3.5),
    }


def _marking(rng: Rng, scale: float, wall: float) -> Table:
    style = _one(rng, "raised", "engraved", "none")
    deepest = min(1.0, wall - 0.8) if style == "engraved" else 1.0
    depth = {"depth_mm": _between(rng, 0.2, max(0.2, deepest))}
    height = {"letter_height_mm": round(max(2.0, float(rng.uniform(2.5, 5.5)) * scale), 1)}
    return {
        "style": style,
        **_some(rng, height | (depth if style == "engraved" or rng.random() < 0.3 else {})),
    }


def _load(rng: Rng) -> Table:
    loads: Table = {
        "wear_hours_per_day": _between(rng, 0.5, 24.0),
        "squeeze": {
            "motion_mm": _between(rng, 0.0, 2.0),
            "stop_mm": _between(rng, 0.0, 1.0),
            "donning_mm": _between(rng, 0.0, 1.0),
        },
    }
    pull: Table = _one(
        rng,
        {},
        {"end_force_n": _between(rng, 0.1, MOST_END_FORCE_N)},
        {"joint_torque_nmm": _between(rng, 1.0, MOST_TORQUE_N_MM)},
    )
    return loads | pull


def _band(rng: Rng, widths: tuple[float, float]) -> Table:
    wall = _between(rng, 1.4, 3.2)
    rim = round(float(rng.uniform(0.5, 0.47 * wall)), 2)
    width = max(_between(rng, *widths), round(2 * rim + 0.2, 1))
    chosen = {"clearance_mm": _between(rng, 0.0, 0.8), "band_width_mm": width, **_load(rng)}
    return {"wall_mm": wall, "rim_radius_mm": rim, **_some(rng, chosen)}


def _pip_extension(rng: Rng, size: float) -> Table:
    form = _one(rng, "volar", "dorsal", "sleeve")
    angle = _degrees(rng, 0, 90) if rng.random() < 0.7 else 0.0
    return {"form": form, "pip_flexion_deg": angle, **_shell(rng, size, is_forearm=False)}


def _mallet(rng: Rng, size: float) -> Table:
    form = _one(rng, "volar", "dorsal", "sleeve")
    return {
        "form": form,
        "dip_hyperextension_deg": _degrees(rng, 0, 10),
        **_shell(rng, size, is_forearm=False),
    }


def _mallet_with_pip_block(rng: Rng, size: float) -> Table:
    options: Table = {
        "pieces": _one(rng, "one", "two"),
        "dip_hyperextension_deg": _degrees(rng, 0, 10),
        "pip_flexion_deg": _degrees(rng, 10, 45),
        **_shell(rng, size, is_forearm=False),
    }
    if options["pieces"] == "two" and rng.random() < 0.5:
        ring = _band(rng, (3.0, 6.0))
        options["ring"] = {
            key: ring[key]
            for key in ("wall_mm", "rim_radius_mm", "clearance_mm", "band_width_mm")
            if key in ring
        }
    return options


def _figure_of_eight(rng: Rng, size: float) -> Table:
    lever = {"lever_mm": _between(rng, 7.0, 14.0)} if rng.random() < 0.2 else {}
    return {
        "blocks": _one(rng, "extension", "flexion"),
        "pip_flexion_deg": _degrees(rng, 0, 45),
        **_band(rng, (3.0, 8.0)),
        **lever,
    }


def _relative_motion(rng: Rng, size: float) -> Table:
    return {
        "injured_finger": _one(rng, "more_extended", "more_flexed"),
        "fingers": _one(rng, "three", "four"),
        "mcp_difference_deg": _degrees(rng, 10, 30),
        "neighbour_mcp_flexion_deg": _degrees(rng, 0, 60),
        **_band(rng, (6.0, 14.0)),
    }


def _dorsal_blocking(rng: Rng, size: float) -> Table:
    options: Table = _shell(rng, size, is_forearm=True)
    if rng.random() < 0.3:
        return options | {"protocol": str(rng.choice(_protocols()))}
    options["mcp_flexion_deg"] = _degrees(rng, 20, 80)
    options |= _some(
        rng, {"beyond_tips_mm": _between(rng, 5.0, 15.0), "ip_flexion_deg": _degrees(rng, 0, 10)}, 0.3
    )
    if rng.random() < 0.2:
        name = str(rng.choice(["index", "middle", "ring", "little"]))
        options[f"{name}_mcp_flexion_deg"] = min(90.0, options["mcp_flexion_deg"] + _degrees(rng, 0, 15))
    if rng.random() < 0.35:
        return options | {"form": "hand"}
    options |= {_one(rng, "wrist_flexion_deg", "wrist_extension_deg"): _degrees(rng, 0, 45)}
    if rng.random() < 0.3:
        options |= _one(
            rng,
            {"wrist_ulnar_deviation_deg": _degrees(rng, 1, 20)},
            {"wrist_radial_deviation_deg": _degrees(rng, 1, 10)},
        )
    if rng.random() < 0.2:
        options["wrist_ribs"] = {"count": int(rng.integers(1, 4))}
    return options


def _protocols() -> list[str]:
    import tomllib

    return list(tomllib.loads(SHIPPED.read_text(encoding="utf-8")))


MAKERS: Mapping[str, Callable[[Rng, float], Table]] = {
    "pip_extension": _pip_extension,
    "mallet": _mallet,
    "mallet_with_pip_block": _mallet_with_pip_block,
    "figure_of_eight": _figure_of_eight,
    "relative_motion": _relative_motion,
    "dorsal_blocking": _dorsal_blocking,
}
