"""Small overlaps on a real part, wherever they lie; what closedness, bodies and handles each see."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from print3d.checks.integrity import count_bodies, count_handles, measure_open_edges, measure_overlaps
from print3d.forms.orthosis import Part
from print3d.geometry.mesh import Mesh
from print3d.kinds.pip_extension import kind as pip_extension

OPTIONS = {"kind": "pip_extension", "form": "sleeve", "marking": {"style": "none"}}


@pytest.fixture(scope="module")
def part(make_case: Callable[..., Any]) -> Part:
    return pip_extension.KIND.build(make_case(OPTIONS)).parts[0]


@pytest.mark.slow(in_ci=True)
def test_a_patch_pushed_through_the_wall_is_found_everywhere(part: Part) -> None:
    """The outer face is pushed through the inner one over 2 mm: closed, one body, the right openings."""
    shell = part.shell
    vertices = shell.mesh.vertices
    inner, outer = vertices[shell.inner_vertices], vertices[shell.outer_vertices]
    n_rimmed = sum(rim.shape[1] for rim in shell.rims)
    for spot in np.random.default_rng(3).choice(np.arange(n_rimmed, len(inner)), 8, replace=False):
        pushed = np.linalg.norm(outer - outer[spot], axis=1) < 1.0
        moved = vertices.copy()
        moved[shell.outer_vertices[pushed]] += 1.4 * (inner - outer)[pushed]
        mesh = Mesh(moved, shell.mesh.faces)
        overlaps, where = measure_overlaps(mesh)
        assert overlaps > 0
        assert where is not None
        assert np.linalg.norm(np.array(where) - inner[spot]) < 3.0
        assert (measure_open_edges(mesh)[0], count_bodies(mesh)) == (0, 1)


def test_a_sound_part_has_no_overlap_inside_out_it_has_many(part: Part) -> None:
    mesh = part.shell.mesh
    assert measure_overlaps(mesh) == (0, None)
    assert measure_overlaps(Mesh(mesh.vertices, mesh.faces[:, ::-1]))[0] > 5000


@pytest.mark.parametrize("turned", [7, 12345])
def test_one_turned_triangle_breaks_three_edges_twice(part: Part, turned: int) -> None:
    """Each of its three edges is then walked twice in one direction and never in the other: six directed edges."""
    faces = part.shell.mesh.faces.copy()
    faces[turned] = faces[turned, ::-1]
    bad, where = measure_open_edges(Mesh(part.shell.mesh.vertices, faces))
    assert bad == 6
    assert where is not None


def test_a_doubled_triangle_is_no_closed_surface(part: Part) -> None:
    mesh = part.shell.mesh
    assert measure_open_edges(Mesh(mesh.vertices, np.vstack([mesh.faces, mesh.faces[:1]])))[0] > 0


def test_a_body_laid_over_itself_is_no_closed_surface(part: Part) -> None:
    """Every edge has its opposites, but two of them each."""
    mesh = part.shell.mesh
    twice = Mesh(mesh.vertices, np.vstack([mesh.faces, mesh.faces]))
    assert measure_open_edges(twice)[0] == 2 * 3 * len(mesh.faces)


def test_handles_are_the_openings_of_the_pattern(part: Part) -> None:
    assert count_handles(part.shell.mesh) == len(part.definition.pattern.holes)
