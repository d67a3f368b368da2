"""Line drawings of the limb model: outlines of the posed skin seen from the palm or from the thumb side."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.limb.bodies import tubes
from print3d.limb.limb import Limb
from print3d.limb.skin_marks import skin_marks
from print3d.output.paper.drawing import SMALL, Drawing, Line, Point

PALM = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
"""Right hand seen from the palm: the thumb to the right, fingertips up."""
THUMB_SIDE = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
"""Right hand seen from the thumb side: fingertips to the right, back of the hand up."""

CLOSED_MM = 0.3
"""Gaps between fingers narrower than twice this are closed in a silhouette; own choice."""
SMOOTH_MM = 0.03
"""How far a drawn outline may lie off the silhouette; below the width of a line."""
LABEL_MM = 2.6
"""Radius of a numbered label; own choice."""
SKIN, TAPE, LEADER = Line(0.35), Line(0.2), Line(0.12, 0.35)
MARK = Line(0.18, 0.3)
FACES = 0.15
"""A mark looks at the eye where the skin's normal lies within 80 degrees of the way there."""
HINT = Line(0.2, 0.35, (1.2, 0.8))


def silhouette(mesh: Mesh, view: Floats) -> shapely.Geometry:
    """Return the outline of a mesh of closed tubes in a view (2, 3), mm.

    Every two rows that follow each other make one convex patch.
    """
    patches = []
    for rows in tubes(mesh):
        flat = rows @ view.T
        pairs = np.concatenate([flat[:-1], flat[1:]], axis=1)
        patches.append(shapely.convex_hull(shapely.multipoints(pairs)))
    whole = shapely.union_all(np.concatenate(patches))
    return whole.buffer(CLOSED_MM).buffer(-CLOSED_MM).simplify(SMOOTH_MM)


def marks_in(limb: Limb, view: Floats) -> Iterator[Floats]:
    """Yield the lines (n, 2) of nails and creases that look at the eye in a view (2, 3), mm."""
    to_eye = np.cross(view[0], view[1])
    for mark in skin_marks(limb):
        faces = mark.out @ to_eye > FACES
        for piece in np.split(np.arange(len(faces)), np.flatnonzero(np.diff(faces)) + 1):
            if faces[piece[0]] and len(piece) > 1:
                yield mark.line[piece] @ view.T


@dataclass(frozen=True, eq=False)
class LimbView:
    """Places a view on paper: point (2,) of the view times scale, plus an origin on the page."""

    drawing: Drawing
    origin: Floats
    scale: float

    def at(self, points: Floats) -> Floats:
        """Return places on the page of points (n, 2)."""
        return self.origin + self.scale * np.asarray(points, dtype=float)

    def outline(self, shape: shapely.Geometry, style: Line = SKIN, fill: float | None = 1.0) -> None:
        """Draw a polygon or several."""
        for part in shapely.get_parts(shape):
            if part.geom_type == "Polygon":
                self.drawing.line(
                    self.at(np.asarray(part.exterior.coords)[:-1]), style, closed=True, fill=fill
                )
            elif part.geom_type == "LineString":
                self.drawing.line(self.at(np.asarray(part.coords)), style)

    def line(self, points: Sequence[Point] | Floats, style: Line) -> None:
        """Draw a polyline given in the view."""
        self.drawing.line(self.at(np.asarray(points)), style)

    def tape(self, ends: Floats, width_mm: float) -> None:
        """Draw a tape (2, 2) across the limb."""
        along = ends[1] - ends[0]
        across = np.array([-along[1], along[0]]) / np.linalg.norm(along)
        corners = [end + side * width_mm / 2 * across for side, end in ((1, ends[0]), (1, ends[1]))]
        corners += [end - width_mm / 2 * across for end in (ends[1], ends[0])]
        self.drawing.line(self.at(np.array(corners)), TAPE, closed=True, fill=0.85)


def numbered(drawing: Drawing, at: Point, number: int) -> None:
    """Draw a number in a circle."""
    drawing.circle(at, LABEL_MM, Line(0.25), fill=1.0)
    drawing.write((at[0], at[1] - 0.95), str(number), SMALL, "centre")


def dimension(drawing: Drawing, start: Floats, stop: Floats, number: int) -> None:
    """Draw a dimension line with ticks at its ends and a number in a circle at its middle."""
    along = (stop - start) / np.linalg.norm(stop - start)
    across = np.array([-along[1], along[0]])
    drawing.line(np.array([start, stop]), TAPE)
    for end, way in ((start, 1.0), (stop, -1.0)):
        drawing.line(np.array([end - 1.5 * across, end + 1.5 * across]), TAPE)
        head = [end + way * (1.8 * along) + 0.6 * across, end, end + way * (1.8 * along) - 0.6 * across]
        drawing.line(np.array(head), TAPE)
    middle = (start + stop) / 2
    numbered(drawing, (float(middle[0]), float(middle[1])), number)
