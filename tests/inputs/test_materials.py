"""Materials and printers: every figure against what was published, and files that override."""

import re
from pathlib import Path
from typing import get_args

import pytest

from print3d.errors import InputError
from print3d.inputs.materials import DATA, Figure, Mark, read_materials, read_printers

MATERIALS = (
    "pla",
    "petg",
    "pa12_laser_sintering",
    "pa12_multi_jet_fusion",
    "tpu_95a",
    "rigid_resin",
    "tough_resin",
)
EVERYTHING = {**read_materials(), **read_printers()}


def figures(name: str) -> dict[str, Figure]:
    return {key: value for key, value in EVERYTHING[name] if isinstance(value, Figure)}


def test_the_promised_materials_and_processes_are_there() -> None:
    assert set(read_materials()) == set(MATERIALS)
    assert {printer.process for printer in read_printers().values()} == {
        "extrusion", "powder_bed_laser", "powder_bed_multi_jet", "resin",
    }  # fmt: skip


@pytest.mark.parametrize("name", EVERYTHING)
def test_every_figure_says_where_it_is_from_and_how_well_it_is_known(name: str) -> None:
    for key, figure in figures(name).items():
        words = figure.origin.said("en")
        remembered = any(
            each in words for each in ("memory", "common practice", "typical", "own choice", "assumed")
        )
        assert len(figure.source) > 5, key
        assert not (remembered and figure.mark.startswith("seen")), f"{key}: {words} cannot be {figure.mark}"


@pytest.mark.parametrize("name", MATERIALS)
def test_some_printer_can_print_every_material(name: str) -> None:
    assert {printer.process for printer in read_printers().values()} & set(read_materials()[name].processes)


@pytest.mark.parametrize("name", MATERIALS)
def test_allowable_stress_is_conservative(name: str) -> None:
    material = read_materials()[name]
    assert material.allowable_mpa.value <= 0.7 * material.strength_mpa.value
    assert 0.5 <= material.layer_factor.value <= 1.0
    assert material.yield_strain * 100 < material.strain_at_break_percent.value
    if material.glass_transition_c is not None:
        assert material.heat_ceiling_c.value < material.glass_transition_c.value


# name, key, range published by, low, high
PUBLISHED = [
    ("pla", "modulus_mpa", "additive.tools material page", 3000, 4000),
    ("pla", "strength_mpa", "additive.tools material page, in plane", 50, 65),
    ("pla", "strain_at_break_percent", "additive.tools material page", 3, 10),
    ("pla", "density_g_per_cm3", "additive.tools material page", 1.22, 1.26),
    ("pla", "glass_transition_c", "additive.tools material page", 55, 65),
    ("petg", "modulus_mpa", "Processes 13(9):2733, 2025", 2000, 2000),
    ("petg", "glass_transition_c", "Processes 13(9):2733, 2025", 71, 71),
    ("pa12_laser_sintering", "modulus_mpa", "PMC10406103 Table 2 to typical 1700 (from memory)", 1387, 1700),
    ("pa12_laser_sintering", "strength_mpa", "iteraio matrix, printed PA12", 40, 75),
    ("pa12_multi_jet_fusion", "strength_mpa", "iteraio matrix, printed PA12", 40, 75),
    ("tpu_95a", "strength_mpa", "iteraio matrix", 20, 45),
    ("rigid_resin", "modulus_mpa", "PMC10406103 Table 2", 2900, 2900),
    ("tough_resin", "strain_at_break_percent", "PMC10406103 Table 2", 55, 55),
    ("extrusion", "min_wall_mm", "bureau tables arti90, neway3dp, addema, 3faktur", 0.8, 1.0),
    ("extrusion", "min_hole_mm", "bureau tables arti90, addema, solidlines", 2.0, 2.0),
    ("extrusion", "min_gap_mm", "bureau tables arti90, neway, solidlines", 0.2, 0.5),
    ("extrusion", "tolerance_mm", "bureau tables addema, neway", 0.2, 0.5),
    ("powder_bed_laser", "min_wall_mm", "bureau tables arti90, neway3dp, addema, 3faktur", 0.6, 0.7),
    ("powder_bed_laser", "min_hole_mm", "bureau tables arti90, addema, solidlines", 1.5, 1.5),
    ("powder_bed_multi_jet", "min_wall_mm", "bureau tables arti90, neway3dp, addema, 3faktur", 0.5, 0.5),
    ("powder_bed_multi_jet", "min_hole_mm", "bureau tables arti90, addema, solidlines", 1.0, 2.0),
]


@pytest.mark.parametrize(("name", "key", "source", "low", "high"), PUBLISHED)
def test_figures_lie_in_the_published_range(
    name: str, key: str, source: str, low: float, high: float
) -> None:
    assert low <= figures(name)[key].value <= high, source


@pytest.mark.parametrize("name", read_printers())
def test_limits_of_a_printer_are_in_order(name: str) -> None:
    printer = read_printers()[name]
    assert printer.min_wall_mm.value < printer.recommended_wall_mm.value
    assert printer.layer_mm.value < printer.min_wall_mm.value
    assert printer.min_text_width_mm.value < printer.min_text_height_mm.value
    assert min(printer.bed_mm) >= 100
    assert (printer.nozzle_mm is not None) == (printer.process == "extrusion")
    assert (printer.max_overhang_deg is None) == printer.process.startswith("powder_bed")


def test_a_file_beside_replaces_by_name_and_adds(tmp_path: Path) -> None:
    text = (DATA / "materials.toml").read_text(encoding="utf-8")
    pla = text[text.index("[pla]") : text.index("[petg]")]
    stiffer = pla.replace("modulus_mpa = { value = 3500", "modulus_mpa = { value = 3600")
    (tmp_path / "own.toml").write_text(stiffer + pla.replace("[pla]", "[pla_wood]"), encoding="utf-8")
    materials = read_materials(tmp_path)
    assert materials["pla"].modulus_mpa.value == 3600
    assert set(materials) == {*MATERIALS, "pla_wood"}
    assert read_materials()["pla"].modulus_mpa.value == 3500


def test_a_broken_material_file_tells_every_problem(tmp_path: Path) -> None:
    text = (DATA / "materials.toml").read_text(encoding="utf-8")
    pla = text[text.index("[pla]") : text.index("[petg]")]
    faults = {
        "modulus_mpa = { value = 3500": "modulus_mpa = { value = -1",
        'mark = "seen" }\nallowable': 'mark = "sure" }\nallowable',
        "layer_factor": "layer_faktor",
        'processes = ["extrusion"]': 'processes = ["casting"]',
        "allowable_mpa = { value = 35": "allowable_mpa = { value = 99",
    }
    for sound, broken in faults.items():
        assert sound in pla
        pla = pla.replace(sound, broken)
    path = tmp_path / "own.toml"
    path.write_text(pla + "loose = 3\n[other]\n" + 'title = "x"\n', encoding="utf-8")
    with pytest.raises(InputError) as refusal:
        read_materials(tmp_path)
    lines = str(refusal.value).splitlines()
    assert all(line.startswith(f"{path}: ") for line in lines)
    for key in ("pla.modulus_mpa.value = -1", 'pla.strength_mpa.mark = "sure"', "pla.layer_faktor", "pla.layer_factor is missing",
                "pla.processes[0] = \"casting\": accepted is one of \"extrusion\"", "pla.loose = 3", "other.density_g_per_cm3 is missing"):  # fmt: skip
        assert sum(key in line for line in lines) == 1, key


def test_a_contradicting_material_is_refused(tmp_path: Path) -> None:
    text = (DATA / "materials.toml").read_text(encoding="utf-8")
    pla = text[text.index("[pla]") : text.index("[petg]")]
    (tmp_path / "own.toml").write_text(
        pla.replace("allowable_mpa = { value = 35", "allowable_mpa = { value = 60").replace(
            "value = 0.6", "value = 1.6"
        ),
        encoding="utf-8",
    )
    with pytest.raises(InputError) as refusal:
        read_materials(tmp_path)
    assert "pla.allowable_mpa.value = 60: at most strength_mpa = 53 is accepted" in str(refusal.value)
    assert "pla.layer_factor.value = 1.6: at most 1 is accepted" in str(refusal.value)


@pytest.mark.parametrize("mark", get_args(Mark))
@pytest.mark.parametrize("name", MATERIALS)
def test_an_allowable_stress_near_the_strength_needs_a_source_that_was_read(
    tmp_path: Path, name: str, mark: str
) -> None:
    """Every material as a clinic's own, with an allowable stress of 0.69 and 0.71 of its strength."""
    text = (DATA / "materials.toml").read_text(encoding="utf-8")
    own = re.search(rf"^\[{name}\]$.*?(?=^\[|\Z)", text, re.MULTILINE | re.DOTALL)
    assert own is not None
    strength = read_materials()[name].strength_mpa.value
    for share, is_accepted in ((0.69, True), (0.71, mark in ("seen", "seen, 2nd-hand"))):
        line = f'allowable_mpa = {{ value = {share * strength}, source = "a table", mark = "{mark}" }}'
        (tmp_path / "own.toml").write_text(re.sub("allowable_mpa = .*", line, own.group()), encoding="utf-8")
        if is_accepted:
            assert read_materials(tmp_path)[name].allowable_mpa.value == share * strength
        else:
            with pytest.raises(
                InputError, match=rf"at most 0\.7 of strength_mpa, {0.7 * strength:g}, is accepted"
            ):
                read_materials(tmp_path)
