"""One definition of a shell, which `shell/mesh.py` and `shell/solid.py` realise.

    depth
      ^    outer face        ______________________
    w |                     (                      )     rim: quarter circle, straight, quarter circle
      |                     |                      |     (or a full half round when r is near w / 2)
    0 |    inner face        (____________________)
      +--------------------------------------------------> pattern plane
                            ^-r-^
Both faces are cut back by the rim radius r; the rim's outermost line lies on the pattern's loop.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from print3d.errors import ShapingError
from print3d.geometry.spline import SplineSurface
from print3d.geometry.types import Floats, Ints
from print3d.inputs.problems import Problem
from print3d.language.message import message
from print3d.shell.pattern import Loop, Pattern, gently, room_beside

RIM_ROUNDNESS_LIMIT = 0.5
"""The two quarter circles of a rim meet when the radius is half the wall."""
RIM_STRETCH = 0.6, 2.0
"""A draped pattern is taken to be stretched no less and no more than this by its rims, however it is folded; own choice."""


@dataclass(frozen=True)
class Facets:
    """How finely a shell is cut into triangles.

    chord_error_mm : how far a facet of a rim may lie from the true surface
    spacing_mm : distance between interior points of the flat triangulation; about sqrt(8 R e) for the
        smallest radius of curvature R and the chord error e
    error_mm : edges of facets of the two faces that lie farther from them are cut; None leaves them as they are
    """

    chord_error_mm: float = 0.006
    spacing_mm: float = 0.6
    error_mm: float | None = None


@dataclass(frozen=True, eq=False)
class ShellDefinition:
    """A pattern with its two faces.

    inner, outer : surfaces over the pattern plane with the same knots; `outer` lies `wall_mm` along
        the inner surface's normals
    wall_mm : wall thickness
    rim_radius_mm : radius of the rounding of every rim, below half the wall
    mark_height_mm : height of raised letters above the outer face; negative for engraved ones
    """

    pattern: Pattern
    inner: SplineSurface
    outer: SplineSurface
    wall_mm: float
    rim_radius_mm: float
    mark_height_mm: float = 0.4
    facets: Facets = Facets()

    def __post_init__(self) -> None:
        if not 0.0 < self.rim_radius_mm <= RIM_ROUNDNESS_LIMIT * self.wall_mm:
            wanted = message("refusals.shell.rim", wall_mm=self.wall_mm, most=self.wall_mm / 2)
            raise ShapingError(Problem("orthosis.rim_radius_mm", self.rim_radius_mm, wanted))

    def points(self, along: Floats, around: Floats, depth_mm: Floats) -> Floats:
        """Return limb-frame points (n, 3) at pattern coordinates and depth (0 inner, wall_mm outer)."""
        inner, outer = np.split(self._faces.points(along, around), 2, axis=1)
        return np.asarray(inner + (depth_mm / self.wall_mm)[:, None] * (outer - inner))

    @cached_property
    def _faces(self) -> SplineSurface:
        """Both faces as one surface of six coordinates, which costs little more to evaluate than one of them."""
        poles = np.concatenate([self.inner.poles, self.outer.poles], axis=2)
        return replace(self.inner, poles=poles)

    def edge_pieces(self, points: Floats, edges: Ints, middles: Floats) -> Ints:
        """Return into how many pieces (k,) edges must be cut to keep to the facets' error.

        points : (n, 2) of the pattern
        edges, middles : (k, 2) numbers of their ends, and their middles in the pattern; an edge leaves a face by the square of
            its length
        """
        farthest = self.edges_off_mm(points, edges, middles)
        return np.ceil(np.sqrt(farthest / (self.facets.error_mm or np.inf))).astype(np.int64)

    def edges_off_mm(self, points: Floats, edges: Ints, middles: Floats) -> Floats:
        """Return how far (k,) the middles of straight edges are off that face which is farther; all as in `edge_pieces`."""
        is_used = np.zeros(len(points), dtype=bool)
        is_used[edges] = True
        number = np.cumsum(is_used) - 1
        chords = self._faces.points(*points[is_used].T)[number[edges]].mean(axis=1)
        off = (chords - self._faces.points(*middles.T)).reshape(-1, 2, 3)
        return np.asarray(np.linalg.norm(off, axis=2).max(axis=1))

    def inset(self, loop: Loop, distance_mm: float) -> Floats:
        """Return a loop's points (n, 2) moved into the material by `distance_mm`.

        It is measured on the draped shell. The pattern is stretched in one place and gathered in another: moved so far in its plane, a rounding would be an ellipse.
        """
        return loop.points + distance_mm / self.rim_radius_mm * self._rim_widths(loop)[:, None] * loop.normals

    def _rim_widths(self, loop: Loop) -> Floats:
        """Width (n,) of a rim in the pattern.

        On the draped shell it is as wide as its radius, where its neighbours leave room.
        """
        if loop not in self._widths:
            radius = self.rim_radius_mm
            width = radius / np.clip(self._stretch(loop), *RIM_STRETCH)
            if width.max() > radius:
                room = room_beside(self.pattern, loop, float(width.max()))
                width = gently(loop, np.minimum(width, np.maximum(radius, room)))
            self._widths[loop] = width
        return self._widths[loop]

    def _stretch(self, loop: Loop) -> Floats:
        """Mm (n,) of the draped shell for one of the pattern.

        Across a loop, in the middle of its rounding.
        """
        depth = np.full(len(loop.points), self.rim_radius_mm / 2.0)
        edge, inside = (
            self.points(places[:, 0], places[:, 1], depth)
            for places in (loop.points, loop.inset(self.rim_radius_mm))
        )
        along = np.roll(edge, -1, axis=0) - np.roll(edge, 1, axis=0)
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        across = inside - edge
        across -= np.einsum("ij,ij->i", across, along)[:, None] * along
        return np.asarray(np.linalg.norm(across, axis=1) / self.rim_radius_mm)

    @cached_property
    def _widths(self) -> dict[Loop, Floats]:
        return {}

    def face_at_depth(self, depth_mm: float) -> SplineSurface:
        """Return the surface at a constant depth, for the tops of raised or the floors of engraved letters."""
        poles = self.inner.poles + (depth_mm / self.wall_mm) * (self.outer.poles - self.inner.poles)
        return SplineSurface(self.inner.knots_along, self.inner.knots_around, poles, self.inner.period_mm)

    def rim_profile(self) -> Floats:
        """Return the rim's section (rows, 2): inset from the loop and depth, from the inner to the outer face."""
        radius = self.rim_radius_mm
        step = 2.0 * np.arccos(1.0 - min(self.facets.chord_error_mm / radius, 0.5))
        angles = np.linspace(0.0, np.pi / 2, max(4, int(np.ceil(np.pi / 2 / step))) + 1)
        inset = radius * (1.0 - np.sin(angles))
        depth = radius * (1.0 - np.cos(angles))
        lower = np.column_stack([inset, depth])
        upper = np.column_stack([inset[::-1], self.wall_mm - depth[::-1]])
        straight = self.wall_mm - 2.0 * radius
        return np.vstack([lower, upper[1:] if straight < 1e-6 else upper])

    def rim_grid(self, loop: Loop) -> Floats:
        """Return the rim of one loop as a grid (rows, n, 3) of limb-frame points, inner face first."""
        rows = []
        for inset, depth in self.rim_profile():
            flat = self.inset(loop, inset)
            rows.append(self.points(flat[:, 0], flat[:, 1], np.full(len(flat), depth)))
        return np.array(rows)
