"""Printability, openings against skin and fingertips, flares: each finding with a planted fault and the sound thing beside it."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from print3d.checks.finding import Finding, Limit
from print3d.checks.flare import check_flare
from print3d.checks.limits import CheckLimits, limits_of_case
from print3d.checks.marking import check_marking
from print3d.checks.openings import check_openings, measure_reach
from print3d.checks.printability import check_printability, measure_narrowest_slit
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.mesh import Mesh
from print3d.inputs.cautions import heat_caution
from print3d.inputs.materials import Printer, read_materials
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.language.message import as_it_stands, message
from print3d.shell.definition import ShellDefinition
from print3d.shell.mesh import build_mesh
from tests.shell.shapes import SPACING, gutter, ring, strap_slot, vent

OPTIONS = {"kind": "pip_extension", "marking": {"style": "none"}}


@pytest.fixture(scope="module")
def case(make_case: Callable[..., Any]) -> Any:
    return make_case(OPTIONS)


@pytest.fixture(scope="module")
def sleeve(make_case: Callable[..., Any]) -> Orthosis:
    return pip_extension.KIND.build(make_case({**OPTIONS, "form": "sleeve"}))


def part_of(definition: ShellDefinition) -> Part:
    mesh = build_mesh(definition)
    return Part("volar_pip_orthosis", definition, mesh, np.empty(0), mesh.inner_vertices)


def failing(findings: Sequence[Finding]) -> list[str]:
    return [each.key for each in findings if not each.holds]


def with_bed(limits: CheckLimits, *sides_mm: float) -> CheckLimits:
    """The limits with a printer of another build space."""
    names = ("bed_width_mm", "bed_depth_mm", "bed_height_mm")
    figures = zip(names, sides_mm, strict=True)
    planted = {key: {"value": value, "source": "planted", "mark": "memory"} for key, value in figures}
    return replace(limits, printer=Printer.model_validate({**limits.printer.model_dump(), **planted}))


def test_a_sound_gutter_prints(case: Any) -> None:
    assert failing(check_printability(pip_extension.KIND.build(case), limits_of_case(case))) == []


def test_a_bed_that_is_just_too_small(case: Any) -> None:
    orthosis = pip_extension.KIND.build(case)
    size = np.ptp(orthosis.parts[0].shell.mesh.vertices, axis=0)
    found = check_printability(orthosis, with_bed(limits_of_case(case), size.max() - 14.0, 20.0, 20.0))
    assert "printability.room" in failing(found)


def test_a_part_that_must_stand_has_layers_across_its_bending(case: Any) -> None:
    found = check_printability(
        pip_extension.KIND.build(case), with_bed(limits_of_case(case), 32.0, 32.0, 250.0)
    )
    assert failing(found) == ["printability.layers"]
    weak = next(each for each in found if not each.holds)
    assert weak.measured == pytest.approx(60.0, abs=3.0)  # the layer factor of PETG, standing upright
    assert weak.where is not None


def test_a_sleeve_that_must_lie_has_supports_inside(case: Any, sleeve: Orthosis) -> None:
    limits = limits_of_case(case)
    low = check_printability(sleeve, with_bed(limits, 220.0, 220.0, 26.5))
    assert any(each.is_watched for each in low if each.key == "printability.marked")
    clean = replace(limits, skin_supported_percent=limits.watched_skin_supported_percent)
    assert "printability.marked" in failing(check_printability(sleeve, with_bed(clean, 220.0, 220.0, 26.5)))
    frugal = replace(limits, support_percent=Limit(20.0, as_it_stands("planted")))
    dense = check_printability(sleeve, with_bed(frugal, 220.0, 220.0, 26.5))
    assert "printability.support_mass" in failing(dense)


@pytest.mark.parametrize("width", [0.3, 0.8, 2.0])
def test_a_slit_reads_its_width(width: float) -> None:
    """On a cylinder of 9 mm with 0.5 mm clearance the wall's middle lies at 10.5: a slit along reads 10.5 / 9 wider there."""
    slit = strap_slot((22.0, 0.0), 16.0, width, SPACING)
    found, where = measure_narrowest_slit(part_of(gutter([slit])), 4.0)
    across = np.ptp(slit.points, axis=0).min()
    assert across <= found <= 1.2 * across
    assert np.linalg.norm(np.subtract(where, (22.0, 0.0, 10.5))) < 10.0


def test_a_slit_that_would_close(case: Any) -> None:
    slit = strap_slot((22.0, 0.0), 16.0, 0.3, SPACING)
    faulty = replace(pip_extension.KIND.build(case), parts=(part_of(gutter([slit])),))
    assert failing(check_printability(faulty, limits_of_case(case))) == ["printability.slit"]


def test_a_strap_slot_around_the_limb_reads_its_gap() -> None:
    slot = strap_slot((20.0, 0.0), 16.0, 2.5, SPACING)
    slot = replace(slot, points=np.array([[20.0, 0.0]]) + (slot.points - [20.0, 0.0])[:, ::-1][::-1])
    width, _ = measure_reach(part_of(gutter([slot])))
    assert width == pytest.approx([np.ptp(slot.points, axis=0).min()], rel=0.2)


@pytest.mark.parametrize("diameter", [2.2, 5.0, 8.0, 11.0])
def test_a_vent_reads_its_diameter(diameter: float) -> None:
    """Along the cylinder a vent keeps its diameter, around it is wider."""
    width, places = measure_reach(part_of(gutter([vent(20.0, 0.0, diameter)])))
    assert width == pytest.approx([diameter], rel=0.03)
    assert places[0][:2] == pytest.approx([20.0, 0.0], abs=0.1)


@pytest.mark.parametrize("corners", [5, 7])
def test_a_vent_of_few_corners_has_a_width(corners: int) -> None:
    """In a regular polygon with an odd number of corners none lies straight across another within 10 degrees."""
    angle = -2.0 * np.pi * np.arange(corners) / corners
    turn = vent(20.0, 0.0, 2.6)
    points = np.array([20.0, 0.0]) + 1.3 * np.column_stack([np.cos(angle), np.sin(angle)])
    if shapely.LinearRing(points).is_ccw != shapely.LinearRing(turn.points).is_ccw:
        points = points[::-1]
    width, _ = measure_reach(part_of(gutter([replace(turn, points=points)])))
    assert 2.0 < width[0] < 2.9


WINDOW, TRAP = "openings.widest", "openings.trap"


@pytest.mark.parametrize(
    ("diameter", "off_skin_mm", "faults"),
    [
        (6.5, 30.0, []),
        (8.5, 0.0, []),
        (8.5, 30.0, [TRAP]),
        (11.0, 30.0, [WINDOW, TRAP]),
        (11.0, 0.0, [WINDOW]),
        (14.0, 30.0, [WINDOW]),
    ],
)
def test_openings_too_wide_for_skin_or_fingertips(
    case: Any, diameter: float, off_skin_mm: float, faults: list[str]
) -> None:
    """A gutter on the finger, or well off it: skin right behind an opening lets no fingertip in."""
    part = part_of(gutter([vent(9.0, 0.0, diameter), vent(33.0, 0.0, 3.0)]))
    moved = part.shell.mesh.vertices + np.array([35.0, 0.0, off_skin_mm])
    part = replace(part, shell=replace(part.shell, mesh=Mesh(moved, part.shell.mesh.faces)))
    found = check_openings(replace(pip_extension.KIND.build(case), parts=(part,)), limits_of_case(case))
    assert failing(found) == faults
    assert all(each.where is not None for each in found if not each.holds)


def test_the_passage_of_a_ring_is_no_window(case: Any) -> None:
    part = replace(part_of(ring([vent(20.0, 0.0, 9.0)])), rings=(np.zeros((3, 2)),))
    found = check_openings(replace(pip_extension.KIND.build(case), parts=(part,)), limits_of_case(case))
    assert not {each.key for each in found} & {"openings.trap", "openings.widest"}


def test_ends_that_do_not_turn_away(make_case: Callable[..., Any]) -> None:
    for height, ends in ((0.8, 0), (0.2, 2)):
        case = make_case({**OPTIONS, "flare": {"height_mm": height}})
        found = check_flare(pip_extension.KIND.build(case), limits_of_case(case))
        assert len(found) == 2
        assert len(failing(found)) == ends
        # the edge's first row lies a rim radius inside the trim line, where the flare has not its full height
        assert 0.4 * height < found[0].measured < height


def test_letters_are_as_deep_as_the_printer_needs_unless_asked(make_case: Callable[..., Any]) -> None:
    """Laser sintering advises 1 mm (bureau tables in printers.toml); the default of 0.5 gives way, an asked depth does not."""
    powder = {"print": {"material": "pa12_laser_sintering", "printer": "powder_bed_laser"}}
    open_depth = make_case({"kind": "pip_extension"}, **powder)
    assert open_depth.orthosis.marking.depth_mm == pytest.approx(1.05)
    assert failing(check_marking(pip_extension.KIND.build(open_depth), limits_of_case(open_depth))) == []
    asked = make_case({"kind": "pip_extension", "marking": {"depth_mm": 0.5}}, **powder)
    assert failing(check_marking(pip_extension.KIND.build(asked), limits_of_case(asked))) == ["marking.depth"]
    assert make_case({"kind": "pip_extension"}).orthosis.marking.depth_mm == 0.5


@pytest.mark.parametrize(
    ("material", "there", "not_there"),
    [
        ("pla", ["a car in the sun", "hot tap water", "dashboard"], ["bath"]),
        ("petg", ["dashboard"], ["hot tap water", "car in the sun"]),
        ("tough_resin", ["bath", "a car in the sun"], []),
    ],
)
def test_heat_follows_from_the_material(material: str, there: list[str], not_there: list[str]) -> None:
    text = heat_caution(read_materials()[material], message(f"common.material.{material}"))
    assert all(place in text for place in there)
    assert not any(place in text for place in not_there)
