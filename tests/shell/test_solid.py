"""The CAD solid: one valid closed body that agrees with the mesh, for made shapes and for every shipped case."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest
from scipy.interpolate import make_interp_spline

from print3d import flow
from print3d.errors import ExportError, ShapingError
from print3d.geometry.spline import SplineSurface, fit_surface
from print3d.kinds.registry import KINDS
from print3d.language.message import as_it_stands
from print3d.output.mesh.step import write_step
from print3d.shell.curves import circle
from print3d.shell.definition import ShellDefinition
from print3d.shell.letters import letter_loops
from print3d.shell.mesh import build_mesh
from print3d.shell.outlines import BETWEEN_MM, followed
from print3d.shell.solid import build_solid, one_solid, stage
from tests.conftest import AGAIN, CASES, worked_cases
from tests.shell import shapes
from tests.shell.solids import assert_agree, assert_one_closed_body

SHAPES: dict[str, Callable[[], ShellDefinition]] = {
    "plain": shapes.gutter,
    "45 vents": lambda: shapes.vented(45),
    "strap slot": shapes.strapped,
    "small rim": lambda: shapes.gutter([shapes.vent(20, 0)], rim=0.3),
    "round rim": lambda: shapes.gutter([shapes.vent(20, 0)], rim=shapes.WALL / 2),
    "raised letters": lambda: shapes.lettered(0.5),
    "engraved letters": lambda: shapes.lettered(-0.5),
    "wavy ring": shapes.ring,
    "tapered tube with a vent on its seam": lambda: shapes.ring(
        shapes.vents_all_around(6, (12, 20, 28)), taper=0.03
    ),
    "ring with letters": lambda: shapes.ring(marks=letter_loops("B8", (20, 5), 4.0)),
}


def assert_realised(definition: ShellDefinition) -> None:
    solid = build_solid(definition)
    wraps = definition.pattern.period_mm is not None
    assert_one_closed_body(solid, len(definition.pattern.holes) + int(wraps))
    assert_agree(solid, build_mesh(definition).mesh)


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_mesh_and_solid_are_one_shape(shape: Callable[[], ShellDefinition]) -> None:
    assert_realised(shape())


FOREARMS = [path.stem for path in CASES.glob("dorsal_blocking*.toml")]
"""They take the kernel half a minute each."""


@pytest.mark.parametrize(
    "path", worked_cases(FOREARMS, left_to_ci=(*AGAIN, "pip_extension", "mallet_with_pip_block"))
)
def test_every_case_as_mesh_and_as_solid(path: Path) -> None:
    case = flow.read(path)
    for part in KINDS[case.orthosis.kind].build(case).parts:
        assert_realised(part.definition)


PLANTED = {
    "a vent 0.1 mm off": (shapes.gutter([shapes.vent(20, 0)]), shapes.gutter([shapes.vent(20.1, 0)])),
    "a smaller rim": (shapes.gutter(), shapes.gutter(rim=0.8)),
    "letters 0.1 mm lower": (shapes.lettered(0.5), shapes.lettered(0.4)),
    "a missing vent": (shapes.gutter([shapes.vent(20, 0)]), shapes.gutter()),
}


@pytest.mark.parametrize(("wanted", "made"), PLANTED.values(), ids=PLANTED)
def test_the_comparison_sees(wanted: ShellDefinition, made: ShellDefinition) -> None:
    with pytest.raises(AssertionError):
        assert_agree(build_solid(wanted), build_mesh(made).mesh)


def bumped() -> ShellDefinition:
    """The gutter with a vent of few samples beside a bump that is narrower than the vent."""

    def face(depth: float) -> SplineSurface:
        def points(along: np.ndarray, around: np.ndarray) -> np.ndarray:
            bump = 0.8 * np.exp(-((np.hypot(along - 22.1, around - 0.6) / 1.2) ** 2))
            radius, angle = shapes.R + depth + bump, around / shapes.R
            return np.column_stack([along, radius * np.sin(angle), radius * np.cos(angle)])

        return fit_surface(points, np.linspace(-2, 47, 120), np.linspace(-15, 15, 80))

    vent = circle(np.array([20.0, 0.0]), 3.0, "vent", 0.3)
    return replace(shapes.gutter([vent]), inner=face(0.5), outer=face(2.5))


def parted_mm(definition: ShellDefinition) -> float:
    """How far a vent's curve in the plane and the curve through its points on the outer face part, at ten places between samples."""
    flat = definition.pattern.holes[0].inset(definition.rim_radius_mm)
    closed, at = np.vstack([flat, flat[:1]]), np.arange(len(flat) + 1.0)
    solid = np.vstack([definition.outer.points(*flat.T), definition.outer.points(*flat[:1].T)])
    between = np.linspace(0, len(flat), 10 * len(flat) + 1)
    plane, space = (make_interp_spline(at, each, bc_type="periodic")(between) for each in (closed, solid))
    return float(np.linalg.norm(definition.outer.points(*plane.T) - space, axis=1).max())


def test_curves_follow_a_face_that_turns_between_two_samples() -> None:
    coarse = bumped()
    fine = followed(coarse)
    assert parted_mm(coarse) > 1.5 * BETWEEN_MM
    assert parted_mm(fine) < BETWEEN_MM
    assert len(fine.pattern.boundary[0].points) == len(coarse.pattern.boundary[0].points)
    assert build_solid(coarse).isValid()


def test_volume_of_a_tube_with_rounded_edges() -> None:
    """Pappus: each edge loses r^2 (1 - pi/4), whose centroid lies r (10 - 3 pi) / (12 - 3 pi) from the corner."""
    inner, r = shapes.R + shapes.CLEARANCE, shapes.RIM
    outer, centroid = inner + shapes.WALL, r * (10 - 3 * np.pi) / (12 - 3 * np.pi)
    lost = r**2 * (1 - np.pi / 4) * 2 * np.pi * ((inner + centroid) + (outer - centroid))
    tube = np.pi * (outer**2 - inner**2) * 30.0
    assert build_solid(shapes.ring(wave=0.0)).Volume() == pytest.approx(tube - 2 * lost, rel=1e-4)


def test_letters_may_lie_over_the_seam_of_a_ring() -> None:
    beside, over = (
        build_solid(shapes.ring(marks=letter_loops("B8", (20, around), 4.0), wave=0.0))
        for around in (5.0, shapes.PERIOD / 2)
    )
    assert_one_closed_body(over, 1)
    assert over.Volume() == pytest.approx(beside.Volume(), rel=1e-5)


def test_vents_too_close_for_their_rims_are_refused_with_both_numbers() -> None:
    with pytest.raises(
        ShapingError, match=r"vent and vent .*along 22\.0 mm, around .*1\.00 mm lie.*more than 1\.86 mm"
    ):
        build_solid(shapes.gutter([shapes.vent(20, 0), shapes.vent(24, 0)]))


def test_a_vent_on_the_trim_line_is_refused() -> None:
    with pytest.raises(ShapingError, match="rim_radius_mm = 0.9: outline and vent come too close"):
        build_solid(shapes.gutter([shapes.vent(shapes.LENGTH, 0)]))


def test_a_ring_is_refused_where_vents_leave_no_place_to_cut() -> None:
    staggered = [
        *shapes.vents_all_around(8, (12,)),
        *(shapes.vent(20, (k + 0.5) * shapes.PERIOD / 8) for k in range(-4, 4)),
    ]
    with pytest.raises(ShapingError, match="openings all around.*strip along it of 2.4 mm"):
        build_solid(shapes.ring(staggered))


def test_a_vent_outside_the_outline_is_refused() -> None:
    with pytest.raises(ShapingError, match="sewing the faces left 2 solids, expected 1"):
        build_solid(shapes.gutter([shapes.vent(60, 0)]))


def test_a_failure_of_the_kernel_names_the_step_and_its_dimensions() -> None:
    with (
        pytest.raises(ShapingError, match=r"round the edges failed \(radius_mm=6\): ") as caught,
        stage(as_it_stands("round the edges"), radius_mm=6.0),
    ):
        cq.Workplane().box(10, 10, 10).edges("|Z").fillet(6.0)
    assert caught.value.__cause__ is not None


def test_an_inside_out_solid_is_turned() -> None:
    box = cq.Solid.makeBox(1, 2, 3)
    assert one_solid(cq.Solid(box.wrapped.Reversed()), as_it_stands("box")).Volume() == pytest.approx(6.0)


def test_an_open_solid_is_refused() -> None:
    box = cq.Solid.makeBox(1, 2, 3)
    with pytest.raises(ShapingError, match="left an invalid solid"):
        one_solid(cq.Solid.makeSolid(cq.Shell.makeShell(box.Faces()[:5])), as_it_stands("box"))


def test_a_solid_that_crosses_itself_is_refused() -> None:
    """The kernel extrudes a figure of eight without a word, and calls what comes out a solid."""
    outline = cq.Wire.makePolygon([cq.Vector(*each) for each in ((0, 0), (3, 3), (3, 0), (0, 3))], close=True)
    crossed = cq.Solid.extrudeLinear(outline, [], cq.Vector(0, 0, 1))
    assert len(crossed.Solids()) == 1
    with pytest.raises(ShapingError, match="extruding left an invalid solid"):
        one_solid(crossed, as_it_stands("extruding"))


def test_step_file_is_in_millimetres_named_and_repeatable(tmp_path: Path) -> None:
    solids = {"volar gutter": build_solid(shapes.gutter()), "anneau é": build_solid(shapes.ring())}
    for name in ("first.step", "second.step"):
        write_step(tmp_path / name, solids, product_name="PY-001 → 'R'", side="right")
    text = (tmp_path / "first.step").read_bytes()
    assert text == (tmp_path / "second.step").read_bytes()
    assert text.startswith(b"ISO-10303-21;")
    assert b".MILLI.,.METRE." in text
    assert text.isascii()
    back = cq.Assembly.importStep(str(tmp_path / "first.step"))
    assert back.name == "PY-001 → 'R'"
    assert [part.name for part in back.children] == list(solids)
    for part, solid in zip(back.children, solids.values(), strict=True):
        assert part.obj.isValid()
        assert part.obj.Volume() == pytest.approx(solid.Volume(), rel=1e-6)


def test_left_step_is_the_mirror_image(tmp_path: Path) -> None:
    solid = build_solid(shapes.strapped())
    write_step(tmp_path / "left.step", {"gutter": solid}, product_name="PY-002", side="left")
    left = cq.importers.importStep(str(tmp_path / "left.step")).val()
    assert left.isValid()
    assert left.Volume() == pytest.approx(solid.Volume(), rel=1e-6)
    right, mirrored = (np.array(each.Center().toTuple()) for each in (solid, left))
    assert abs(right[1]) > 0.05
    np.testing.assert_allclose(mirrored, right * [1, -1, 1], atol=1e-4)


def test_a_step_file_that_cannot_be_written_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match=r"missing.*could not be written"):
        write_step(
            tmp_path / "missing" / "a.step",
            {"box": cq.Solid.makeBox(1, 1, 1)},
            product_name="PY",
            side="right",
        )
