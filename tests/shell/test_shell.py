"""Pattern, triangulation, draping, vents, letters and the mesh they make."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from print3d.errors import ShapingError
from print3d.geometry.spline import SplineSurface, fit_surface
from print3d.geometry.triangulation import Region, edges_of, triangulate
from print3d.shell.curves import circle, edge, loop_of, rounded
from print3d.shell.definition import Facets, ShellDefinition
from print3d.shell.drape import Extent, drape
from print3d.shell.letters import letter_loops, text_shape
from print3d.shell.mesh import FaceKind, build_mesh
from print3d.shell.outlines import TELLABLE_MM
from print3d.shell.pattern import Pattern
from print3d.shell.vents import VentGrid, place_vents, well_apart
from tests.conftest import genus, is_closed
from tests.shell import shapes

R, CLEARANCE, WALL = 9.0, 0.5, 2.0
PERIOD = 2 * np.pi * R


def cylinder(offset: float):
    return lambda along, around: np.column_stack(
        [along, (R + offset) * np.sin(around / R), (R + offset) * np.cos(around / R)]
    )


def faces(period: float | None = None) -> tuple[SplineSurface, SplineSurface]:
    half = 15.0 if period is None else period / 2
    sites = np.linspace(-2, 47, 34), np.linspace(-half, half, 40)
    return tuple(fit_surface(cylinder(offset), *sites, period) for offset in (CLEARANCE, CLEARANCE + WALL))


def gutter(holes=(), marks=(), mark_height=0.4) -> ShellDefinition:
    outline = loop_of(rounded(shapely.box(0, -14, 45, 14), 4), "outline", 0.4)
    return ShellDefinition(Pattern((outline,), tuple(holes), tuple(marks)), *faces(), WALL, 0.9, mark_height)


def grid_of_vents() -> tuple:
    return place_vents(VentGrid("hexagonal", 3.0, 5.6), shapely.box(4, -10, 41, 10))


def stadium_rim_loss(radius: float, length: float) -> float:
    """Volume that rounding takes from a square rim: two quarter corners of r^2 (1 - pi/4) along its length."""
    return 2 * radius**2 * (1 - np.pi / 4) * length


def test_gutter_volume_is_that_of_the_cylinder_sector() -> None:
    shell = gutter()
    outline = shapely.Polygon(shell.pattern.boundary[0].points)
    middle = (R + CLEARANCE + WALL / 2) / R
    plain = outline.area * middle * WALL
    found = build_mesh(shell).mesh.volume_mm3()
    assert found == pytest.approx(plain - stadium_rim_loss(0.9, outline.length) * middle, rel=0.003)


@pytest.mark.parametrize("n_holes", [0, 1, 20])
def test_mesh_is_closed_and_has_as_many_handles_as_holes(n_holes: int) -> None:
    shell = gutter(grid_of_vents()[:n_holes])
    mesh = build_mesh(shell)
    assert is_closed(mesh.mesh)
    assert genus(mesh.mesh) == n_holes
    assert len(np.unique(mesh.mesh.faces)) == len(mesh.mesh.vertices)


def test_mesh_is_the_same_every_time() -> None:
    first, second = (build_mesh(gutter(grid_of_vents())).mesh for _ in range(2))
    assert first.vertices.tobytes() == second.vertices.tobytes()
    assert first.faces.tobytes() == second.faces.tobytes()


def test_both_faces_lie_where_they_should() -> None:
    shell = build_mesh(gutter(grid_of_vents()))
    radii = np.hypot(shell.mesh.vertices[:, 1], shell.mesh.vertices[:, 2])
    np.testing.assert_allclose(radii[shell.inner_vertices], R + CLEARANCE, atol=0.002)
    np.testing.assert_allclose(radii[shell.outer_vertices], R + CLEARANCE + WALL, atol=0.002)


def test_rim_lies_on_the_loop_and_is_round() -> None:
    definition = gutter()
    grid = definition.rim_grid(definition.pattern.boundary[0])
    radii = np.hypot(grid[..., 1], grid[..., 2])
    profile = definition.rim_profile()
    np.testing.assert_allclose(
        radii - R - CLEARANCE, np.broadcast_to(profile[:, 1:], radii.shape), atol=0.003
    )
    lower = profile[profile[:, 1] <= 0.9]
    np.testing.assert_allclose(np.hypot(lower[:, 0] - 0.9, lower[:, 1] - 0.9), 0.9, atol=1e-9)


@pytest.mark.parametrize(("height", "sign"), [(0.4, 1), (-0.4, -1)])
def test_letters_add_or_take_their_area_times_height(height: float, sign: int) -> None:
    marks = letter_loops("PY-08 R →", (22.5, 0.0), 3.5)
    plain, lettered = (build_mesh(gutter(marks=m, mark_height=height)) for m in ((), marks))
    area = text_shape("PY-08 R →", 3.5).area * (R + CLEARANCE + WALL) / R
    change = lettered.mesh.volume_mm3() - plain.mesh.volume_mm3()
    assert change == pytest.approx(sign * area * abs(height), rel=0.06)
    assert is_closed(lettered.mesh)
    assert genus(lettered.mesh) == 0
    assert (lettered.face_kind == FaceKind.MARK).sum() > 500


def test_mirrored_letters_are_the_mirror_image() -> None:
    right, left = (
        np.vstack([m.points for m in letter_loops("R7", (0, 0), 4.0, is_mirrored=flip)])
        for flip in (False, True)
    )
    assert right.mean(axis=0) == pytest.approx(left.mean(axis=0) * [1, -1], abs=0.05)
    region = shapely.MultiPoint(right * [1, -1]).buffer(0.2)
    assert region.buffer(0.2).covers(shapely.MultiPoint(left))


def test_ring_closes_and_has_the_volume_of_a_tube() -> None:
    ends = [
        edge(lambda around, along=along: np.full_like(around, along), PERIOD, 0.5, is_distal=distal)
        for along, distal in ((5.0, False), (15.0, True))
    ]
    shell = build_mesh(ShellDefinition(Pattern(tuple(ends), period_mm=PERIOD), *faces(PERIOD), WALL, 0.9))
    tube = np.pi * ((R + CLEARANCE + WALL) ** 2 - (R + CLEARANCE) ** 2) * 10.0
    assert is_closed(shell.mesh)
    assert genus(shell.mesh) == 1
    assert shell.mesh.volume_mm3() == pytest.approx(
        tube - 2 * stadium_rim_loss(0.9, 2 * np.pi * (R + 1.5)), rel=0.003
    )


def test_wavy_ring_with_vents_over_the_seam_closes() -> None:
    low = edge(lambda around: 3 + 2 * np.sin(around / R), PERIOD, 0.5, is_distal=False)
    high = edge(lambda around: 17 + 2 * np.cos(2 * around / R), PERIOD, 0.5, is_distal=True)
    vents = tuple(
        circle(np.array([10.0, y]), 1.5, "vent", 0.01)
        for y in np.arange(-PERIOD / 2, PERIOD / 2 - 4, PERIOD / 8)
    )
    shell = build_mesh(
        ShellDefinition(Pattern((low, high), vents, period_mm=PERIOD), *faces(PERIOD), WALL, 0.9)
    )
    assert is_closed(shell.mesh)
    assert genus(shell.mesh) == 1 + len(vents)


@pytest.mark.parametrize("seed", range(40))
def test_a_side_that_is_straight_but_for_rounding_bounds_no_loose_triangle(seed: int) -> None:
    """Low triangles over several of its samples lay outside all others, found on the end of a forearm: the shell was not closed."""
    steps = [np.linspace(0.0, side, n, endpoint=False) for side, n in ((60.0, 75), (40.0, 50))]
    x, y = steps
    sides = ((x, 0.0 * x), (0.0 * y + 60.0, y), (60.0 - x, 0.0 * x + 40.0), (0.0 * y, 40.0 - y))
    loop = np.vstack([np.column_stack(side) for side in sides])
    loop += np.random.default_rng(seed).uniform(-3e-5, 3e-5, loop.shape)
    _, triangles = triangulate(Region([loop], 1, [0.0]), 2.5)
    edges = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    every, counts = np.unique(edges, axis=0, return_counts=True)
    apart = np.diff(every[counts == 1], axis=1)[:, 0]
    assert len(apart) == len(loop)
    assert set(apart) == {1, len(loop) - 1}


def test_triangulation_covers_the_polygon_once() -> None:
    outline = loop_of(rounded(shapely.box(0, 0, 30, 20), 3), "outline", 0.4)
    hole = circle(np.array([12.0, 9.0]), 3.0, "vent", 0.01)
    points, triangles = triangulate(Region([outline.points, hole.points], 2, [0.0, 0.0]), 0.9)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    doubled = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    wanted = shapely.Polygon(outline.points).area - shapely.Polygon(hole.points).area
    assert (doubled > 0).all()
    assert doubled.sum() / 2 == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("made", [shapes.vented(12), shapes.ring(wave=0.0)], ids=["gutter", "ring"])
def test_edges_that_leave_a_face_are_cut(made: ShellDefinition) -> None:
    """An edge of length L around a cylinder of radius R stands L^2 / 8 R off it."""
    coarse = replace(made, facets=Facets(spacing_mm=2.0))
    fine = replace(made, facets=Facets(spacing_mm=2.0, error_mm=0.02))
    rough, smooth = (edge_middles(each) for each in (coarse, fine))
    assert np.mean(rough > 0.02) > 0.2
    assert np.mean(smooth > 0.02) < 0.02
    assert smooth.max() < 0.06
    shell = build_mesh(fine)
    assert is_closed(shell.mesh)


def edge_middles(definition: ShellDefinition) -> np.ndarray:
    """How far the middles (k,) of the edges of the outer face lie below the cylinder over them."""
    shell = build_mesh(definition)
    edges = shell.mesh.vertices[shell.outer_vertices[edges_of(shell.flat_faces)]]
    return R + CLEARANCE + WALL - np.linalg.norm(edges.mean(axis=1)[:, 1:], axis=1)


def test_vents_too_close_for_the_rim_are_refused() -> None:
    vents = [circle(np.array([20.0 + shift, 0.0]), 1.5, "vent", 0.01) for shift in (0.0, 4.0)]
    with pytest.raises(
        ShapingError, match=r"rim_radius_mm = 0\.9: vent and vent come too close.*1\.00 mm lie between"
    ):
        build_mesh(gutter(vents))


def test_rims_that_cross_between_their_samples_are_refused() -> None:
    """Circles of 1.5 mm and their rims of 0.9 mm overlap by 0.08 mm, the polygons of 16 corners that stand for them do not."""
    facing = np.pi / 16
    apart = 4.72 * np.array([np.cos(facing), np.sin(facing)])
    vents = [circle(np.array([20.0, 0.0]) + k * apart, 1.5, "vent", 0.03) for k in range(2)]
    one, other = (shapely.Polygon(gutter(vents).inset(vent, 0.9)) for vent in vents)
    assert 0.0 < one.distance(other) < TELLABLE_MM
    with pytest.raises(ShapingError, match="rim_radius_mm = 0.9: vent and vent come too close"):
        build_mesh(gutter(vents))


def test_strokes_of_small_letters_may_come_closer_than_rims() -> None:
    marks = letter_loops("SW-1-634 R", (22.5, 0.0), 1.3)
    contours = [shapely.LinearRing(mark.points) for mark in marks]
    assert 0.0 < min(one.distance(other) for one, other in combinations(contours, 2)) < TELLABLE_MM
    assert is_closed(build_mesh(gutter(marks=marks)).mesh)


def test_vents_that_a_sheared_pattern_brings_together_are_left_out() -> None:
    vents = [circle(np.array([along, 0.0]), 1.5, "vent", 0.01) for along in (10.0, 14.9, 19.7, 25.0)]
    assert well_apart(vents, 1.95) == (vents[0], vents[2], vents[3])
    assert well_apart(vents, 1.5) == tuple(vents)
    assert well_apart((), 1.5) == ()


def test_a_rim_wider_than_half_the_wall_is_refused() -> None:
    with pytest.raises(ShapingError, match=r"rim_radius_mm = 1.2.*wall_mm = 2"):
        ShellDefinition(gutter().pattern, *faces(), WALL, 1.2)


@pytest.mark.parametrize(
    ("grid", "diameter", "pitch", "share"),
    [
        ("hexagonal", 5.0, 8.0, 0.354), ("square", 5.0, 8.0, 0.307), ("hexagonal", 6.0, 9.0, 0.403),
        ("square", 6.0, 9.0, 0.349), ("hexagonal", 4.0, 7.0, 0.296), ("square", 4.0, 7.0, 0.256),
    ],
)  # fmt: skip
def test_open_share_of_the_grids(grid: str, diameter: float, pitch: float, share: float) -> None:
    """Plane geometry of circles on a lattice: pi / (2 sqrt 3) (d/p)^2 and pi / 4 (d/p)^2."""
    side = 700.0
    vents = place_vents(VentGrid(grid, diameter, pitch), shapely.box(0, -side / 2, side, side / 2))
    open_area = sum(shapely.Polygon(vent.points).area for vent in vents)
    assert open_area / (side - pitch) ** 2 == pytest.approx(share, rel=0.05)


def test_the_grid_makes_room_for_a_vent_that_is_wanted() -> None:
    """It lies there to the micrometre, a pitch from all others; one that is not allowed is left out."""
    allowed, wanted = shapely.box(4, -10, 41, 10), (17.3, 2.9)
    vents = place_vents(VentGrid("hexagonal", 3.0, 5.6), allowed, (wanted, (40.0, 2.0)))
    centres = np.array([vent.points.mean(axis=0) for vent in vents])
    away = np.sort(np.hypot(*(centres - wanted).T))
    assert away[0] < 1e-6
    assert away[1] >= 5.6 - 1e-6
    assert len(vents) > 15


def test_vents_stay_inside_and_apart_and_are_symmetric() -> None:
    allowed = shapely.box(4, -10, 41, 10).difference(shapely.box(18, -11, 26, 11))
    vents = place_vents(VentGrid("hexagonal", 3.0, 5.6), allowed)
    discs = [shapely.Polygon(vent.points) for vent in vents]
    assert len(vents) >= 14
    assert all(allowed.buffer(1e-6).contains(disc) for disc in discs)
    centres = np.array([disc.centroid.coords[0] for disc in discs])
    gaps = np.linalg.norm(centres[:, None] - centres[None], axis=2)[~np.eye(len(centres), dtype=bool)]
    assert gaps.min() == pytest.approx(5.6, abs=1e-6)
    mirrored = np.linalg.norm(centres[:, None] - (centres * [1, -1])[None], axis=2).min(axis=1)
    assert mirrored.max() < 1e-6


def test_a_slot_passes_its_strap() -> None:
    slot = shapely.Polygon(shapes.strap_slot((20.0, 5.0), 13.0, 2.5, 0.4).points)
    low_along, low_around, high_along, high_around = slot.bounds
    assert high_along - low_along == pytest.approx(14.0, abs=0.05)
    assert high_around - low_around == pytest.approx(2.5, abs=0.02)


def test_draping_keeps_clearance_and_wall_where_the_shell_flares() -> None:
    extent = Extent((0.0, 40.0), (-14.0, 14.0), shapely.box(0, -14, 40, 14))

    def flaring(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        return CLEARANCE + 1.5 * np.maximum((along - 32.0) / 8.0, 0.0) ** 2

    inner, outer = drape(cylinder(0.0), extent, flaring, lambda along, _: np.full(len(along), WALL))
    grid = np.meshgrid(np.linspace(1, 39, 50), np.linspace(-13, 13, 40), indexing="ij")
    at = grid[0].ravel(), grid[1].ravel()
    below, above = inner.points(*at), outer.points(*at)
    np.testing.assert_allclose(np.hypot(below[:, 1], below[:, 2]) - R, flaring(*at), atol=0.012)
    np.testing.assert_allclose(np.linalg.norm(above - below, axis=1), WALL, atol=0.01)
    along_normal = np.einsum("ij,ij->i", above - below, inner.normals(*at))
    np.testing.assert_allclose(along_normal, WALL, atol=0.02)


def test_a_shell_that_would_fold_is_refused() -> None:
    def bent(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        """The inside of a bend of radius 2 mm: an offset of 2.5 mm folds."""
        return np.column_stack([2.0 * np.sin(along / 2.0), around, -2.0 * np.cos(along / 2.0)])

    extent = Extent((-2.0, 2.0), (-5.0, 5.0), shapely.box(-2, -5, 2, 5))
    with pytest.raises(ShapingError, match="folds over itself"):
        drape(
            bent, extent, lambda along, _: np.full(len(along), 0.5), lambda along, _: np.full(len(along), 2.0)
        )


@pytest.mark.parametrize("height", [0.4, -0.4])
def test_letters_over_the_seam_of_a_ring_are_like_letters_beside_it(height: float) -> None:
    ends = [
        edge(lambda around, along=along: np.full_like(around, along), PERIOD, 0.4, is_distal=distal)
        for along, distal in ((5.0, False), (35.0, True))
    ]
    volumes = []
    for at in (0.0, PERIOD / 2):
        pattern = Pattern(tuple(ends), (), letter_loops("B8", (20.0, at), 4.0), period_mm=PERIOD)
        shell = build_mesh(ShellDefinition(pattern, *faces(PERIOD), WALL, 0.9, height))
        assert is_closed(shell.mesh)
        volumes.append(shell.mesh.volume_mm3())
    assert volumes[0] == pytest.approx(volumes[1], rel=1e-5)
