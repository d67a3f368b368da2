"""PrusaSlicer as an independent judge of files, volumes, masses and print times; used in tests alone, where it is installed."""

import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from print3d.inputs.materials import Material, Printer

PROGRAM = shutil.which("prusa-slicer")

BEDS = 3
"""The slicer's bed is so many times the printer's either way: a file of several parts may need several beds, and time and mass do not
depend on the bed."""


@dataclass(frozen=True)
class Info:
    """What the slicer says of a file before slicing."""

    volume_mm3: float
    is_manifold: bool
    open_edges: int
    repairs: tuple[str, ...]


@dataclass(frozen=True)
class Estimate:
    """What the slicer says of the printed job, supports included."""

    seconds: float
    mass_g: float


def info(path: Path) -> Info:
    """Ask about the bodies of a file, all together."""
    text = _run("--info", str(path))
    values = re.findall(r"^(\w+) = (\S+)", text, re.MULTILINE)
    volumes = [float(value) for key, value in values if key == "volume"]
    repairs = tuple(f"{key} {value}" for key, value in values if _is_repair(key, value))
    return Info(
        sum(volumes),
        bool(volumes) and all(value == "yes" for key, value in values if key == "manifold"),
        sum(int(value) for key, value in values if key == "open_edges"),
        repairs,
    )


def estimate(
    path: Path,
    folder: Path,
    printer: Printer,
    material: Material,
    bed_from_file: NDArray[np.float64] | None = None,
) -> Estimate:
    """Slice a file as it is, with the settings that the time model stands for.

    bed_from_file : (4, 4), how the slicer is told to turn it first; None where it lies as it is to be printed
    """
    out, config = folder / f"{path.name}.gcode", folder / "settings.ini"
    lines = [f"{key} = {value}" for key, value in settings(printer, material).items()]
    config.write_text("\n".join(lines) + "\n", encoding="utf-8")
    turns = [] if bed_from_file is None else _turns(bed_from_file)
    _run("--export-gcode", "--load", str(config), *turns, "-o", str(out), str(path))
    text = out.read_text(encoding="utf-8", errors="replace")
    time = re.search(r"estimated printing time \(normal mode\) = (.*)", text)
    mass = re.search(r"^; filament used \[g\] = ([\d.]+)", text, re.MULTILINE)
    assert time is not None, f"no estimate in {out}"
    assert mass is not None, f"no mass in {out}"
    return Estimate(_seconds(time[1]), float(mass[1]))


def settings(printer: Printer, material: Material) -> dict[str, object]:
    """Return solid parts, supports where needed, moderate speeds; all else as the slicer has it."""
    width, depth = (BEDS * side for side in printer.bed_mm[:2])
    assert printer.nozzle_mm is not None
    assert printer.max_overhang_deg is not None
    return {
        "bed_shape": f"0x0,{width:g}x0,{width:g}x{depth:g},0x{depth:g}",
        "layer_height": printer.layer_mm.value,
        "first_layer_height": printer.layer_mm.value,
        "nozzle_diameter": printer.nozzle_mm.value,
        "filament_diameter": 1.75,
        "filament_density": material.density_g_per_cm3.value,
        "perimeters": 3,
        "fill_density": "100%",
        "fill_pattern": "rectilinear",
        "support_material": 1,
        "support_material_threshold": 90 - printer.max_overhang_deg.value,
        "support_material_style": "snug",
        "support_material_with_sheath": 0,
        "support_material_spacing": 2,
        "support_material_interface_layers": 2,
        "external_perimeter_speed": 30,
        "perimeter_speed": 45,
        "infill_speed": 60,
        "solid_infill_speed": 60,
        "top_solid_infill_speed": 40,
        "gap_fill_speed": 30,
        "support_material_speed": 50,
        "travel_speed": 130,
    }


def _turns(bed_from_file: NDArray[np.float64]) -> list[str]:
    """A rotation as the slicer takes it: about x, then y, then z, each about a fixed axis."""
    angles = Rotation.from_matrix(bed_from_file[:3, :3]).as_euler("xyz", degrees=True)
    return [
        f"{key}={angle:.6f}"
        for key, angle in zip(("--rotate-x", "--rotate-y", "--rotate"), angles, strict=True)
    ]


def _run(*arguments: str) -> str:
    assert PROGRAM is not None
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, timeout=7200, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


def _is_repair(key: str, value: str) -> bool:
    return (
        key in {"degenerate_facets", "edges_fixed", "facets_removed", "facets_reversed", "backwards_edges"}
        and value != "0"
    )


def _seconds(text: str) -> float:
    """Read `1d 2h 3m 4s`."""
    units = {"d": 86400, "h": 3600, "m": 60, "s": 1}
    return float(sum(int(number) * units[unit] for number, unit in re.findall(r"(\d+)([dhms])", text)))
