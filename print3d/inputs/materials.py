"""Materials and printing processes: figures, each with its source and how well it is known.

The shipped ones lie in `data/`; a TOML file in `params/materials` or `params/printers` replaces one by its name or adds
a new one.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Literal, TypeVar

from pydantic import Field

from print3d.inputs.problems import Problem, refusal
from print3d.inputs.table import GivenValues, Section
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import validate
from print3d.language.message import Message, as_it_stands, entry_of_table, message

DATA = Path(__file__).parent / "data"

MOST_SHARE_OF_STRENGTH = 0.7
"""An allowable stress that nobody read in a source is at most this share of the strength: printed plastics yield at 0.6 to 0.8 of it, from
memory; own choice."""

Process = Literal["extrusion", "powder_bed_laser", "powder_bed_multi_jet", "resin"]
Mark = Literal["seen", "seen, 2nd-hand", "computed", "memory"]
"""How a figure is known: read in the source; read in a summary of it; worked out; remembered, so to be verified."""
READ: tuple[Mark, ...] = ("seen", "seen, 2nd-hand")


class Figure(Section):
    """One number with where it comes from."""

    value: float = Field(gt=0, description="The number, in the unit of its key")
    source: str = Field(min_length=3, description="Where it was read, or how it was worked out")
    mark: Mark = Field(description="How well it is known")

    @property
    def origin(self) -> Message:
        """Where it comes from: a shipped figure names words of the catalogue, a clinic's own stand as they are."""
        return entry_of_table(self.source)


class Material(Section):
    """What the strength, weight and care checks need to know of a printed material."""

    title: str = Field(min_length=1, description="Name as printed on sheets")
    processes: tuple[Process, ...] = Field(strict=False, min_length=1, description="How it can be printed")
    modulus_mpa: Figure = Field(description="Young's modulus in the plane of the layers")
    strength_mpa: Figure = Field(description="Tensile strength in the plane of the layers")
    allowable_mpa: Figure = Field(description="Conservative yield in the plane of the layers, for checks")
    layer_factor: Figure = Field(description="Share of the allowable stress that holds across the layers")
    strain_at_break_percent: Figure = Field(description="Strain at break")
    density_g_per_cm3: Figure = Field(description="Density of the printed part")
    heat_ceiling_c: Figure = Field(description="Keep it below this")
    glass_transition_c: Figure | None = Field(None, description="Where it turns soft, if it has such a point")

    @classmethod
    def contradictions(cls, given: GivenValues) -> list[Problem]:
        """Return figures that cannot be true together."""
        problems = list(_allowable_problems(given))
        factor = given.get("layer_factor.value")
        if factor is not None and factor > 1:
            problems.append(
                Problem("layer_factor.value", factor, message("refusals.materials.at_most", most=1))
            )
        return problems

    @property
    def yield_strain(self) -> float:
        """Strain at the allowable stress."""
        return self.allowable_mpa.value / self.modulus_mpa.value


class Pace(Section):
    """How fast a nozzle works; see `printing/timing.py` for the model."""

    line_mm: Figure = Field(description="Width of a printed line")
    outline_mm_per_s: Figure = Field(description="Mean speed along the outlines of a layer, turns included")
    fill_mm_per_s: Figure = Field(description="Mean speed along the lines that fill a layer")
    support_mm_per_s: Figure = Field(description="Mean speed along the lines of supports")
    contour_s: Figure = Field(description="Way to a contour and back to printing")
    cooling_s: Figure = Field(description="Least time for a layer, so that it cools")


class Printer(Section):
    """What a printing process can make."""

    title: str = Field(min_length=1, description="Name as printed on sheets")
    process: Process = Field(description="Process of the machine")
    bed_width_mm: Figure = Field(description="Build space, x")
    bed_depth_mm: Figure = Field(description="Build space, y")
    bed_height_mm: Figure = Field(description="Build space, z")
    min_wall_mm: Figure = Field(description="Thinnest wall")
    recommended_wall_mm: Figure = Field(description="Wall advised for parts in use")
    min_hole_mm: Figure = Field(description="Smallest hole that stays open")
    min_gap_mm: Figure = Field(description="Smallest gap that stays open")
    min_text_width_mm: Figure = Field(description="Narrowest stroke of a letter")
    min_text_height_mm: Figure = Field(description="Lowest capital letter that can be read")
    min_text_depth_mm: Figure = Field(description="Least height or depth of letters")
    min_fillet_mm: Figure = Field(description="Smallest rounding that is kept")
    tolerance_mm: Figure = Field(description="A printed size lies within plus or minus this")
    layer_mm: Figure = Field(description="Layer height")
    nozzle_mm: Figure | None = Field(None, description="Nozzle diameter, material extrusion only")
    max_overhang_deg: Figure | None = Field(
        None, description="Overhang from upright without support, if any is needed"
    )
    max_bridge_mm: Figure | None = Field(None, description="Longest span without support, if any is needed")
    support_share: Figure | None = Field(
        None, description="Share of the space below overhangs that supports fill, if any are needed"
    )
    start_s: Figure | None = Field(None, description="Time before the first layer and after the last")
    layer_s: Figure | None = Field(
        None, description="Time from layer to layer; with a pace, beside that for its lines"
    )
    pace: Pace | None = Field(None, description="How fast lines are laid, material extrusion only")

    @property
    def bed_mm(self) -> tuple[float, float, float]:
        """Build space (x, y, z)."""
        return self.bed_width_mm.value, self.bed_depth_mm.value, self.bed_height_mm.value


Entry = TypeVar("Entry", Material, Printer)


def read_materials(folder: Path | None = None) -> Mapping[str, Material]:
    """Return all materials by name; those in `folder` replace shipped ones of the same name.

    Raises InputError with every problem of the first file that has any.
    """
    return {**_shipped_materials(), **_entries_in(folder, Material)}


def read_printers(folder: Path | None = None) -> Mapping[str, Printer]:
    """Return all printers by name; those in `folder` replace shipped ones of the same name.

    Raises InputError with every problem of the first file that has any.
    """
    return {**_shipped_printers(), **_entries_in(folder, Printer)}


def material_name(name: str, material: Material) -> Message:
    """Return what a material is called: a shipped one in every language, a clinic's own by its title."""
    return _called("material", name, material.title, _shipped_materials())


def printer_name(name: str, printer: Printer) -> Message:
    """Return what a printer is called: a shipped one in every language, a clinic's own by its title."""
    return _called("printer", name, printer.title, _shipped_printers())


def _allowable_problems(given: GivenValues) -> Iterator[Problem]:
    """Yield an allowable stress too near the strength.

    What was read in a source may go up to it.
    """
    allowable, strength = given.get("allowable_mpa.value"), given.get("strength_mpa.value")
    if allowable is None or strength is None:
        return
    is_read = given.get("allowable_mpa.mark") in READ
    if allowable > strength:
        yield Problem(
            "allowable_mpa.value", allowable, message("refusals.materials.above_strength", most=strength)
        )
    elif not is_read and allowable > (most := MOST_SHARE_OF_STRENGTH * strength) + 1e-9:
        wanted = message("refusals.materials.above_share", share=MOST_SHARE_OF_STRENGTH, most=most)
        yield Problem("allowable_mpa.value", allowable, wanted)


def _called(
    what: str, name: str, title: str, shipped: Mapping[str, Material] | Mapping[str, Printer]
) -> Message:
    is_shipped = name in shipped and shipped[name].title == title
    return message(f"common.{what}.{name}") if is_shipped else as_it_stands(title)


@cache
def _shipped_materials() -> Mapping[str, Material]:
    return _entries(DATA / "materials.toml", Material)


@cache
def _shipped_printers() -> Mapping[str, Printer]:
    return _entries(DATA / "printers.toml", Printer)


def _entries_in(folder: Path | None, model: type[Entry]) -> dict[str, Entry]:
    found: dict[str, Entry] = {}
    for path in sorted(folder.glob("*.toml")) if folder is not None else []:
        found.update(_entries(path, model))
    return found


def _entries(path: Path, model: type[Entry]) -> dict[str, Entry]:
    entries: dict[str, Entry] = {}
    problems: list[Problem] = []
    wanted = message(
        "refusals.materials.is_table" if model is Material else "refusals.materials.is_printer_table"
    )
    for name, table in read_toml(path).items():
        if not isinstance(table, dict):
            problems.append(Problem(name, table, wanted))
            continue
        result = validate(model, table)
        problems += [each.at(name) for each in result.problems]
        if result.table is not None:
            entries[name] = result.table
    if problems:
        raise refusal(path, problems)
    return entries
