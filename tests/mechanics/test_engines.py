"""The engines of the checks against bodies whose truth is known by construction."""

import numpy as np
import pytest
import shapely
import trimesh

from print3d.checks.integrity import count_bodies, count_handles, measure_open_edges, measure_overlaps
from print3d.checks.openings import measure_narrowest_bridge, measure_width
from print3d.checks.rims import circumradius
from print3d.checks.wall import measure_thinnest_wall
from print3d.geometry.frames import apply, flexion_rotation, rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import DistanceField, PointCloud, Surface
from print3d.mechanics.inscribed_spheres import inscribed_spheres


def mesh_of(body: trimesh.Trimesh) -> Mesh:
    return Mesh(np.asarray(body.vertices, dtype=float), np.asarray(body.faces, dtype=np.int64))


def test_balls_in_a_tube_measure_its_wall() -> None:
    """An annulus of radii 10 and 12.5: wall 2.5 everywhere; edges give small balls with near contacts."""
    tube = mesh_of(trimesh.creation.annulus(10.0, 12.5, 40.0, sections=180).subdivide().subdivide())
    surface = Surface(tube)
    points, faces = surface.area_even_samples(np.arange(len(tube.faces)), 3000)
    balls = inscribed_spheres(surface, points, faces, 4.5)
    wall = balls.diameter[balls.separation_deg > 120.0]
    assert wall.min() == pytest.approx(2.5, abs=0.01)
    assert wall.max() == pytest.approx(2.5, abs=0.03)
    assert balls.diameter.min() < 1.0  # what an unfiltered minimum would report at the edges


def extruded(section: list[tuple[float, float]], length: float) -> Mesh:
    """A prism with edges of at most 1 mm."""
    body = trimesh.creation.extrude_polygon(shapely.Polygon(section), length)
    return mesh_of(body.subdivide_to_size(1.0))


def test_wall_under_a_groove_with_a_sharp_tip() -> None:
    """A 2.5 mm plate with a 90 degree V-groove that leaves 0.8 mm: no facing normals there, yet the ball finds it."""
    section = [(0.0, 0.0), (20.0, 0.0), (20.0, 2.5), (11.7, 2.5), (10.0, 0.8), (8.3, 2.5), (0.0, 2.5)]
    plate = extruded(section, 15.0)
    thickness, where = measure_thinnest_wall(Surface(plate), np.ones(len(plate.faces), dtype=bool))
    assert thickness == pytest.approx(0.8, abs=0.01)
    assert where is not None
    assert where[0] == pytest.approx(10.0, abs=0.4)


def test_wall_of_a_wedge_and_of_a_knife_edge() -> None:
    """A wedge from 2 to 3 mm over 100 reads its thin end, plus what the ball cannot reach there (slope t / 2); a plate
    that runs out at 45 degrees reads next to nothing.
    """
    wedge = extruded([(0.0, 0.0), (100.0, 0.0), (100.0, 3.0), (0.0, 2.0)], 8.0)
    thickness, _ = measure_thinnest_wall(Surface(wedge), np.ones(len(wedge.faces), dtype=bool))
    assert 2.0 <= thickness <= 2.02
    knife = extruded([(0.0, 0.0), (20.0, 0.0), (18.0, 2.0), (0.0, 2.0)], 8.0)
    assert measure_thinnest_wall(Surface(knife), np.ones(len(knife.faces), dtype=bool))[0] < 0.5


def test_signed_distance_to_a_sphere() -> None:
    sphere = Surface(mesh_of(trimesh.creation.icosphere(subdivisions=5, radius=9.0)))
    points = np.random.default_rng(2).uniform(-15, 15, (500, 3))
    np.testing.assert_allclose(sphere.signed(points), np.linalg.norm(points, axis=1) - 9.0, atol=0.01)


@pytest.mark.parametrize(("centre", "gap_at_0", "gap_at_90"), [(12.0, 6.1208, 1.5), (9.5, 4.4164, -1.0)])
def test_ring_and_hinged_finger(centre: float, gap_at_0: float, gap_at_90: float) -> None:
    """A torus (R 11.5, r 1.5) at x = -c and a capsule (r 9, L 40) hinged at the origin.

    gap(0) = sqrt(c^2 + 11.5^2) - 10.5, gap(90) = c - 10.5 (plane geometry).
    """
    ring = trimesh.creation.torus(11.5, 1.5, major_sections=160, minor_sections=48)
    ring.apply_transform(trimesh.geometry.align_vectors([0, 0, 1], [1, 0, 0]))
    ring.apply_translation([-centre, 0, 0])
    finger = trimesh.creation.capsule(height=40.0, radius=9.0, count=[96, 96])
    finger.apply_transform(trimesh.geometry.align_vectors([0, 0, 1], [1, 0, 0]))
    if finger.vertices[:, 0].max() < 40.0:
        finger.apply_translation([40.0 + 9.0 - finger.vertices[:, 0].max(), 0, 0])
    cloud, body = PointCloud(np.asarray(ring.vertices)), Surface(mesh_of(finger.subdivide_to_size(1.0)))
    for angle, gap in ((0.0, gap_at_0), (90.0, gap_at_90)):
        placed = rigid(flexion_rotation(np.radians(angle)), np.zeros(3))
        least, _ = cloud.least_signed(body, np.linalg.inv(placed))
        assert least == pytest.approx(gap, abs=0.03)


def test_a_cloud_finds_what_a_full_search_finds() -> None:
    rng = np.random.default_rng(5)
    points = rng.uniform(-30, 30, (4000, 3))
    body = Surface(mesh_of(trimesh.creation.box((20, 8, 5))))
    for shift in (0.0, 15.0, 70.0):
        placed = rigid(flexion_rotation(0.4), np.array([shift, 3.0, 0.0]))
        moved = points @ placed[:3, :3].T + placed[:3, 3]
        cloud = PointCloud(points)
        least, place = cloud.least_signed(body, placed)
        assert least == pytest.approx(body.signed(moved).min())
        assert body.signed(placed[None, :3, :3] @ place + placed[:3, 3])[0] == pytest.approx(least)
        assert not cloud.farther_than(least, body, placed)


def test_a_table_of_a_body_spares_searching_and_finds_the_same() -> None:
    """A ball 9 mm in radius among points around it: the least distance is exact, however coarse what guides the search."""
    rng = np.random.default_rng(6)
    points = rng.normal(size=(3000, 3))
    points *= rng.uniform(8.6, 16.0, (3000, 1)) / np.linalg.norm(points, axis=1, keepdims=True)
    body = Surface(mesh_of(trimesh.creation.icosphere(subdivisions=5, radius=9.0)))
    field = DistanceField(body, np.full(3, -14.0), np.full(3, 14.0), 1.6)
    cloud = PointCloud(points)
    for shift in ([0.0, 0.0, 0.0], [0.3, -0.2, 0.4], [-1.5, 1.0, 0.6]):
        placed = rigid(flexion_rotation(0.7), np.array(shift))
        plain, guided = cloud.least_signed(body, placed), cloud.least_signed(body, placed, field=field)
        assert guided[0] == plain[0] == pytest.approx(body.signed(apply(placed, points)).min(), abs=1e-12)
        np.testing.assert_array_equal(guided[1], plain[1])


def test_integrity_numbers() -> None:
    torus = mesh_of(trimesh.creation.torus(10, 2))
    assert measure_open_edges(torus)[0] == 0
    assert count_handles(torus) == 1
    assert count_bodies(torus) == 1
    assert measure_overlaps(torus)[0] == 0
    inside_out = Mesh(torus.vertices, torus.faces[:, ::-1])
    assert measure_overlaps(inside_out)[0] > 0
    assert measure_open_edges(Mesh(torus.vertices, torus.faces[1:]))[0] == 3


def test_bridge_between_holes_in_a_tube() -> None:
    """Two radial holes of radius r on a tube of radius Ri whose axes cross at phi.

    Least ligament at the inner skin 2 (sqrt(Ri^2 - r^2) sin(phi/2) - r cos(phi/2)): 5.50034 for Ri 10, r 2, 55 degrees and
    13.24143 for Ri 35, r 2.5, 30 degrees (plane geometry).
    """
    for inner, hole, phi, expected in ((10.0, 2.0, 55.0, 5.50034), (35.0, 2.5, 30.0, 13.24143)):
        turn = np.linspace(0, 2 * np.pi, 240, endpoint=False)
        across, along = hole * np.cos(turn), hole * np.sin(turn)
        ring = np.column_stack([along, across, np.sqrt(inner**2 - across**2)])
        c, s = np.cos(np.radians(phi)), np.sin(np.radians(phi))
        turned = ring @ np.array([[1, 0, 0], [0, c, s], [0, -s, c]]).T
        assert measure_narrowest_bridge([ring[None], turned[None]])[0] == pytest.approx(expected, abs=0.01)


def test_width_of_a_slot() -> None:
    turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    oval = np.column_stack([6.0 * np.cos(turn), 1.25 * np.sin(turn), np.zeros(200)])
    assert measure_width(oval) == pytest.approx(2.5, abs=0.02)


def test_circumradius() -> None:
    angles = np.array([0.2, 0.9, 1.5])
    a, b, c = (np.array([[0.8 * np.cos(t), 0.8 * np.sin(t), 3.0]]) for t in angles)
    assert circumradius(a, b, c)[0] == pytest.approx(0.8)
