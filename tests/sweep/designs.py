"""Random designs of every kind as the [orthosis] and [print] tables of a case file: every option that a kind has, inside what it allows."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from print3d.inputs.materials import read_materials, read_printers
from print3d.kinds.random_designs import Rng
from print3d.kinds.registry import KINDS
from tests.conftest import CASES

Table = dict[str, Any]
LARGE_PRINTERS = ("extrusion_large", "powder_bed_laser", "powder_bed_multi_jet")


def design(rng: Rng, kind: str, person: Mapping[str, Any]) -> Table:
    """Return the [orthosis] and [print] tables."""
    sweep = KINDS[kind].sweep
    orthosis = {"kind": kind, **sweep.draw(rng, _size(person))}
    return {"orthosis": orthosis, "print": _print(rng, sweep.large_printer_share)}


def any_kind(rng: Rng) -> str:
    """Return a kind by its share, those with the largest first."""
    shares = sorted(((kind.sweep.share, name) for name, kind in KINDS.items()), reverse=True)
    total = sum(share for share, _ in shares)
    return str(rng.choice([name for _, name in shares], p=[share / total for share, _ in shares]))


def _size(person: Mapping[str, Any]) -> float:
    """Size of vents, straps and letters: a child's are smaller."""
    age = person["measured"].get("age_years", 17.0)
    return float(np.interp(age, [2.0, 17.0], [0.55, 1.0]))


def _print(rng: Rng, large_printer_share: float) -> Table:
    """A material and a printer that go together."""
    materials, printers = read_materials(CASES.parent / "materials"), read_printers(CASES.parent / "printers")
    pairs = [
        (material, printer)
        for material, made in materials.items()
        for printer, machine in printers.items()
        if machine.process in made.processes
    ]
    if large_printer_share > 0.0 and rng.random() < large_printer_share:
        pairs = [pair for pair in pairs if pair[1] in LARGE_PRINTERS]
    material, printer = pairs[rng.integers(len(pairs))]
    return {"material": material, "printer": printer}
