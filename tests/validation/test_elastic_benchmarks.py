"""Finite elements against closed formulas and against an independent library.

Formulas: S. Timoshenko, Strength of Materials; Roark's Formulas for Stress and Strain (rings); Winkler's curved beam. Named from
general knowledge, not looked up; figures computed from them beside each test.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from print3d.forms.orthosis import Part
from print3d.mechanics.beams import CurvedBeam, inner_side_factor, ring_deflections
from print3d.mechanics.elastic import ElasticBody
from print3d.mechanics.wedges import Wedges, wedges_of
from print3d.shell.mesh import build_mesh
from tests.shell.shapes import gutter, vented
from tests.validation.sheets import arc, plate, sheet, spread, three_point_bent


def part_of(definition: Any) -> Part:
    mesh = build_mesh(definition)
    return Part("gutter", definition, mesh, np.zeros(1), mesh.inner_vertices)


def test_plate_in_three_point_bending() -> None:
    """A plate 200 x 20 x 3, E 1800, 10 N in its middle, nu 0: F L^3 / 48 E I with shear 6/5 is 20.5872 mm; 6 M / b t^2 16.67 MPa."""
    wedges = sheet((40, 8), plate(200.0, 20.0), 3.0)
    bent = ElasticBody(wedges, 1800.0, 0.0).under(three_point_bent(wedges, 10.0))
    assert bent.work_n_mm / 10.0 == pytest.approx(20.5872, rel=0.03)
    assert bent.peak_mpa == pytest.approx(6.0 * 500.0 / (20.0 * 9.0), rel=0.03)


def test_half_tube_as_a_beam() -> None:
    """A half tube of radii 10 and 12.5, a cantilever of 200 mm with 5 N at its end, E 1800: 6.7906 mm (Timoshenko)."""
    wedges = sheet((80, 12), arc(11.25, 2.5, np.pi / 2.0, 400.0), 2.5)
    bent = ElasticBody(wedges, 1800.0, 0.0).under(three_point_bent(wedges, 10.0))
    assert bent.work_n_mm / 10.0 == pytest.approx(6.7906, rel=0.03)


def test_wide_half_tube_in_pure_bending() -> None:
    """Thin half tube R 28, t 3: I 19,595.9 mm4 about its own centroid, 17.825 mm from the centre; 1500 N mm, E 3500."""
    wedges, moment = sheet((60, 16), arc(28.0, 3.0, np.pi / 2.0, 300.0), 3.0), 1500.0
    points = wedges.points
    height = points[:, 2] - 17.825
    forces = np.zeros_like(points)
    for end, sign in ((points[:, 0] < 1e-6, 1.0), (points[:, 0] > 300.0 - 1e-6, -1.0)):
        share = height * end
        forces[:, 0] += sign * share * moment / float(share @ height)
    bent = ElasticBody(wedges, 3500.0, 0.0).under(forces)
    tilts = []  # away from the ends, where the couple is not spread as a beam has it
    for at in (75.0, 225.0):
        there = np.isclose(points[:, 0], at)
        tilts.append(np.polyfit(points[there, 2], bent.displacement[there, 0], 1)[0])
    assert abs(tilts[1] - tilts[0]) == pytest.approx(moment * 150.0 / (3500.0 * 19595.9), rel=0.03)


def test_half_ring_pulled_open() -> None:
    """R 31.25, t 2.5, b 20, E 1800, 1 N at the lips: pi P R^3 / 2 E I = 1.0227 mm (Castigliano)."""
    wedges = sheet((6, 40), arc(31.25, 2.5, np.pi / 2.0, 20.0), 2.5)
    lips = np.isclose(wedges.points[:, 2], 0.0, atol=1e-9)
    forces = sum(
        spread(wedges, lips & (side * wedges.points[:, 1] > 0.0), (0.0, side, 0.0)) for side in (-1.0, 1.0)
    )
    assert ElasticBody(wedges, 1800.0, 0.0).under(forces).work_n_mm == pytest.approx(1.0227, rel=0.03)


def pinched(thickness: float) -> tuple[float, float]:
    """How far a ring R 11, b 6, E 3500 shortens under 5 N across, per N, and by the formula of thin rings."""
    wedges = sheet((4, 64), arc(11.0, thickness, np.pi, 6.0), thickness, is_closed=True)
    middle = np.isclose(wedges.points[:, 1], 0.0, atol=1e-9)
    forces = sum(
        spread(wedges, middle & (side * wedges.points[:, 2] > 0.0), (0.0, 0.0, -side * 5.0))
        for side in (-1.0, 1.0)
    )
    answer = ElasticBody(wedges, 3500.0, 0.0).under(forces)
    return answer.work_n_mm / 5.0, ring_deflections(CurvedBeam(11.0, thickness, 6.0, 3500.0), 5.0)[0]


def test_pinched_thin_ring() -> None:
    """(pi / 4 - 2 / pi) F R^3 / E I, for t 1 where thrust and shear add 1 percent."""
    found, formula = pinched(1.0)
    assert found == pytest.approx(formula, rel=0.03)


def test_pinched_thick_ring() -> None:
    """The ring of 2 mm: 0.070723 mm by the thin formula; with thrust and shear, Roark's k1 = 1 - alpha + beta, k2 = 1 - alpha with
    alpha = t^2 / 12 R^2 and beta = 6/5 E / G alpha (from memory), (pi k1 / 4 - 2 k2^2 / pi): 4.4 percent more.
    """
    found, formula = pinched(2.0)
    assert formula == pytest.approx(0.070723, abs=5e-7)
    alpha = 2.0**2 / (12.0 * 11.0**2)
    first, second = 1.0 - alpha + 2.4 * alpha, 1.0 - alpha
    thick = (np.pi * first / 4.0 - 2.0 * second**2 / np.pi) / (np.pi / 4.0 - 2.0 / np.pi)
    assert thick == pytest.approx(1.044, abs=0.001)
    assert found == pytest.approx(thick * formula, rel=0.03)


def test_curved_beam_in_pure_bending() -> None:
    """r_i 9, r_o 11.5, b 6, M 50 N mm: sigma_i 8.7045, sigma_o 7.3919 MPa; a straight beam 8.0 (Winkler)."""
    wedges = sheet((4, 40), arc(10.25, 2.5, np.pi / 2.0, 6.0), 2.5)
    points = wedges.points
    lips = np.isclose(points[:, 2], 0.0, atol=1e-9)
    radius = np.abs(points[:, 1])
    forces = np.zeros_like(points)
    for side in (-1.0, 1.0):
        end = lips & (side * points[:, 1] > 0.0)
        share = (radius - 10.25) * end
        forces[:, 2] += share * 50.0 / float(share @ (radius - 10.25))
    bent = ElasticBody(wedges, 3500.0, 0.0).under(forces)
    n, top = len(wedges.inner), np.abs(np.arctan2(points[:, 1], points[:, 2])) < 0.3
    inner, outer = (
        bent.von_mises_mpa[half & top].mean() for half in (np.arange(2 * n) < n, np.arange(2 * n) >= n)
    )
    assert inner == pytest.approx(8.7045, rel=0.03)
    assert outer == pytest.approx(7.3919, rel=0.03)
    assert inner_side_factor(10.25, 2.5) == pytest.approx(8.7045 / 8.0, abs=1e-4)


def gutter_in_three_points(wedges: Wedges) -> np.ndarray:
    """Pushed up over 7 mm in its middle and held at its ends."""
    x = wedges.points[:, 0]
    return sum(
        spread(wedges, np.abs(x - at) < 3.5, (0.0, 0.0, force))
        for at, force in ((4.0, -2.0), (22.5, 4.0), (41.0, -2.0))
    )


def pressed_along(wedges: Wedges) -> np.ndarray:
    """10 kPa up and down along the gutter as a cosine: balanced, and the same load on every triangulation."""
    a, b, c = np.moveaxis(wedges.inner[wedges.triangles], 1, 0)
    normals = np.cross(b - a, c - a) / 2.0
    wave = np.cos(2.0 * np.pi * (a + b + c)[:, :1] / 3.0 / 45.0)
    forces = np.zeros_like(wedges.points)
    for corner in range(3):
        np.add.at(forces, wedges.triangles[:, corner], 0.01 * wave * normals / 3.0)
    return forces


def test_refinement_converges() -> None:
    """A gutter with nine vents: the answer on the wedges that checks use is within 3 percent of that on wedges half as wide."""
    part = part_of(vented(9))
    works = []
    for spacing in (4.4, 2.2, 1.2):
        wedges = wedges_of(part, spacing)
        works.append(ElasticBody(wedges, 2000.0).under(pressed_along(wedges)).work_n_mm)
    assert works[1] == pytest.approx(works[2], rel=0.03)
    assert abs(works[2] - works[1]) < abs(works[1] - works[0])


def test_wedges_fill_the_finished_part() -> None:
    """Their volume against that of the closed mesh, rounded rims, vents and all."""
    for definition in (gutter(), vented(9)):
        part = part_of(definition)
        assert wedges_of(part, 2.2).volume_mm3() == pytest.approx(part.shell.mesh.volume_mm3(), rel=0.015)


def tetrahedra(wedges: Wedges) -> np.ndarray:
    """Each wedge as three tetrahedra (3 t, 4), side faces split alike by both neighbours: from the corner of the lowest number."""
    n, cells = len(wedges.inner), []
    for corners in np.sort(wedges.triangles, axis=1):
        a, b, c = (int(each) for each in corners)
        cells += [(a, b, c, c + n), (a, b, b + n, c + n), (a, a + n, b + n, c + n)]
    return np.array(cells)


def test_a_vented_shell_by_an_independent_library() -> None:
    """scikit-fem: second-order tetrahedra instead of wedges, own assembly, own solver, held at six places instead of by a spring."""
    import skfem
    from scipy.sparse.linalg import spsolve
    from skfem.models.elasticity import lame_parameters, linear_elasticity

    wedges = wedges_of(part_of(vented(20)), 2.6)
    ours = ElasticBody(wedges, 2000.0, 0.35)
    forces = gutter_in_three_points(wedges)
    answer = ours.under(forces)

    mesh = skfem.MeshTet(wedges.points.T, tetrahedra(wedges).T)
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementTetP2()))
    stiffness = linear_elasticity(*lame_parameters(2000.0, 0.35)).assemble(basis)
    from print3d.mechanics.elastic import balanced

    load = np.zeros(basis.N)
    for axis in range(3):
        load[basis.nodal_dofs[axis]] = balanced(wedges.points, forces)[:, axis]
    x = wedges.points
    far, side = int(np.argmax(x[:, 0])), int(np.argmax(x[:, 1]))
    first = int(np.argmin(x[:, 0]))
    held = np.array([*basis.nodal_dofs[:, first], *basis.nodal_dofs[1:, far], basis.nodal_dofs[2, side]])
    moved = skfem.solve(*skfem.condense(stiffness, load, D=held), solver=lambda a, b: spsolve(a.tocsc(), b))
    assert answer.work_n_mm == pytest.approx(float(load @ moved), rel=0.03)


@pytest.mark.parametrize("fault", ["first order", "half the wall"])
def test_a_wrong_body_is_told_apart(fault: str) -> None:
    """What the comparison would show if elements locked, or if the wall were not the part's."""
    wedges = sheet((40, 8), plate(200.0, 20.0), 3.0)
    if fault == "half the wall":
        wedges = replace(wedges, outer=wedges.inner + 0.5 * (wedges.outer - wedges.inner))
        answer = ElasticBody(wedges, 1800.0, 0.0).under(three_point_bent(wedges, 10.0)).work_n_mm / 10.0
        assert answer == pytest.approx(8.0 * 20.5872, rel=0.03)
    else:
        coarse: Callable[[], float] = lambda: (  # noqa: E731
            ElasticBody(wedges, 1800.0, 0.0, order=1).under(three_point_bent(wedges, 10.0)).work_n_mm / 10.0
        )
        assert coarse() < 0.7 * 20.5872
