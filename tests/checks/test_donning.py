"""Donning: sections and rings of known size, every kind as shipped, and orthoses that cannot be put on."""

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from print3d.checks import donning
from print3d.checks.donning import check_donning
from print3d.checks.finding import Finding
from print3d.checks.limits import limits_of_case
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.mesh import Mesh
from print3d.geometry.spline import fit_surface
from print3d.inputs.case_file import read_case
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.kinds.registry import KINDS
from print3d.limb.finger import FingerLimb
from print3d.limb.four_fingers import FourFingers, Ray
from print3d.limb.tube import stations_of
from print3d.mechanics.passing import closed_length, measure_narrowest, passing_girth
from print3d.mechanics.shell_sections import SIDES, measure_sections, measure_wall
from print3d.shell.curves import edge
from print3d.shell.definition import ShellDefinition
from print3d.shell.mesh import build_mesh
from print3d.shell.pattern import Pattern
from tests.conftest import CASES, worked_cases
from tests.shell import shapes

OPTIONS = {"kind": "pip_extension", "marking": {"style": "none"}}
SWOLLEN = {"proximal_girth_mm": 58.0, "pip_girth_mm": 70.0, "middle_girth_mm": 57.0, "dip_girth_mm": 52.0}


# sections and lines of known size


def half_tube(limb: FingerLimb, side: str) -> Part:
    """The half tube of `shapes`, its axis brought to the middle of the limb's sections and its mouth turned to a side."""
    shell = build_mesh(shapes.strapped())
    x, y, z = shell.mesh.vertices.T
    radial, dorsal = SIDES[side]
    vertices = np.column_stack(
        [x, -radial * z - dorsal * y, -dorsal * z + radial * y + limb.section_middle(x)]
    )
    return Part(
        "tube",
        shapes.strapped(),
        replace(shell, mesh=Mesh(vertices, shell.mesh.faces)),
        np.empty(0),
        shell.inner_vertices,
    )


@pytest.mark.parametrize("side", list(SIDES))
def test_sections_of_a_half_tube(middle_finger: FingerLimb, side: str) -> None:
    """Half angle 14 / 9; lips narrowest where the rim, drawn in by i at depth d, stands (9.5 + d) sin((14 - i) / 9) out."""
    definition = shapes.strapped()
    part = half_tube(middle_finger, side)
    mouth, sections = measure_sections(part, middle_finger)
    inset, depth = definition.rim_profile().T
    radius = (
        definition.rim_radius_mm
    )  # a rim is as wide as it is measured on the shell, half a rounding above its inner face
    stretch = 2.0 * (9.5 + radius / 2.0) * np.sin(radius / 18.0) / radius
    reach = (9.5 + depth) * np.sin((14.0 - inset / stretch) / 9.0)
    face = (14.0 - radius / stretch) / 9.0
    assert mouth == side
    assert [each.station_mm for each in sections] == list(range(1, 45))
    for each in sections[4:-5]:  # the corners are rounded
        assert each.mouth_mm == pytest.approx(2.0 * reach.min(), abs=0.005)
        around = 9.5 * 2.0 * (face + np.sin(face))
        slack = 0.12 if 12 < each.station_mm < 28 else 0.01  # straight across slots and vent; else facets
        assert each.girth_mm == pytest.approx(around, abs=slack)
        assert each.radius_mm == pytest.approx(9.5, abs=slack)
        assert each.half_angle_rad == pytest.approx(14.0 / 9.0, abs=0.001)
        assert each.lip_height_mm == pytest.approx(-9.5 * np.cos(face), abs=0.01)
        assert each.where[0] == pytest.approx(each.station_mm)
    assert measure_wall(part) == pytest.approx(2.0, abs=0.002)


@pytest.mark.parametrize("pip_deg", [0.0, 50.0])
def test_stations_are_found_again_on_a_bent_finger(middle_finger: FingerLimb, pip_deg: float) -> None:
    limb = middle_finger.posed(pip_flexion_deg=pip_deg, dip_flexion_deg=-5.0)
    station = np.linspace(30.0, 85.0, 200)
    axis, dorsal = limb.spine.at(station)
    points = axis + np.linspace(-4.0, 12.0, 200)[:, None] * dorsal + [0.0, 6.0, 0.0]
    np.testing.assert_allclose(stations_of(limb, points), station, atol=0.03)


def test_an_oblique_ring_is_long_but_narrow() -> None:
    """A plane at 45 degrees cuts a tube of radius 9 in an ellipse of half-axes 9 and 12.73: girth 68.8 mm (complete elliptic integral)."""
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    line = np.column_stack([9.0 * np.cos(angle), 9.0 * np.sin(angle), 9.0 * np.cos(angle)])
    assert closed_length(line) == pytest.approx(4.0 * 9.0 * np.sqrt(2.0) * 1.3506438810, rel=1e-4)
    assert measure_narrowest(line) == pytest.approx(18.0, abs=1e-3)


# every kind as shipped


@pytest.mark.parametrize("path", worked_cases())
def test_every_shipped_case_can_be_put_on(path: Path) -> None:
    case = read_case(path, {name: kind.options for name, kind in KINDS.items()})
    orthosis = KINDS[case.orthosis.kind].build(case)
    limits = limits_of_case(case)
    start = time.process_time()
    applies = donning.applies_to(orthosis, limits)
    findings = check_donning(orthosis, limits) if applies else []
    assert time.process_time() - start < 0.15 * len(orthosis.parts)
    assert isinstance(orthosis.limb, FingerLimb) == applies == bool(findings)
    assert [each.key for each in findings if not each.holds] == []
    if isinstance(orthosis.limb, FingerLimb):
        named = {
            part.name for part in orthosis.parts if any(part.name == each.about.part for each in findings)
        }
        assert named == {part.name for part in orthosis.parts}


@pytest.mark.parametrize("kind", ["mallet", "pip_extension"])
@pytest.mark.parametrize(
    ("form", "way"),
    [
        ("volar", "laid on from the volar side"),
        ("dorsal", "laid on from the dorsal side"),
        ("sleeve", "slid on from the tip"),
    ],
)
def test_each_form_goes_on_its_own_way(make_case: Callable[..., Any], kind: str, form: str, way: str) -> None:
    found = donned(
        make_case, {"kind": kind, "form": form, "straps": {"style": "wrap"}, "marking": {"style": "none"}}
    )
    assert found.holds
    assert found.method("en").startswith(way)


def test_both_rings_of_a_figure_of_eight_show_their_size() -> None:
    case = read_case(CASES / "figure_of_eight.toml", {name: kind.options for name, kind in KINDS.items()})
    findings = check_donning(KINDS["figure_of_eight"].build(case), limits_of_case(case))
    shown = [each for each in findings if each.key == "donning.ring_girth"]
    assert [dict(each.about.of)["ring"] for each in shown] == ["proximal_ring", "distal_ring"]
    for each in shown:
        assert each.said("en").endswith(f"ISO 8653 size {round(each.measured)}")


def test_several_fingers_are_left_to_their_own_check(
    make_case: Callable[..., Any], middle_finger: FingerLimb
) -> None:
    case = make_case(OPTIONS)
    four = FourFingers({"middle": Ray(middle_finger, np.zeros(3))})
    orthosis = replace(pip_extension.KIND.build(case), limb=four)
    assert not donning.applies_to(orthosis, limits_of_case(case))


# orthoses that cannot be put on


def donned(make_case: Callable[..., Any], options: dict[str, Any], **tables: Any) -> Finding:
    """The finding of a one-part orthosis."""
    case = make_case(options, **tables)
    (found,) = check_donning(KINDS[options["kind"]].build(case), limits_of_case(case))
    return found


def swollen(material: str, **girths: float) -> dict[str, Any]:
    """A thick PIP on a thin finger, printed from a material."""
    return {
        "measured": {"sex": "man", "hand_length_mm": 193.0, "middle": {**SWOLLEN, **girths}},
        "print": {"material": material, "printer": "extrusion"},
    }


@pytest.mark.parametrize(("material", "holds"), [("pla", False), ("petg", False), ("tpu_95a", True)])
def test_a_sleeve_over_a_swollen_pip_must_be_of_a_yielding_material(
    make_case: Callable[..., Any], material: str, holds: bool
) -> None:
    found = donned(make_case, {**OPTIONS, "form": "sleeve"}, **swollen(material))
    assert found.key == "donning.sprung"
    assert "slid on" in found.method("en")
    assert found.holds == holds
    assert found.where is not None
    assert found.where[0] < 45.0  # over the thin proximal phalanx, which the PIP has to pass


def test_a_gutter_on_the_same_finger_is_laid_on(make_case: Callable[..., Any]) -> None:
    found = donned(make_case, OPTIONS, **swollen("pla"))
    assert found.holds
    assert "laid on" in found.method("en")


def test_a_gutter_wrapped_too_far_breaks(
    make_case: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half to two thirds of the girth is laid on without force, 70 % springs a little, 80 % strains PLA beyond half its yield."""
    found = []
    for share in (0.5, 0.6, 0.65, 0.7, 0.75, 0.8):
        monkeypatch.setattr(pip_extension, "GUTTER_SHARE", share)
        found.append(donned(make_case, OPTIONS, **swollen("pla")))
    assert [each.unit for each in found] == ["mm"] * 3 + ["%"] * 3
    assert [each.holds for each in found] == [True] * 4 + [False] * 2
    strains = [each.measured for each in found[3:]]
    assert strains == sorted(strains)
    assert "sprung open" in found[-1].method("en")


def test_the_same_gutter_slides_onto_a_finger_that_tapers(
    make_case: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pip_extension, "GUTTER_SHARE", 0.8)
    found = donned(make_case, OPTIONS, **swollen("pla", pip_girth_mm=60.0))
    assert found.holds
    assert found.method("en").startswith("slid on from the tip")


def test_lips_pinched_together_are_measured(make_case: Callable[..., Any]) -> None:
    """The definition stays as it is; the mesh alone is squeezed to 88 % across, until the finger is wider than its mouth."""
    case = make_case(OPTIONS)
    sound = pip_extension.KIND.build(case)
    part = sound.parts[0]
    mesh = Mesh(part.shell.mesh.vertices * [1.0, 0.88, 1.0], part.shell.mesh.faces)
    pinched = replace(sound, parts=(replace(part, shell=replace(part.shell, mesh=mesh)),))
    (before,), (after,) = (check_donning(each, limits_of_case(case)) for each in (sound, pinched))
    assert before.method("en").startswith("laid on")
    assert not after.method("en").startswith("laid on")
    _, wide = measure_sections(part, sound.limb)
    _, narrow = measure_sections(pinched.parts[0], sound.limb)
    for first, second in zip(wide, narrow, strict=True):
        assert second.mouth_mm == pytest.approx(0.88 * first.mouth_mm, abs=0.01)


def test_a_thicker_wall_is_strained_more(make_case: Callable[..., Any]) -> None:
    thin, thick = (
        donned(
            make_case,
            {**OPTIONS, "form": "sleeve", "wall_mm": wall, "rim_radius_mm": 0.7},
            **swollen("tpu_95a"),
        )
        for wall in (1.6, 3.2)
    )
    assert thick.measured / thin.measured == pytest.approx(2.0, rel=0.2)


def test_a_bent_sleeve_must_let_the_next_phalanx_around_its_bend(middle_finger: FingerLimb) -> None:
    """Straight, the largest girth beyond decides; bent, a phalanx as thick as the joint needs more, and only over the bend."""
    pip = middle_finger.landmarks["pip"]
    straight = passing_girth(middle_finger, pip)
    bent = [passing_girth(middle_finger.posed(pip_flexion_deg=angle), pip) for angle in (20.0, 60.0, 90.0)]
    assert straight == pytest.approx(66.0, abs=0.1)
    assert bent == sorted(bent)
    assert bent[-1] > straight
    beside = passing_girth(middle_finger.posed(pip_flexion_deg=90.0), pip + 15.0)
    assert beside == pytest.approx(passing_girth(middle_finger, pip + 15.0))


def test_a_shell_without_a_whole_section_is_not_passed_over(
    make_case: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(donning, "measure_sections", lambda *_: ("dorsal", []))
    found = donned(make_case, OPTIONS)
    assert not found.holds
    assert found.key == "donning.lip_sections"


# closed rings


def ring_on(limb: FingerLimb, start: float, stop: float, radius: float, *, is_band: bool = False) -> Orthosis:
    """A round ring about the middle of the finger's sections, `radius` inside."""
    period = 2.0 * np.pi * radius

    def tube(beyond: float) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
        def points(along: np.ndarray, around: np.ndarray) -> np.ndarray:
            height = limb.section_middle(along) + (radius + beyond) * np.cos(around / radius)
            return np.column_stack([along, (radius + beyond) * np.sin(around / radius), height])

        return points

    sites = np.linspace(start - 2.0, stop + 2.0, 12), np.linspace(-period / 2, period / 2, 25)
    faces = [fit_surface(tube(beyond), *sites, period_mm=period) for beyond in (0.0, 2.0)]
    loops = tuple(
        edge(lambda around, at=at: np.full_like(around, at), period, 0.4, is_distal=at == stop)
        for at in (start, stop)
    )
    definition = ShellDefinition(Pattern(loops, period_mm=period), *faces, 2.0, 0.9)
    mesh = build_mesh(definition)
    around = np.linspace(-period / 2, period / 2, 241)[:-1]
    rings = () if is_band else (np.column_stack([np.full_like(around, (start + stop) / 2), around]),)
    part = Part("yoke", definition, mesh, np.zeros(len(mesh.inner_vertices)), mesh.inner_vertices, rings)
    return Orthosis("ring", limb, (part,), "middle", {}, ())


def test_a_ring_too_small_for_the_pip(make_case: Callable[..., Any], middle_finger: FingerLimb) -> None:
    """PIP girth 66: 66 - 2 pi 0.5 = 62.86 must pass. Radius 9.5 is size 60 and does not, radius 10.1 is size 63 and does."""
    limits = limits_of_case(make_case(OPTIONS))
    pip = middle_finger.landmarks["pip"]
    for radius, size, holds in ((9.5, 60, False), (10.1, 63, True)):
        girth, width = check_donning(ring_on(middle_finger, pip - 12.0, pip - 6.0, radius), limits)
        assert girth.said("en") == f"yoke, ring: inner girth, ISO 8653 size {size}"
        assert girth.measured == pytest.approx(2.0 * np.pi * radius, abs=0.02)  # facets
        assert girth.limit == pytest.approx(66.0 - np.pi, abs=0.02)
        assert girth.holds == holds
        assert width.measured == pytest.approx(2.0 * radius, abs=0.02)


def test_a_ring_beyond_the_pip_need_not_pass_it(
    make_case: Callable[..., Any], middle_finger: FingerLimb
) -> None:
    """The same ring on the middle phalanx passes the DIP (56) and its own seat only."""
    limits = limits_of_case(make_case(OPTIONS))
    middle = middle_finger.landmarks["mid_middle"]
    girth, _ = check_donning(ring_on(middle_finger, middle, middle + 5.0, 9.5), limits)
    assert girth.holds
    seat = float(middle_finger.girth_mm(np.array([middle + 0.9]))[0])
    assert girth.limit == pytest.approx(seat - np.pi, abs=0.7)


def test_the_ring_is_measured_on_the_mesh(make_case: Callable[..., Any], middle_finger: FingerLimb) -> None:
    """The definition stays at radius 10.1; the mesh alone shrinks by 6 % about its axis."""
    limits = limits_of_case(make_case(OPTIONS))
    pip = middle_finger.landmarks["pip"]
    sound = ring_on(middle_finger, pip - 12.0, pip - 6.0, 10.1)
    part = sound.parts[0]
    x, y, z = part.shell.mesh.vertices.T
    middle = middle_finger.section_middle(x)
    shrunk = Mesh(np.column_stack([x, 0.94 * y, middle + 0.94 * (z - middle)]), part.shell.mesh.faces)
    faulty = replace(sound, parts=(replace(part, shell=replace(part.shell, mesh=shrunk)),))
    assert [each.holds for each in check_donning(sound, limits)] == [True, True]
    girth, _ = check_donning(faulty, limits)
    assert girth.measured == pytest.approx(0.94 * 2.0 * np.pi * 10.1, abs=0.02)
    assert not girth.holds


def test_a_ring_squeezed_flat_keeps_its_girth_but_not_its_width(
    make_case: Callable[..., Any], middle_finger: FingerLimb
) -> None:
    limits = limits_of_case(make_case(OPTIONS))
    pip = middle_finger.landmarks["pip"]
    sound = ring_on(middle_finger, pip - 12.0, pip - 6.0, 10.6)
    part = sound.parts[0]
    x, y, z = part.shell.mesh.vertices.T
    middle = middle_finger.section_middle(x)
    flat = Mesh(np.column_stack([x, 0.8 * y, middle + 1.2 * (z - middle)]), part.shell.mesh.faces)
    girth, width = check_donning(
        replace(sound, parts=(replace(part, shell=replace(part.shell, mesh=flat)),)), limits
    )
    assert girth.holds
    assert not width.holds
    assert width.measured == pytest.approx(0.8 * 2.0 * 10.6, abs=0.05)


def test_the_tightest_line_of_a_tapering_ring_decides(
    make_case: Callable[..., Any], middle_finger: FingerLimb
) -> None:
    """A cone that loses 0.1 mm of radius per mm: the line at the distal edge of the inner face, not the middle one."""
    limits = limits_of_case(make_case(OPTIONS))
    definition = shapes.ring(wave=0.0, taper=0.1)
    mesh = build_mesh(definition)
    around = np.linspace(-shapes.PERIOD / 2, shapes.PERIOD / 2, 241)[:-1]
    ring = np.column_stack([np.full_like(around, 20.0), around])
    part = Part("yoke", definition, mesh, np.empty(0), mesh.inner_vertices, (ring,))
    girth, _ = check_donning(Orthosis("ring", middle_finger, (part,), "middle", {}, ()), limits)
    distal = 35.0 - shapes.RIM
    assert girth.measured == pytest.approx(2.0 * np.pi * (9.5 - 0.1 * distal), abs=0.03)


def test_a_band_without_centre_lines_is_taken_by_its_edges(
    make_case: Callable[..., Any], middle_finger: FingerLimb
) -> None:
    limits = limits_of_case(make_case(OPTIONS))
    pip = middle_finger.landmarks["pip"]
    findings = check_donning(ring_on(middle_finger, pip - 12.0, pip - 2.0, 9.5, is_band=True), limits)
    girths = [each for each in findings if each.key == "donning.ring_girth"]
    assert [dict(each.about.of)["ring"] for each in girths] == ["proximal_edge", "distal_edge"]
    for each in girths:
        assert each.measured == pytest.approx(2.0 * np.pi * 9.5, abs=0.02)
        assert not each.holds
