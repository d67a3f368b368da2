"""The one place where a pattern is draped on a skin and becomes a shell.

    pattern + skin -> two faces (drape) -> definition -> mesh

A form says what the blueprint holds; whoever wants other facets asks for the mesh of a definition again.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from print3d.geometry.spline import SurfaceFunction
from print3d.shell.definition import Facets, ShellDefinition
from print3d.shell.drape import Extent, ScalarMap, drape, even
from print3d.shell.mesh import ShellMesh, build_mesh
from print3d.shell.pattern import Loop, Pattern

Boundary = Callable[[float], tuple[Loop, ...]]
"""Spacing of samples (mm) -> the pattern's outline, or its two edges."""


@dataclass(frozen=True, eq=False)
class Blueprint:
    """What a shell is made from.

    boundary : the pattern's outline or edges, sampled as finely as asked
    loop_spacing_mm : how finely the boundary is sampled
    holes, marks : vents, slots and openings; letters
    skin : pattern coordinates -> skin points (n, 3), limb frame
    extent : where the two faces are fitted
    clearance : pattern coordinates -> mm (n,) between skin and inner face
    mark_height_mm : of raised letters; negative for engraved ones
    outline_error_mm : where an edge of the outline would stand further off a face, the outline is sampled twice as finely
    """

    boundary: Boundary
    loop_spacing_mm: float
    holes: tuple[Loop, ...]
    skin: SurfaceFunction
    extent: Extent
    clearance: ScalarMap
    wall_mm: float
    rim_radius_mm: float
    marks: tuple[Loop, ...] = ()
    mark_height_mm: float = 0.0
    facets: Facets = Facets()
    outline_error_mm: float | None = None

    def pattern(self) -> Pattern:
        """Return the flat pattern."""
        return Pattern(self.boundary(self.loop_spacing_mm), self.holes, self.marks, self.extent.period_mm)


@dataclass(frozen=True, eq=False)
class Shell:
    """A finished shell: its definition, and the mesh of it."""

    definition: ShellDefinition
    mesh: ShellMesh


def assemble(blueprint: Blueprint) -> Shell:
    """Drape the pattern and build its mesh.

    Raises FoldError where a face would fold over itself, ShapingError where two loops come too close for their rims.
    """
    inner, outer = drape(blueprint.skin, blueprint.extent, blueprint.clearance, even(blueprint.wall_mm))
    definition = ShellDefinition(
        blueprint.pattern(),
        inner,
        outer,
        blueprint.wall_mm,
        blueprint.rim_radius_mm,
        blueprint.mark_height_mm,
        blueprint.facets,
    )
    limit = blueprint.outline_error_mm
    if limit is not None and outline_off_mm(definition) > limit:
        finer = blueprint.boundary(blueprint.loop_spacing_mm / 2)
        definition = replace(definition, pattern=replace(definition.pattern, boundary=finer))
    return Shell(definition, build_mesh(definition))


def with_facets(definition: ShellDefinition, facets: Facets) -> Shell:
    """Build the mesh of a definition again, in other facets."""
    other = replace(definition, facets=facets)
    return Shell(other, build_mesh(other))


def outline_off_mm(definition: ShellDefinition) -> float:
    """Return how far an edge of the outline is off the farther face at most.

    Measured at the middles of the edges, set back by the rounding.
    """
    (outline,) = definition.pattern.boundary
    points = definition.inset(outline, definition.rim_radius_mm)
    start = np.arange(len(points))
    stop = np.roll(start, -1)
    edges, middles = np.column_stack([start, stop]), (points[start] + points[stop]) / 2
    return float(definition.edges_off_mm(points, edges, middles).max())
