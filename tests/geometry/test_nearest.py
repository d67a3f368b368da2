"""Nearest points, signed distances and rays on bodies whose answers are known by plane geometry."""

import numpy as np
import trimesh

from print3d.geometry.mesh import Mesh
from print3d.geometry.nearest import Surface

HALF = np.array([1.0, 2.0, 3.0])


def box() -> Mesh:
    body = trimesh.creation.box(2 * HALF)
    return Mesh(np.asarray(body.vertices), np.asarray(body.faces, dtype=np.int64))


def box_distance(points: np.ndarray) -> np.ndarray:
    beyond = np.abs(points) - HALF
    return np.linalg.norm(np.maximum(beyond, 0.0), axis=1) + np.minimum(beyond.max(axis=1), 0.0)


def test_signed_distance_of_a_box() -> None:
    points = np.random.default_rng(3).uniform(-5.0, 5.0, (4000, 3))
    is_beside_a_face = (np.abs(points) > HALF).sum(
        axis=1
    ) <= 1  # beyond an edge the sign of one triangle is not certain
    found = Surface(box()).signed(points)
    np.testing.assert_allclose(np.abs(found), np.abs(box_distance(points)), atol=1e-12)
    np.testing.assert_allclose(found[is_beside_a_face], box_distance(points)[is_beside_a_face], atol=1e-12)


def test_rays_meet_the_first_face_or_none() -> None:
    surface = Surface(box())
    rng = np.random.default_rng(4)
    origins = np.column_stack([rng.uniform(-2.0, 2.0, (500, 2)), np.full(500, 7.0)])
    face, far = surface.first_hit(origins, np.array([0.0, 0.0, -1.0]))
    is_above = (np.abs(origins[:, :2]) < HALF[:2]).all(axis=1)
    assert 0 < is_above.sum() < 500
    np.testing.assert_allclose(far[is_above], 7.0 - HALF[2], atol=1e-6)
    assert (surface.face_normals[face[is_above]] == [0.0, 0.0, 1.0]).all()
    assert (face[~is_above] == -1).all()
    assert np.isinf(far[~is_above]).all()
