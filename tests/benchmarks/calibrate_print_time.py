"""Fit the constants of the print time model to PrusaSlicer on every other part, and try them on the rest.

Run: python tests/benchmarks/calibrate_print_time.py [case ...]   (forearm cases take minutes each)
Prints figures for `[extrusion]` and `[extrusion.pace]` in print3d/inputs/data/printers.toml, and both errors.
"""

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from print3d.inputs.materials import Printer
from print3d.printing.layers import Layers, cut_into_layers
from print3d.printing.timing import print_seconds
from tests.validation.test_slicer import ALL, PRINTER, shipped, sliced_stl

KEYS = ("start_s", "layer_s", "outline_mm_per_s", "fill_mm_per_s", "support_mm_per_s", "contour_s")
FIRST_GUESS = (30.0, 0.5, 22.0, 35.0, 40.0, 0.5)
HOLD = 0.05
"""A weak pull to the first guess: speeds of outlines and of filling can hardly be told apart on thin walls."""


@dataclass(frozen=True, eq=False)
class Sample:
    """One sliced part."""

    name: str
    layers: Layers
    support_mm3: float
    seconds: float


def sample(name: str, folder: Path) -> list[Sample]:
    files, found = shipped(name, folder), []
    for number, (part, plan) in enumerate(zip(files.built.modelled.parts, files.built.plans, strict=True)):
        theirs = sliced_stl(files, number, folder).slicer
        layers = cut_into_layers(part.shell.mesh, plan.up, files.built.case.printer.layer_mm.value)
        assert PRINTER.support_share is not None
        support = PRINTER.support_share.value * plan.supports.volume_mm3
        found.append(Sample(f"{name}, {part.name}", layers, support, theirs.seconds))
        print(f"{found[-1].name}: {theirs.seconds / 60:.0f} min", flush=True)
    return found


def printer_with(values: np.ndarray) -> Printer:
    figures = {
        key: {"value": float(value), "source": "fitted", "mark": "computed"}
        for key, value in zip(KEYS, values, strict=True)
    }
    data = PRINTER.model_dump()
    for key, figure in figures.items():
        (data if key in data else data["pace"])[key] = figure
    return Printer.model_validate(data)


def errors(values: np.ndarray, samples: list[Sample]) -> np.ndarray:
    """Logarithms of our time over the slicer's."""
    printer = printer_with(values)
    ours = [print_seconds(each.layers, each.support_mm3, printer) or np.nan for each in samples]
    return np.log(np.array(ours) / [each.seconds for each in samples])


def main(names: list[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        samples = [each for name in names for each in sample(name, Path(folder))]
    fitted, held_out = samples[1::2], samples[0::2]
    guess = np.log(FIRST_GUESS)

    def residuals(logs: np.ndarray) -> np.ndarray:
        return np.concatenate([errors(np.exp(logs), fitted), HOLD * (logs - guess)])

    values = np.exp(least_squares(residuals, guess, bounds=(guess - 2.0, guess + 2.0)).x)
    print(", ".join(f"{key} = {value:.3g}" for key, value in zip(KEYS, values, strict=True)))
    for title, group in (("fitted", fitted), ("held out", held_out)):
        for each, error in zip(group, np.expm1(errors(values, group)), strict=True):
            print(f"{title:9} {error:+.1%}  {each.name}")


if __name__ == "__main__":
    main(sys.argv[1:] or [name for name in ALL if not name.startswith("dorsal")])
