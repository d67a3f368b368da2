"""Binary STL: the same bytes for the same mesh. STL has no unit; ours are millimetres."""

from pathlib import Path

import numpy as np

from print3d.geometry.mesh import Mesh

HEADER = b"print3d binary STL, unit millimetre"
TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def write_stl(path: Path, mesh: Mesh) -> None:
    """Write `mesh` as binary STL."""
    triangles = np.zeros(len(mesh.faces), dtype=TRIANGLE)
    areas = mesh.area_vectors()
    triangles["normal"] = areas / np.maximum(np.linalg.norm(areas, axis=1, keepdims=True), 1e-30)
    triangles["corners"] = mesh.corners()
    count = np.array(len(triangles), dtype="<u4").tobytes()
    path.write_bytes(HEADER.ljust(80, b"\0") + count + triangles.tobytes())
