r"""The straps of an orthosis as they lie on the limb: place, width, cut, and body.

       _____________
      /   strap     \       from slot to slot over the open side, as short as the skin lets it, or around shell and limb
    |(               )|     bar  : both ends go out through a slot and back over its bar, hook on loop
     \___ shell ____/

Everything on the modelled right hand; `Built` gives them for the asked one.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np
import shapely
from shapely.ops import substring

from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.types import Floats
from print3d.inputs.options import StrapOptions
from print3d.kept import kept
from print3d.language.message import Message, message
from print3d.limb.bodies import closed_tube
from print3d.limb.joint_id import JointId
from print3d.limb.limb import Limb, Side, Tube, landmark_of
from print3d.limb.tube import stations_of

OVERLAP_PER_WIDTH = 1.5
"""An end is folded back over its bar, or laid over the other end, by this many times the strap's width: hook needs as much loop; own choice."""
CUT_STEP_MM = 5.0
"""Straps are cut to full steps, rounded up: finer is not cut with scissors; own choice."""
OVER_JOINT_MM = 2.0
"""A strap whose middle lies no farther along the limb from a joint lies over it; own choice."""
ACROSS = 5
"""Lines across the width of a strap's body; own choice."""
ALONG = 61
"""Points along each of them, about 1 mm apart; own choice."""

Closure = Literal["slots", "wrap"]


@dataclass(frozen=True)
class Strapping:
    """How the case is strapped: through slots, or wrapped around where they hold best; the mesh says where slots are."""

    style: str = "slots"
    width_mm: float = 10.0
    thickness_mm: float = 1.5


def strapping_of(options: StrapOptions) -> Strapping:
    """Return how options ask for it."""
    return Strapping(options.style, options.width_mm, options.thickness_mm)


@dataclass(frozen=True, eq=False)
class WornStrap:
    """A strap on the limb.

    place : id of where it lies; its words are `straps.place.<id>`
    part : name of the part that it holds
    closure : through slots, or around
    over_mm : its length from slot to slot, or once around
    cut_mm : the length it is cut to, with what it is folded back or overlaps
    body : closed thin band, worn
    """

    place: str
    part: str
    closure: Closure
    width_mm: float
    over_mm: float
    cut_mm: float
    body: Mesh

    @property
    def name(self) -> Message:
        """Where it lies, in words."""
        return message(f"straps.place.{self.place}")


@dataclass(frozen=True, eq=False)
class SlotPair:
    """The two slots of a strap on the finished mesh, radial and ulnar.

    loops : their numbers among the pattern's rimmed loops
    middles : (2, 3) mm
    along : (3,) unit, of a slot, distal
    """

    loops: tuple[int, int]
    middles: Floats
    along: Floats


def slot_pairs(part: Part) -> tuple[SlotPair, ...]:
    """Return the slots of a part in pairs, one for each of its straps."""
    slots = [k for k, loop in enumerate(part.definition.pattern.rimmed) if loop.kind == "slot"]
    pairs = []
    for pair in zip(slots[::2], slots[1::2], strict=True):
        rims = [part.shell.mesh.vertices[part.shell.rims[k][0]] for k in pair]
        along = _long_way(rims[0]) + _long_way(rims[1])
        middles = np.array([rim.mean(axis=0) for rim in rims])
        across = middles[1] - middles[0]
        along -= (along @ across) / (across @ across) * across  # an oblique strap runs from slot to slot
        pairs.append(SlotPair(pair, middles, along / np.linalg.norm(along)))
    return tuple(pairs)


def place_on_finger(tube: Tube, station_mm: float, side: Side) -> str:
    """Return the id of a place on a finger: on which side, over which joint or phalanx."""
    marks = tube.landmarks
    joints = {name: marks[name] for name in ("pip", "dip") if name in marks}
    over = next((name for name, at in joints.items() if abs(at - station_mm) < OVER_JOINT_MM), None)
    phalanges = ("proximal", "middle", "distal")
    under = over or phalanges[sum(station_mm > at for at in joints.values())]
    return f"{'back' if side == 'dorsal' else 'palm'}_{under}"


@kept
def straps_of(orthosis: Orthosis, strapping: Strapping) -> tuple[WornStrap, ...]:
    """Return all straps of an orthosis, part by part; none for rings and bands."""
    if strapping.style == "wrap":
        return tuple(_wrapped(orthosis, strapping))
    return tuple(each for part in orthosis.parts for each in _through_slots(orthosis.limb, part, strapping))


def wrap_places(
    tube: Tube, joint: JointId, stations: Floats, width_mm: float, *, is_volar: bool
) -> list[float]:
    """Return the stations of straps wrapped around a shell that covers `stations`, where they hold a joint best.

    On the back they lie beside the joint (over a fingertip only proximal of it, so that the nail shows); on the palm side near the ends.
    """
    is_last = joint.distal == "distal"
    at_joint, start, end = tube.station_of(joint), float(stations.min()), float(stations.max())
    if is_volar:
        return [at_joint - width_mm / 2.0, *([] if is_last else [at_joint + width_mm / 2.0])]
    first = start + width_mm / 2.0
    before = landmark_of(tube, f"mid_{joint.proximal}") if is_last else first
    return [max(first, before), end - width_mm / 2.0]


def _through_slots(limb: Limb, part: Part, strapping: Strapping) -> Iterator[WornStrap]:
    skin = _without_thumb(limb)
    for strap, pair in zip(part.straps, slot_pairs(part), strict=True):
        across, out = pair.middles[1] - pair.middles[0], _out_of_open_side(part, pair, strap.width_mm)
        lines = []
        for place in strap.width_mm * np.linspace(-0.5, 0.5, ACROSS):
            plane = _Plane(pair.middles.mean(axis=0) + place * pair.along, pair.along, across, out)
            lines.append(plane.over(plane.section(skin), pair.middles + place * pair.along))
        over = float(np.mean([_length(line) for line in lines]))
        cut = _cut_mm(over + 2.0 * OVERLAP_PER_WIDTH * strap.width_mm)
        body = _band(np.array(lines), strapping.thickness_mm, pair.along)
        yield WornStrap(strap.place, part.name, "slots", strap.width_mm, over, cut, body)


def _out_of_open_side(part: Part, pair: SlotPair, width_mm: float) -> Floats:
    """The direction (3,) from the shell beside a strap to its open side."""
    out = np.cross(pair.along, pair.middles[1] - pair.middles[0])
    from_strap = part.shell.mesh.vertices[part.shell.inner_vertices] - pair.middles.mean(axis=0)
    beside = from_strap[np.abs(from_strap @ pair.along) < width_mm / 2.0]
    return np.asarray(-np.sign((beside @ out).mean()) * out)


def _wrapped(orthosis: Orthosis, strapping: Strapping) -> Iterator[WornStrap]:
    tube, width = orthosis.limb.tube, strapping.width_mm
    if tube is None:
        return
    for part in orthosis.parts:
        if part.rings or part.side is None:
            continue
        joint = next(iter(orthosis.held))
        shell = part.shell.mesh
        stations = stations_of(tube, shell.vertices[part.shell.outer_vertices])
        meshes = (orthosis.limb.skin_mesh(), shell)
        for station in wrap_places(tube, joint, stations, width, is_volar=part.side == "volar"):
            (axis,), (dorsal,) = tube.spine.at(np.array([station]))
            radial = np.array([0.0, 1.0, 0.0])
            along = np.cross(radial, dorsal)
            lines = []
            for place in width * np.linspace(-0.5, 0.5, ACROSS):
                plane = _Plane(axis + place * along, along, radial, dorsal)
                lines.append(plane.around(np.vstack([plane.section(mesh) for mesh in meshes])))
            over = float(np.mean([_length(line) for line in lines]))
            body = _band(np.array(lines), strapping.thickness_mm, along)
            open_side: Side = "dorsal" if part.side == "volar" else "volar"
            place_id = place_on_finger(tube, station, open_side)
            cut = _cut_mm(over + OVERLAP_PER_WIDTH * width)
            yield WornStrap(place_id, part.name, "wrap", width, over, cut, body)


@dataclass(frozen=True, eq=False)
class _Plane:
    """A plane across the limb.

    origin, normal : (3,) mm, and unit, along the limb
    across, out : (3,) the ways across, and out of the open side
    """

    origin: Floats
    normal: Floats
    across: Floats
    out: Floats

    @property
    def axes(self) -> Floats:
        """Unit vectors (2, 3) across and out."""
        across = self.across - (self.across @ self.normal) * self.normal
        across = across / np.linalg.norm(across)
        out = np.cross(self.normal, across)
        return np.array([across, out * np.sign(out @ self.out)])

    def section(self, mesh: Mesh) -> Floats:
        """Return where the edges of a mesh cross the plane (n, 2)."""
        height = (mesh.vertices - self.origin) @ self.normal
        edges = np.vstack([mesh.faces[:, pair] for pair in ([0, 1], [1, 2], [2, 0])])
        low, high = height[edges].T
        crossed = (low < 0.0) & (high >= 0.0)
        start, stop = mesh.vertices[edges[crossed]].transpose(1, 0, 2)
        share = (low / (low - high + (low == high)))[crossed]
        return np.asarray((start + share[:, None] * (stop - start) - self.origin) @ self.axes.T)

    def over(self, section: Floats, ends: Floats) -> Floats:
        """Return the shortest line (ALONG, 3) from end to end over a section (n, 2)."""
        one, other = (ends - self.origin) @ self.axes.T
        base = other - one
        above = (section - one) @ np.array([-base[1], base[0]]) > 0.0
        near = np.abs(section[:, 1] - one[1]) < np.linalg.norm(base)
        hull = shapely.convex_hull(shapely.multipoints(np.vstack([one, other, section[above & near]])))
        if hull.geom_type != "Polygon":
            return self._in_space(shapely.LineString([one, other]))
        ring = np.asarray(shapely.force_2d(hull).exterior.coords)[:-1]
        first, last = (int(np.argmin(np.linalg.norm(ring - end, axis=1))) for end in (one, other))
        ring = np.roll(ring, -first, axis=0)
        last = (last - first) % len(ring)
        there, back = ring[: last + 1], np.vstack([ring[last:], ring[:1]])[::-1]
        return self._in_space(max((shapely.LineString(each) for each in (there, back)), key=lambda line: line.length))  # fmt: skip

    def around(self, section: Floats) -> Floats:
        """Return the shortest closed line (ALONG, 3) around a section (n, 2), its ends one point."""
        hull = shapely.convex_hull(shapely.multipoints(section))
        ring, middle = hull.exterior, hull.centroid
        down = shapely.LineString([middle, (middle.x, hull.bounds[1] - 1.0)])
        start = ring.project(ring.intersection(down))
        ends = substring(ring, start, ring.length), substring(ring, 0.0, start)
        return self._in_space(shapely.LineString(np.vstack([end.coords for end in ends])))

    def _in_space(self, line: shapely.LineString) -> Floats:
        places = shapely.line_interpolate_point(line, np.linspace(0.0, line.length, ALONG))
        return np.asarray(self.origin + shapely.get_coordinates(places) @ self.axes)


def _band(lines: Floats, thickness_mm: float, along: Floats) -> Mesh:
    """Return the closed band on lines (ACROSS, ALONG, 3), which run side by side on its inner face."""
    ways = np.gradient(lines, axis=1)
    out = np.cross(along, ways)
    out /= np.linalg.norm(out, axis=2, keepdims=True)
    middle = lines.mean(axis=(0, 1))
    out *= np.sign(np.einsum("ijk,ijk->", out, lines - middle))
    outer = lines + thickness_mm * out
    rows = np.concatenate([lines, outer[::-1]]).transpose(1, 0, 2)
    band = closed_tube(rows, rows[0].mean(axis=0), rows[-1].mean(axis=0))
    return band if band.volume_mm3() > 0.0 else Mesh(band.vertices, band.faces[:, ::-1])


def _without_thumb(limb: Limb) -> Mesh:
    """The skin that straps lie on: between thumb and hand they pass."""
    thumbs = [each.vertices for each in limb.beside("thumb").values()]
    bodies = [body.mesh for body in limb.skin_bodies()]
    return joined([each for each in bodies if not any(np.array_equal(each.vertices, one) for one in thumbs)])


def _cut_mm(length_mm: float) -> float:
    return CUT_STEP_MM * ceil(length_mm / CUT_STEP_MM)


def _length(line: Floats) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def _long_way(rim: Floats) -> Floats:
    """The direction (3,) of a slot, distal."""
    direction = np.linalg.svd(rim - rim.mean(axis=0), full_matrices=False)[2][0]
    return direction * np.sign(direction[0])
