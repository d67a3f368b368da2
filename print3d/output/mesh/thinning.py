"""Lighter meshes for a page: fewer triangles, the same shape. What is measured is measured on the full mesh."""

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from print3d.geometry.mesh import Mesh
from print3d.limb.bodies import closed_tube


def thinned(mesh: Mesh, most_faces: int) -> Mesh:
    """Return the mesh with at most about `most_faces` triangles, edges collapsed where that changes the shape least.

    Quadric error (Garland and Heckbert 1997, as libigl has it); a mesh that is light enough is returned as it is.
    """
    if len(mesh.faces) <= most_faces:
        return mesh
    import igl

    vertices, faces, *_ = igl.qslim(
        np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.faces, dtype=np.int64), most_faces
    )
    return Mesh(vertices, faces)


def pieces(mesh: Mesh) -> list[Mesh]:
    """Return the connected bodies of a mesh, in the order of their first vertices."""
    n = len(mesh.vertices)
    first, second = mesh.faces[:, [0, 1]].T
    others = mesh.faces[:, 2]
    edges = coo_array(
        (np.ones(2 * len(first)), (np.concatenate([first, first]), np.concatenate([second, others]))),
        shape=(n, n),
    )
    count, label = connected_components(edges, directed=False)
    found = []
    for each in range(count):
        chosen = np.flatnonzero(label == each)
        number = np.full(n, -1)
        number[chosen] = np.arange(len(chosen))
        faces = mesh.faces[label[mesh.faces[:, 0]] == each]
        found.append(Mesh(mesh.vertices[chosen], number[faces]))
    return found


def thinned_tube(tube: Mesh, every: int) -> Mesh:
    """Return a mesh of `closed_tube` with fewer of its rows and points around.

    The first and last row stay.
    """
    n_around = int(tube.faces[0, 1])
    rows = tube.vertices[:-2].reshape(-1, n_around, 3)
    kept = np.unique(np.append(np.arange(0, len(rows), every), len(rows) - 1))
    return closed_tube(rows[kept][:, ::every], tube.vertices[-2], tube.vertices[-1])
