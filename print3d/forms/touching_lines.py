"""Lines that touch the surfaces of two fingers, along which a band runs from one to the next."""

from collections.abc import Sequence

import numpy as np
from scipy.optimize import root

from print3d.geometry.spline import SplineSurface
from print3d.geometry.types import Floats

TURN_REACH = 0.47
"""Paths go nearly all around, so that a band may end past a finger's widest place."""
TANGENT_ORDER = 2
"""Order of the polynomial through the turns of those rows, which goes on smoothly outside them; own choice."""
TURN_GRID = 49
"""Turns that are tried for a line that touches a finger; own choice."""
NEAR_TURN = 0.2
"""A line from a point touches a finger this near to the guess; own choice."""
TANGENT_ROWS = 5
"""Rows on which touching lines are sought; own choice."""
TANGENT_SHARE = 0.65
"""Share of the surface over which those rows lie: what the band takes of it; own choice."""
TANGENT_ERROR = 1e-6
"""A line touches where it leaves both tangent planes by no more than this, as a sine."""


def touching_from(point: Floats, path: SplineSurface, along: float, guess: float) -> float:
    """Turn at which a line from a point (3,) touches a path; not a number if there is none near."""
    turns = guess + np.linspace(-NEAR_TURN, NEAR_TURN, TURN_GRID)
    at = np.full(TURN_GRID, along)
    height = np.einsum("ij,ij->i", path.points(at, turns) - point, path.normals(at, turns))
    change = np.flatnonzero(height[:-1] * height[1:] <= 0.0)
    if not len(change):
        return float("nan")
    nearest = change[np.argmin(np.abs(turns[change] - guess))]
    share = height[nearest] / (height[nearest] - height[nearest + 1])
    return float(turns[nearest] + share * (turns[nearest + 1] - turns[nearest]))


def touching_lines(paths: Sequence[SplineSurface], along: Floats) -> tuple[Floats, Floats] | None:
    """Turns (rows,) at which the line that touches both paths leaves the first and meets the second.

    Found in the band's middle first, and followed from there to either edge. None where some row has no such line.
    """
    sites = TANGENT_SHARE * np.linspace(along[0], along[-1], TANGENT_ROWS)
    found, middle = np.empty((TANGENT_ROWS, 2)), TANGENT_ROWS // 2
    found[middle] = _touching_line(paths, 0.0, _nearly_touching(paths, 0.0))
    for step in (-1, 1):
        for row in range(middle + step, TANGENT_ROWS if step > 0 else -1, step):
            found[row] = _touching_line(paths, float(sites[row]), found[row - step])
    if np.isnan(found).any():
        return None
    smooth = [np.polynomial.Polynomial.fit(sites, each, TANGENT_ORDER) for each in found.T]
    return np.asarray(smooth[0](along)), np.asarray(smooth[1](along))


def _nearly_touching(paths: Sequence[SplineSurface], along: float) -> Floats:
    """Turns (2,) of a grid whose line lies most nearly in both tangent planes.

    The line runs the band's way on both paths.
    """
    leaving, meeting = np.linspace(-0.25, 0.42, TURN_GRID), np.linspace(-0.42, 0.25, TURN_GRID)
    at = np.full(TURN_GRID, along)
    first, second = (path.points(at, turns) for path, turns in zip(paths, (leaving, meeting), strict=True))
    chords = second[None] - first[:, None]
    chords /= np.linalg.norm(chords, axis=2, keepdims=True)
    lift, run = [], []
    for path, turns, axes in zip(paths, (leaving, meeting), ("ijk,ik->ij", "ijk,jk->ij"), strict=True):
        lift.append(np.einsum(axes, chords, path.normals(at, turns)))
        run.append(np.einsum(axes, chords, path.derivatives(at, turns)[1]))
    miss = np.where((run[0] > 0.0) & (run[1] > 0.0), np.hypot(*lift), np.inf)
    best = np.unravel_index(int(np.argmin(miss)), miss.shape)
    return np.array([leaving[best[0]], meeting[best[1]]])


def _touching_line(paths: Sequence[SplineSurface], along: float, guess: Floats) -> Floats:
    """Turns (2,) of the line that lies in both tangent planes, near a guess; no numbers if there is none."""
    if np.isnan(guess).any():
        return guess

    def off(turns: Floats) -> Floats:
        """How far the chord leaves the two tangent planes, as sines."""
        place = np.array([along])
        ends = [path.points(place, turns[k : k + 1])[0] for k, path in enumerate(paths)]
        chord = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        return np.array([path.normals(place, turns[k : k + 1])[0] @ chord for k, path in enumerate(paths)])

    solved = root(off, guess, tol=1e-9)
    if np.abs(off(solved.x)).max() > TANGENT_ERROR or np.abs(solved.x).max() > TURN_REACH:
        return np.full(2, np.nan)
    return np.asarray(solved.x)
