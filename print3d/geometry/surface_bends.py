"""How sharply a line bends within a surface: turned with the surface it does not count."""

import numpy as np

from print3d.geometry.types import Floats

PARTS = 4
"""Places that a window is cut into; own choice."""


def radii_in_surface(line: Floats, normals: Floats, window_mm: float) -> tuple[Floats, Floats]:
    """Return the radius (k,) of a closed line's bends within its surface at places (k, 3), close together.

    line, normals : (n, 3) of the line, and of the surface at it; the first point is not repeated
    window_mm : a bend is measured between chords of this length before and after a place
    """
    closed = np.vstack([line, line[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    n = int(np.ceil(length[-1] / window_mm * PARTS))
    at = np.linspace(0.0, length[-1], n, endpoint=False)
    places, out = (
        np.column_stack([np.interp(at, length, column) for column in np.vstack([each, each[:1]]).T])
        for each in (line, normals)
    )
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    before, after = places - np.roll(places, PARTS, axis=0), np.roll(places, -PARTS, axis=0) - places
    before, after = (each - np.einsum("ij,ij->i", each, out)[:, None] * out for each in (before, after))
    across = np.einsum("ij,ij->i", np.cross(before, after), out)
    turn = np.abs(np.arctan2(across, np.einsum("ij,ij->i", before, after)))
    return np.asarray(PARTS * length[-1] / n / np.maximum(turn, 1e-9)), places
