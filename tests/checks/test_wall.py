"""Thin spots of every width, on either face of a real part, wherever they lie."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.spatial import KDTree

from print3d.checks.wall import measure_thinnest_wall
from print3d.forms.orthosis import Part
from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface
from print3d.kinds.pip_extension import kind as pip_extension
from print3d.shell.mesh import FaceKind

LEFT = 0.8
CLEAR_OF_RIMS_MM = 2.0


@pytest.fixture(scope="module")
def part(make_case: Callable[..., Any]) -> Part:
    return pip_extension.KIND.build(make_case({"kind": "pip_extension", "marking": {"style": "none"}})).parts[
        0
    ]


def places(part: Part, n: int) -> np.ndarray:
    """Pattern points away from every rim."""
    vertices = part.shell.mesh.vertices
    rims = np.unique(np.concatenate([rim.ravel() for rim in part.shell.rims]))
    clear, _ = KDTree(vertices[rims]).query(vertices[part.shell.inner_vertices])
    return np.random.default_rng(11).choice(np.flatnonzero(clear > CLEAR_OF_RIMS_MM), n, replace=False)


def pitted(part: Part, spots: dict[int, tuple[float, float]], face: str) -> Mesh:
    """The part with pits: pattern point -> (radius of the pit, wall left under its tip)."""
    shell, vertices = part.shell, part.shell.mesh.vertices.copy()
    sides = {"inner": shell.inner_vertices, "outer": shell.outer_vertices}
    pressed, other = sides.pop(face), next(iter(sides.values()))
    here, there = vertices[pressed], vertices[other]
    wall = np.linalg.norm(there - here, axis=1)
    for spot, (radius, left) in spots.items():
        away = np.linalg.norm(here - here[spot], axis=1)
        share = np.clip(1.0 - (away / radius) ** 2, 0.0, 1.0) * (1.0 - left / wall[spot])
        vertices[pressed] += share[:, None] * (there - here)
    return Mesh(vertices, shell.mesh.faces)


def thinnest(part: Part, mesh: Mesh) -> tuple[float, np.ndarray]:
    judged = np.isin(part.shell.face_kind, (FaceKind.INNER, FaceKind.OUTER))
    thickness, where = measure_thinnest_wall(Surface(mesh), judged)
    assert where is not None
    return thickness, np.array(where)


@pytest.mark.parametrize("face", ["inner", "outer"])
@pytest.mark.parametrize("radius", [0.3, 1.0, 2.0])
def test_pits_of_every_width_are_read(part: Part, face: str, radius: float) -> None:
    """0.3 mm moves a single vertex: a needle's hole."""
    inner = part.shell.mesh.vertices[part.shell.inner_vertices]
    for spot in places(part, 4):
        thickness, where = thinnest(part, pitted(part, {int(spot): (radius, LEFT)}, face))
        assert thickness == pytest.approx(LEFT, abs=0.05)
        assert np.linalg.norm(where - inner[spot]) < radius + 2.2


def test_a_needle_hole_is_not_hidden_by_a_wide_thin_area(part: Part) -> None:
    spots = places(part, 60)
    inner = part.shell.mesh.vertices[part.shell.inner_vertices]
    far = spots[np.argmax(np.linalg.norm(inner[spots] - inner[spots[0]], axis=1))]
    mesh = pitted(part, {int(spots[0]): (9.0, 1.3), int(far): (0.3, LEFT)}, "outer")
    assert thinnest(part, mesh)[0] == pytest.approx(LEFT, abs=0.05)


def test_a_sound_wall_reads_the_same_every_time(part: Part) -> None:
    first, again = (thinnest(part, part.shell.mesh) for _ in range(2))
    assert first[0] == again[0]
    assert first[0] == pytest.approx(part.definition.wall_mm, abs=0.02)
