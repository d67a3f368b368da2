"""Which hand and which finger: a small drawing of the asked hand from its back.

A mix-up is seen before anything is worn. The nails show that it is the back, the thumb which hand; the finger is filled.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import shapely

from print3d.built import Built
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS, FingerName
from print3d.limb.four_fingers import Ray
from print3d.limb.hand import HandLimb
from print3d.output.paper.drawing import BODY, BOLD, SMALL, Drawing, Line
from print3d.output.paper.hand_drawing import drawn_hand
from print3d.output.paper.limb_views import LimbView, silhouette
from print3d.output.paper.paper import Paper
from print3d.output.paper.sheet import words_of

BACK = {
    "right": np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0]]),
    "left": np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0]]),
}
"""A hand seen from its back, fingertips up: the right one with its thumb to the left. The left one is its mirror image."""
HIGH_MM = 25.0
"""Height of the drawing on paper; own choice: small, and the thumb is seen at arm's length."""
LEAST_SHARE = 0.45
"""Of that height at least where a sheet is set closer to fit its page; own choice."""
WIDE_MM = 24.0
"""Width that is kept for it; own choice."""
REACH_MM = 400.0
"""No part of a hand lies farther from the wrist crease."""
SHOWN_FROM_MM = -18.0
"""The drawing begins so far proximal of the wrist crease."""
NAIL_SHARE = 0.62
"""Width of a nail over that of its finger; from memory."""
THUMBNAIL_AT = 0.75
"""Middle of the thumb's nail on the way from its last joint to its tip; from memory."""
THUMBNAIL_MM = 5.5
"""Half of its width; from memory."""
NAIL, WEB = Line(0.18), Line(0.2)
MARKED = 0.35
"""Grey of the asked finger; own choice."""
NAIL_FILL = 1.0
"""Nails are white."""


def draw_which_hand(paper: Paper, built: Built, words: str) -> None:
    """Draw the asked hand beside words, and say which it is."""
    head, say = built.case.header, words_of(built)
    drawing = Drawing(max(LEAST_SHARE, paper.scale) * HIGH_MM)
    draw_back_of_hand(drawing, head.side, head.finger)
    which = say(
        "sheets.which_hand.which", side=say.named("side", head.side), finger=say.named("finger", head.finger)
    )
    paper.beside(drawing, WIDE_MM, [(which, BOLD), (say("sheets.which_hand.seen"), SMALL), (words, BODY)])


def draw_back_of_hand(drawing: Drawing, side: str, finger: FingerName) -> None:
    """Draw a mean hand of one side from its back, one finger filled, nails and thumb on all."""
    shapes = hand_shapes(side)
    low, high = np.array(shapes.whole.bounds[:2]), np.array(shapes.whole.bounds[2:])
    scale = (drawing.height_mm - 1.0) / float(high[1] - low[1])
    view = LimbView(drawing, np.array([0.5, 0.5]) - scale * low, scale)
    view.outline(shapes.whole)
    for name, outline in shapes.fingers.items():
        view.outline(outline, WEB, MARKED if name == finger else None)
    for nail in shapes.nails:
        view.drawing.line(view.at(nail), NAIL, closed=True, fill=NAIL_FILL)


@dataclass(frozen=True, eq=False)
class HandShapes:
    """A hand from its back: its silhouette, each finger beyond its web, and the nails (n, 2) of all five."""

    whole: shapely.Geometry
    fingers: Mapping[FingerName, shapely.Geometry]
    nails: tuple[Floats, ...]


@cache
def hand_shapes(side: str) -> HandShapes:
    """Return the shapes of a mean hand of one side."""
    hand, view = drawn_hand(), BACK[side]
    whole = silhouette(hand.skin_mesh(), view)
    fingers, nails = dict[FingerName, shapely.Geometry](), list[Floats]()
    for name in FINGERS:
        ray = hand.rays[name]
        mesh = ray.limb.skin_mesh()
        web = float(ray.mcp_centre[0]) + ray.limb.landmarks["web"]
        outline = silhouette(Mesh(apply(ray.hand_from_finger(), mesh.vertices), mesh.faces), view)
        fingers[name] = outline.intersection(shapely.box(-REACH_MM, web, REACH_MM, REACH_MM))
        nails.append(_nail(ray) @ view.T)
    nails.append(_thumbnail(hand) @ view.T)
    shown = whole.intersection(shapely.box(-REACH_MM, SHOWN_FROM_MM, REACH_MM, REACH_MM))
    return HandShapes(shown, fingers, tuple(nails))


def _nail(ray: Ray) -> Floats:
    """The edge (n, 3) of a nail on the back of a finger, from its fold to near the tip."""
    limb, turn = ray.limb, np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    low, high = limb.landmarks["nail_fold"], limb.landmarks["tip"] - 0.5
    breadth, _ = limb.half_axes(np.array([low]))
    along = (low + high) / 2.0 + (high - low) / 2.0 * np.cos(turn)
    edge = np.column_stack([along, NAIL_SHARE * breadth[0] * np.sin(turn), np.zeros(len(turn))])
    return apply(ray.hand_from_finger(), edge)


def _thumbnail(hand: HandLimb) -> Floats:
    """The edge (n, 3) of the thumb's nail, in the plane of the drawing."""
    *_, joint, tip = hand.thumb.centres("at_rest")
    turn, along = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False), (tip - joint) * [1.0, 1.0, 0.0]
    length = float(np.linalg.norm(along))
    across = np.array([-along[1], along[0], 0.0]) / length
    middle = joint + THUMBNAIL_AT * along
    reach = (1.0 - THUMBNAIL_AT) * length - 1.0
    return np.asarray(
        middle
        + reach * np.cos(turn)[:, None] * along / length
        + THUMBNAIL_MM * np.sin(turn)[:, None] * across
    )
