"""Shells on cylinders and cones, whose volumes and distances are known, for tests of everything that takes a shell.

All lie around the x axis; `around` = 0 is dorsal (+z), and around / R is the angle towards +y.
"""

from collections.abc import Callable, Sequence

import numpy as np
import shapely

from print3d.geometry.spline import SplineSurface, fit_surface
from print3d.shell.curves import circle, edge, loop_of, rounded
from print3d.shell.definition import ShellDefinition
from print3d.shell.letters import letter_loops
from print3d.shell.pattern import Loop, Pattern
from print3d.shell.slots import STRAP_PLAY_MM, straight_line
from print3d.shell.vents import VentGrid, place_vents

R, CLEARANCE, WALL, RIM = 9.0, 0.5, 2.0, 0.9
LENGTH, WIDTH, CORNER = 45.0, 28.0, 4.0
PERIOD = 2 * np.pi * R
SPACING, CHORD = 0.4, 0.006


def cone(offset: float, taper: float = 0.0) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """A cylinder of radius R + offset, or a cone that loses `taper` mm of radius per mm along."""

    def points(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        radius = R + offset - taper * along
        return np.column_stack([along, radius * np.sin(around / R), radius * np.cos(around / R)])

    return points


def faces(period: float | None = None, taper: float = 0.0, wall: float = WALL) -> tuple[SplineSurface, ...]:
    """Inner and outer face with few poles, -2 to 47 mm along; all around if there is a period."""
    half = 15.0 if period is None else period / 2
    sites = np.linspace(-2, LENGTH + 2, 14), np.linspace(-half, half, 16 if period is None else 25)
    return tuple(
        fit_surface(cone(CLEARANCE + depth, taper), *sites, period_mm=period) for depth in (0.0, wall)
    )


def vent(along: float, around: float, diameter: float = 3.0) -> Loop:
    return circle(np.array([along, around]), diameter / 2, "vent", CHORD)


def gutter(
    holes: Sequence[Loop] = (), marks: Sequence[Loop] = (), mark_height: float = 0.4, rim: float = RIM
) -> ShellDefinition:
    """A half tube of 45 x 28 mm with rounded corners."""
    outline = loop_of(rounded(shapely.box(0, -WIDTH / 2, LENGTH, WIDTH / 2), CORNER), "outline", SPACING)
    return ShellDefinition(Pattern((outline,), tuple(holes), tuple(marks)), *faces(), WALL, rim, mark_height)


def vented(n_vents: int) -> ShellDefinition:
    """The gutter with the first `n_vents` (at most 45) of a grid of 2.2 mm vents."""
    grid = place_vents(VentGrid("hexagonal", 2.2, 4.6), shapely.box(3, -12.5, LENGTH - 3, 12.5))
    return gutter(grid[:n_vents])


def strap_slot(
    centre: tuple[float, float], strap_width_mm: float, gap_mm: float, spacing_mm: float = SPACING
) -> Loop:
    """A slot along the limb for one strap, as long in the pattern as it is on the shell."""

    def flat(along: np.ndarray, around: np.ndarray) -> np.ndarray:
        return np.column_stack([along, around, np.zeros_like(along)])

    line = straight_line(flat, centre, 0.0, strap_width_mm + STRAP_PLAY_MM - gap_mm)
    return line.slot(gap_mm, spacing_mm)


def strapped() -> ShellDefinition:
    """The gutter with a strap slot and a vent."""
    return gutter([strap_slot((20.0, 9.0), 13.0, 2.5), vent(20.0, 0.0)])


def lettered(height: float = 0.4) -> ShellDefinition:
    """The gutter with letters that have counters, raised or (below 0) engraved."""
    return gutter(marks=letter_loops("B8 →", (22.0, 0.0), 4.0), mark_height=height)


def ring(
    holes: Sequence[Loop] = (), marks: Sequence[Loop] = (), wave: float = 2.0, taper: float = 0.0
) -> ShellDefinition:
    """A closed band from 5 to 35 mm along whose edges wave by `wave` mm."""
    low = edge(lambda around: 5 + wave * np.sin(around / R), PERIOD, SPACING, is_distal=False)
    high = edge(lambda around: 35 + wave * np.cos(2 * around / R), PERIOD, SPACING, is_distal=True)
    pattern = Pattern((low, high), tuple(holes), tuple(marks), period_mm=PERIOD)
    return ShellDefinition(pattern, *faces(PERIOD, taper), WALL, RIM)


def vents_all_around(n_around: int, rows_along: Sequence[float]) -> list[Loop]:
    """Rows of vents around a ring, the first one on its seam."""
    return [vent(x, (k / n_around - 0.5) * PERIOD) for x in rows_along for k in range(n_around)]
