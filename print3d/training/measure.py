"""What is measured on a finished model: closed, one piece, its girths, its letters, and whether it fits the bed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.integrity import count_bodies, measure_open_edges, measure_overlaps
from print3d.geometry.frames import rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import points_for_side, turn_for_side
from print3d.geometry.types import Floats
from print3d.inputs.model_case import ModelCase
from print3d.language.message import Message, in_a_row, message
from print3d.limb.finger import FingerLimb
from print3d.limb.hand import HandLimb, girth_around_heads, knuckles_of
from print3d.printing.supports import Hanging
from print3d.training.body import ModelBody
from print3d.training.booleans import taped_girth_mm
from print3d.training.names import body_name

GIRTH_PERCENT = 0.5
"""How far a girth taped on the model may be off; own choice, a third of what a tape is off."""
TAPED = ("web", "mid_proximal", "pip", "mid_middle", "dip", "nail_fold")
IN_HAND = TAPED[1:]
FLAT_DEG = 1.0
"""A hand whose MCP joints are flexed less is flat; own choice."""
WATCHED_SUPPORT_PERCENT = 25.0
"""Supports of more than this share of a part are to be watched; own choice."""
ALONE = 1.15
"""A piece of a section with more than this share of the girth is several fingers grown together, which no tape goes around."""


def measured(case: ModelCase, body: ModelBody, parts: Mapping[str, Mesh]) -> Iterator[Finding]:
    """Yield all findings of a model of one piece."""
    for name, mesh in parts.items():
        yield from closed(name, body_name(name), mesh)
        yield fits(case, name, mesh)
        yield from supported(case, name, mesh)
    (mesh,) = parts.values()
    yield from girths(case, body, mesh)
    if case.model.has_stand:
        least = case.printer.min_text_height_mm
        yield Finding(
            "model.letters", case.model.letter_height_mm, least.value, "mm", "at least", least.origin
        )


@dataclass(frozen=True, eq=False)
class Tape:
    """A girth of the case and where it is taped.

    place : id ("middle.pip", "wrist")
    name : of the place
    across : (4, 4) frame of the section in the limb's frame, x along the axis
    girth_mm : as measured
    may_be_joined : whether fingers may have grown together there
    """

    place: str
    name: Message
    across: Floats
    girth_mm: float
    may_be_joined: bool = False


def closed(body: str, name: Message, mesh: Mesh) -> Iterator[Finding]:
    """Yield whether a part is closed, in one piece, and runs through itself nowhere."""
    edges, where_open = measure_open_edges(mesh)
    overlaps, where_overlap = measure_overlaps(mesh)
    for row, number, most, source, where in (
        ("open_edges", edges, 0, "closed_edges", where_open),
        ("bodies", count_bodies(mesh), 1, "own_piece", None),
        ("overlaps", overlaps, 0, "own_overlap", where_overlap),
    ):
        yield Finding(f"model.{row}", number, most, "", "at most", message(f"sources.{source}"), about(body),
                      values(part=name), where=where)  # fmt: skip


def fits(case: ModelCase, name: str, mesh: Mesh) -> Finding:
    """Return by how much a part, as it stands, is below the build space in its tightest direction."""
    size, bed = np.ptp(mesh.vertices, axis=0), np.array(case.printer.bed_mm)
    flat = min(np.min(bed[:2] - size[:2]), np.inf), np.min(bed[:2] - size[1::-1])
    room = float(min(max(flat), bed[2] - size[2]))
    return Finding("model.room", room, 0.0, "mm", "at least", case.printer.bed_width_mm.origin, about(name),
                   values(part=body_name(name)))  # fmt: skip


def supported(case: ModelCase, name: str, mesh: Mesh) -> Iterator[Finding]:
    """Yield how much of its own volume a part needs in supports as it stands.

    Nothing where the process needs none; much of it is no reason to fail, but to be known.
    """
    if case.printer.max_overhang_deg is None:
        return
    no_skin = np.zeros(len(mesh.faces), dtype=bool)
    hanging = Hanging(mesh, no_skin, case.printer.max_overhang_deg.value, case.printer.layer_mm.value)
    volume, own = hanging.supports(np.array([0.0, 0.0, 1.0])).volume_mm3, mesh.volume_mm3()
    most = float(np.prod(np.ptp(mesh.vertices, axis=0))) / own - 1.0
    yield Finding("model.supports", 100.0 * volume / own, 100.0 * most, "%", "at most",
                  message("training.source.supports"), about(name),
                  values(part=body_name(name), below_cm3=volume / 1000.0), watch=WATCHED_SUPPORT_PERCENT)  # fmt: skip


def girths(case: ModelCase, body: ModelBody, mesh: Mesh) -> Iterator[Finding]:
    """Yield how far the girths taped on the mesh are off those of the case, place by place."""
    for tape in _tapes(case, body):
        girth = taped_girth_mm(mesh, _on_model(case, body, tape.across))
        if girth is None or (tape.may_be_joined and girth > ALONE * tape.girth_mm * case.model.scale):
            continue
        off = 100.0 * (girth / case.model.scale / tape.girth_mm - 1.0)
        yield Finding("model.girth", off, (-GIRTH_PERCENT, GIRTH_PERCENT), "percent", "between",
                      message("training.source.girth"), about(place=tape.place),
                      values(place=tape.name, girth_mm=tape.girth_mm, found_mm=girth))  # fmt: skip


def _tapes(case: ModelCase, body: ModelBody) -> Iterator[Tape]:
    if body.finger is not None:
        yield from _of_finger("", body.finger, np.eye(4), TAPED)
    if body.hand is not None:
        yield from _of_whole_hand(case, body, body.hand)


def _of_whole_hand(case: ModelCase, body: ModelBody, limb: HandLimb) -> Iterator[Tape]:
    """Every finger, the metacarpal heads where a tape lies as it is measured, wrist and forearm."""
    for name, ray in limb.rays.items():
        yield from _of_finger(name, ray.limb, ray.hand_from_finger(), IN_HAND)
    if not case.model.are_fingers_apart and _is_flat(limb):
        yield _of_heads(limb)
    yield from _of_hand(limb, body.limb_from_base, -body.top_mm)


def _of_finger(finger: str, limb: FingerLimb, frame: Floats, places: tuple[str, ...]) -> Iterator[Tape]:
    stations = np.array([limb.landmarks[place] for place in places])
    axis, dorsal = limb.spine.at(stations)
    girth = limb.girth_mm(stations)
    for number, place in enumerate(places):
        up = dorsal[number]
        along = np.array([up[2], 0.0, -up[0]])
        across = frame @ rigid(np.column_stack([along, [0.0, 1.0, 0.0], up]), axis[number])
        name = message(f"training.place.{place}")
        if finger:
            name = in_a_row([message(f"common.finger.{finger}"), name])
        yield Tape(f"{finger}.{place}".strip("."), name, across, float(girth[number]), bool(finger))


def _of_hand(limb: HandLimb, hand_from_forearm: Floats, shown_mm: float) -> Iterator[Tape]:
    if limb.wrist_tape_mm < shown_mm - 8.0:
        yield _of_forearm(
            limb, hand_from_forearm, ("wrist", message("training.place.wrist")), limb.wrist_tape_mm
        )
    for along in (50.0, 100.0, 150.0):
        if along < shown_mm - 8.0:
            name = message("training.place.forearm", along_mm=along)
            yield _of_forearm(limb, hand_from_forearm, (f"forearm_{along:.0f}", name), along)


def _is_flat(limb: HandLimb) -> bool:
    return max(abs(ray.limb.pose.mcp_flexion_deg) for ray in limb.rays.values()) < FLAT_DEG


def _of_heads(limb: HandLimb) -> Tape:
    """A tape around the metacarpal heads, laid as it is measured.

    The hand is flat with its fingers together: spread or bent they move the skin there.
    """
    heads = np.mean([ray.mcp_centre for ray in limb.rays.values()], axis=0)
    girth = girth_around_heads(knuckles_of(limb.fingers), limb.head)
    return Tape("heads", message("training.place.heads"), rigid(np.eye(3), heads), girth)


def _of_forearm(limb: HandLimb, frame: Floats, place: tuple[str, Message], along_mm: float) -> Tape:
    across = frame @ rigid(np.eye(3), np.array([-along_mm, 0.0, 0.0]))
    return Tape(*place, across, float(limb.forearm.girth_mm(np.array([along_mm]))[0]))


def _on_model(case: ModelCase, body: ModelBody, across: Floats) -> Floats:
    """A section frame of the limb on the finished model: on the bed, mirrored and scaled."""
    frame, side = body.bed_from_limb() @ across, case.header.side
    return rigid(turn_for_side(frame[:3, :3], side), points_for_side(frame[:3, 3], side) * case.model.scale)
