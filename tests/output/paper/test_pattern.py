"""The flat pattern against the finished mesh: its outline is as long as the trim line in the middle of the wall."""

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely

from print3d.forms.orthosis import Part
from print3d.output.paper.paper import Paper
from print3d.output.paper.pattern_drawing import write_dxf, write_svg
from print3d.output.paper.pattern_sheet import flat_parts, tile, write_pattern_sheet
from print3d.shell.flattened import closed_length_mm, flatten
from tests.conftest import CASES
from tests.output.paper.conftest import Pdf
from tests.shaped import changed, shaped

NAMES = sorted(path.stem for path in CASES.glob("*.toml"))
QUICK = ["pip_extension", "pip_extension_left_index", "mallet_with_pip_block", "figure_of_eight", "relative_motion_flexion",
         "dorsal_blocking_left"]  # fmt: skip


def trim_line_mm(part: Part) -> float:
    """Length of the trim line in the middle of the wall, from the mesh's rims: the mean of their two middle rows."""
    pattern, mesh = part.definition.pattern, part.shell.mesh
    kinds = ("outline", "edge") if pattern.period_mm is None else ("outline", "edge", "opening")
    length = 0.0
    for loop, rim in zip(pattern.rimmed, part.shell.rims, strict=True):
        if loop.kind in kinds:
            rows = mesh.vertices[rim]
            low, high = (len(rows) - 1) // 2, len(rows) // 2
            length += closed_length_mm((rows[low] + rows[high]) / 2)
    return length


def dxf_length_mm(path: Path, layers: tuple[str, ...]) -> float:
    """Length of all closed polylines on some layers, read by ezdxf."""
    document = ezdxf.readfile(path)
    assert document.units == ezdxf.units.MM
    return sum(
        closed_length_mm(np.array(line.get_points("xy")))
        for layer in layers
        for line in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
        if line.closed
    )


def check_lengths(name: str, folder: Path) -> None:
    orthosis = shaped(name).modelled
    for part in orthosis.parts:
        flat = flatten(part.definition)
        write_dxf(folder / "pattern.dxf", flat, ("t",))
        layers = ("TRIM_LINE",) if flat.seam is None else ("TRIM_LINE", "OPENINGS")
        cut = 0.0 if flat.seam is None else np.linalg.norm(flat.seam[:, 1] - flat.seam[:, 0], axis=1).sum()
        drawn = dxf_length_mm(folder / "pattern.dxf", layers) - cut
        assert drawn == pytest.approx(trim_line_mm(part), rel=0.01), part.name
        assert flat.trim_mm == pytest.approx(drawn, rel=1e-4)
        outline = shapely.Polygon(flat.boundary[0].points)
        assert outline.is_valid
        assert outline.exterior.is_ccw
        assert all(
            outline.covers(shapely.LinearRing(loop.points)) for loop in (*flat.boundary[1:], *flat.inner)
        )


@pytest.mark.parametrize("name", QUICK)
def test_the_outline_is_as_long_as_the_trim_line(name: str, tmp_path: Path) -> None:
    check_lengths(name, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in NAMES if name not in QUICK])
def test_the_outline_of_every_case_is_as_long_as_the_trim_line(name: str, tmp_path: Path) -> None:
    check_lengths(name, tmp_path)


def test_the_pattern_plane_would_be_too_short() -> None:
    """The plane in which the shell is designed keeps angles, not lengths; taken as a cutting pattern it misses by more than 1 %."""
    (part,) = shaped("mallet_with_pip_block").modelled.parts
    assert abs(part.definition.pattern.boundary[0].length_mm / trim_line_mm(part) - 1.0) > 0.01


def test_a_cylinder_lies_flat_as_it_is(make_cylinder) -> None:
    """Half of a round tube is a rectangle of half its girth by its length (geometry), here with round corners."""
    flat = flatten(make_cylinder(radius_mm=10.0, length_mm=40.0))
    low, high = flat.box_mm
    assert high - low == pytest.approx([np.pi * 11.0, 40.0], rel=0.003)
    assert flat.stretch_percent < 0.1
    corners = (4.0 - np.pi) * 3.0**2
    assert shapely.Polygon(flat.boundary[0].points).area == pytest.approx(
        np.pi * 11.0 * 40.0 - corners, rel=0.003
    )


@pytest.fixture
def make_cylinder():
    from print3d.geometry.spline import fit_surface
    from print3d.shell.curves import loop_of, rounded
    from print3d.shell.definition import ShellDefinition
    from print3d.shell.pattern import Pattern

    def make(radius_mm: float, length_mm: float, wall_mm: float = 2.0) -> ShellDefinition:
        half = np.pi * radius_mm / 2

        def surface(depth: float):
            return lambda along, around: np.column_stack(
                [
                    along,
                    (radius_mm + depth) * np.sin(around / radius_mm),
                    (radius_mm + depth) * np.cos(around / radius_mm),
                ]
            )

        sites = np.linspace(-5.0, length_mm + 5.0, 30), np.linspace(-half - 3.0, half + 3.0, 60)
        outline = loop_of(rounded(shapely.box(0.0, -half, length_mm, half), 3.0), "outline", 0.4)
        inner, outer = (fit_surface(surface(depth), *sites) for depth in (0.0, wall_mm))
        return ShellDefinition(Pattern((outline,)), inner, outer, wall_mm, 0.5)

    return make


def test_left_and_right_patterns_are_mirror_images() -> None:
    built = shaped("figure_of_eight")
    heads = [built.case.header.model_copy(update={"side": side}) for side in ("right", "left")]
    cases = [replace(built.case, header=head) for head in heads]
    right, left = (flat_parts(changed(built, case=case))["figure-of-eight_ring"] for case in cases)
    assert np.array_equal(right.boundary[0].points * [-1.0, 1.0], left.boundary[0].points)
    assert right.trim_mm == pytest.approx(left.trim_mm)


@pytest.mark.parametrize(
    ("name", "part"),
    [("pip_extension_left_index", "sleeve_pip_orthosis"), ("pip_extension", "volar_pip_orthosis")],
)
def test_letters_read_right_in_the_pattern(name: str, part: str) -> None:
    """Contours of letters run counter-clockwise, and clockwise where a pattern is mirrored: left hands are mirrored twice."""
    built = shaped(name)
    flat, orthosis = flat_parts(built)[part], built.modelled
    as_designed = [
        shapely.LinearRing(loop.points).is_ccw for loop in orthosis.parts[0].definition.pattern.marks
    ]
    drawn = [shapely.LinearRing(loop.points).is_ccw for loop in flat.inner if loop.kind == "mark"]
    assert drawn == ([not each for each in as_designed] if built.side == "left" else as_designed)
    text = shapely.union_all([shapely.Polygon(loop.points) for loop in flat.inner if loop.kind == "mark"])
    p_of_code = min(
        shapely.get_parts(text), key=lambda each: each.bounds[1]
    )  # the line runs up; its first letter is P
    upper = p_of_code.intersection(shapely.box(*_left_half(p_of_code)))
    assert (
        upper.area > 0.6 * p_of_code.area
    )  # read with the page turned right, the bowl of a P is in its upper half


def _left_half(shape: shapely.Geometry) -> tuple[float, float, float, float]:
    low_x, low_y, high_x, high_y = shape.bounds
    return low_x, low_y, (low_x + high_x) / 2, high_y


def test_svg_and_dxf_hold_the_same_curves_at_true_size(tmp_path: Path) -> None:
    orthosis = shaped("pip_extension").modelled
    flat = flatten(orthosis.parts[0].definition)
    write_svg(tmp_path / "p.svg", flat, ("PY-014 <test> & more", "A note."))
    write_dxf(tmp_path / "p.dxf", flat, ("A note.",))
    root = ET.fromstring((tmp_path / "p.svg").read_text())
    width, height = (float(root.attrib[name].removesuffix("mm")) for name in ("width", "height"))
    assert root.attrib["viewBox"] == f"0 0 {width:.3f} {height:.3f}"  # one user unit is one mm
    space = {"s": "http://www.w3.org/2000/svg"}
    lengths = {}
    for group in root.findall("s:g", space):
        paths = [
            re.findall(r"(-?[\d.]+) (-?[\d.]+)", each.attrib["d"]) for each in group.findall("s:path", space)
        ]
        lengths[group.attrib["id"]] = sum(closed_length_mm(np.array(points, dtype=float)) for points in paths)
    assert set(lengths) == {"TRIM_LINE", "VENTS", "SLOTS", "MARKING", "NOTE"}
    assert lengths.pop("NOTE") == 0
    for layer, length in lengths.items():
        assert dxf_length_mm(tmp_path / "p.dxf", (layer,)) == pytest.approx(length, rel=1e-3)


def test_a_small_pattern_takes_one_page_and_a_large_one_is_tiled(sheet_data, tmp_path: Path) -> None:
    for name, pages in (("pip_extension", 1), ("dorsal_blocking_left", 3)):
        data = sheet_data(name)
        write_pattern_sheet(tmp_path / "p.pdf", data)
        assert len(Pdf(tmp_path / "p.pdf").document) == pages


def test_tiles_cover_the_pattern_and_overlap(sheet_data) -> None:
    data = sheet_data("dorsal_blocking_left")
    (flat,) = flat_parts(data).values()
    tiling = tile(flat, Paper("x", "y"))
    windows = [
        shapely.box(*corner, *(corner + tiling.window))
        for corner in (tiling.corner(c, r) for c in range(tiling.columns) for r in range(tiling.rows))
    ]
    size = np.diff(np.array(flat.box_mm), axis=0)[0] + 2.0
    across, up = size[::-1] if tiling.turned else size
    assert shapely.union_all(windows).buffer(1e-6).covers(shapely.box(0.0, 0.0, across, up))
    assert windows[0].intersection(windows[1]).area == pytest.approx(10.0 * tiling.window[0])


def test_a_drawing_does_not_depend_on_the_order_of_a_set(tmp_path: Path) -> None:
    """With unlike hash seeds the same set is read in unlike order."""
    program = """
import sys
from pathlib import Path
import numpy as np
from print3d.output.paper.pattern_drawing import write_dxf
from print3d.shell.flattened import FlatLoop, FlatShell
square = FlatLoop("outline", np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]]))
write_dxf(Path(sys.argv[1]), FlatShell((square,), (), None, 2.0, 0.0), ("note",))
"""
    written = set()
    for seed in range(6):
        path = tmp_path / f"{seed}.dxf"
        subprocess.run(
            [sys.executable, "-c", program, str(path)],
            check=True,
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
        )
        written.add(path.read_bytes())
    assert len(written) == 1
