"""Plane sections of meshes against closed forms and an independent library.

Closed forms of plane areas: Roark's Formulas for Stress and Strain (named from general knowledge).
"""

import numpy as np
import pytest
import shapely
import trimesh

from print3d.geometry.mesh import Mesh
from print3d.mechanics.areas import SectionArea, beam_angle_rad, section_area

ORIGIN, RADIAL, DORSAL = np.array([0.0, 0.0, 3.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])


def extruded(shape: shapely.Polygon) -> Mesh:
    body = trimesh.creation.extrude_polygon(shape, 7.0)
    return Mesh(np.asarray(body.vertices, dtype=float), np.asarray(body.faces, dtype=np.int64))


def section(shape: shapely.Polygon) -> SectionArea:
    found = section_area(extruded(shape), ORIGIN, RADIAL, DORSAL)
    assert found is not None
    return found


def half_annulus(inner: float, outer: float, half_angle: float = np.pi / 2.0) -> shapely.Polygon:
    angle = np.linspace(-half_angle, half_angle, 361)
    ring = np.column_stack([np.sin(angle), np.cos(angle)])
    return shapely.Polygon(np.vstack([outer * ring, inner * ring[::-1]]))


@pytest.mark.parametrize(
    ("inner", "outer", "area", "middle", "moments"),
    [
        (30.0, 32.5, 245.4369, 19.9050, (120034.00, 22789.88)),
        (10.0, 12.5, 88.3573, 7.1914, (5660.389, 1090.825)),
    ],
)
def test_half_annulus(
    inner: float, outer: float, area: float, middle: float, moments: tuple[float, float]
) -> None:
    found = section(half_annulus(inner, outer))
    assert found.area_mm2 == pytest.approx(area, rel=1e-4)
    np.testing.assert_allclose(found.centroid, [0.0, middle], rtol=1e-4, atol=1e-9)
    np.testing.assert_allclose(found.second_moments_mm4[:2], moments, rtol=2e-4)
    assert found.second_moments_mm4[2] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("half_angle", "moment"), [(np.pi / 2.0, 19595.9), (np.pi / 3.0, 3148.96)])
def test_thin_arcs(half_angle: float, moment: float) -> None:
    """R^3 t (a + sin a cos a - 2 sin^2 a / a), thin wall: R 28, made 0.3 mm thin here and scaled to 3."""
    found = section(half_annulus(28.0 - 0.15, 28.0 + 0.15, half_angle))
    assert 10.0 * found.second_moments_mm4[1] == pytest.approx(moment, rel=1e-3)


def test_a_section_of_several_pieces_and_holes() -> None:
    """Two bars apart: parallel axes."""
    bars = [shapely.box(-6.0, -2.0, -4.0, 2.0), shapely.box(4.0, -2.0, 6.0, 2.0)]
    both = trimesh.util.concatenate([trimesh.creation.extrude_polygon(bar, 7.0) for bar in bars])
    mesh = Mesh(np.asarray(both.vertices, dtype=float), np.asarray(both.faces, dtype=np.int64))
    found = section_area(mesh, ORIGIN, RADIAL, DORSAL)
    assert found is not None
    assert found.area_mm2 == pytest.approx(16.0)
    np.testing.assert_allclose(
        found.second_moments_mm4, [2 * (4 * 8 / 12 + 8 * 25), 2 * 2 * 64 / 12, 0.0], atol=1e-9
    )
    assert section_area(mesh, ORIGIN + [0.0, 0.0, 20.0], RADIAL, DORSAL) is None


@pytest.mark.slow(in_ci=True)
def test_an_independent_library() -> None:
    """sectionproperties, by finite elements on the section: a slanted channel with a hole."""
    from sectionproperties.analysis import Section
    from sectionproperties.pre import Geometry

    shape = shapely.Polygon([(0, 0), (20, 2), (21, 12), (18, 12), (17.5, 5), (3, 3.5), (2, 11), (-1, 11)])
    shape = shape.difference(shapely.Point(10.0, 2.6).buffer(0.7))
    ours = section(shape)
    theirs = Section(Geometry(shape).create_mesh(mesh_sizes=[2.0]))
    theirs.calculate_geometric_properties()
    along, across, mixed = theirs.get_ic()
    assert ours.area_mm2 == pytest.approx(theirs.get_area(), rel=1e-6)
    np.testing.assert_allclose(ours.centroid, theirs.get_c(), rtol=1e-6)
    np.testing.assert_allclose(ours.second_moments_mm4, [across, along, mixed], rtol=1e-6)


def test_the_angle_of_a_beam_in_three_point_bending() -> None:
    """Levers a and b about a joint: each bends by M l / 3 E I, so that the joint lets go by M (a + b) / 3 E I (Timoshenko)."""
    a, b, moment, rigidity = 30.0, 22.0, 43.15, 2.0e6
    stations = np.linspace(-a, b, 4001)
    bending = moment * np.where(stations < 0.0, 1.0 + stations / a, 1.0 - stations / b)
    found = beam_angle_rad(stations, bending, np.full(4001, rigidity), moment)
    assert found == pytest.approx(moment * (a + b) / (3.0 * rigidity), rel=1e-5)
