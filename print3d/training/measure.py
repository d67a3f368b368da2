"""What is measured on a finished model: closed, one piece, its girths, its letters, and whether it fits the bed."""

from collections.abc import Iterator, Mapping

import numpy as np

from print3d.checks.finding import Finding
from print3d.checks.integrity import CORE, count_bodies, measure_open_edges, measure_overlaps
from print3d.geometry.frames import rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import points_for_side, turn_for_side
from print3d.geometry.types import Floats
from print3d.inputs.model_case import ModelCase
from print3d.limb.finger import FingerLimb
from print3d.limb.hand import HandLimb, girth_around_heads, knuckles_of
from print3d.printing.supports import Hanging
from print3d.training.body import ModelBody
from print3d.training.booleans import taped_girth_mm

GIRTH_PERCENT = 0.5
"""How far a girth taped on the model may be off; own choice, a third of what a tape is off."""
OWN = "own choice: a finger tape reads to 1 mm, that is 1.6 percent of a finger"
TAPED = ("web", "mid_proximal", "pip", "mid_middle", "dip", "nail_fold")
IN_HAND = TAPED[1:]
PLACES = {
    "web": "web", "mid_proximal": "mid proximal phalanx", "pip": "PIP", "mid_middle": "mid middle phalanx",
    "dip": "DIP", "nail_fold": "nail fold",
}  # fmt: skip
FLAT_DEG = 1.0
"""A hand whose MCP joints are flexed less is flat; own choice."""
WATCHED_SUPPORT_PERCENT = 25.0
"""Supports of more than this share of a part are to be watched; own choice."""
OWN_SUPPORTS = "own choice: nothing is too much, a box without the part is all there can be; to be watched above a quarter of the part"
ALONE = 1.15
"""A piece of a section with more than this share of the girth is several fingers grown together, which no tape goes around."""


def measured(case: ModelCase, body: ModelBody, parts: Mapping[str, Mesh]) -> Iterator[Finding]:
    """Yield all findings of a model of one piece."""
    for name, mesh in parts.items():
        yield from closed(name, mesh)
        yield fits(case, name, mesh)
        yield from supported(case, name, mesh)
    (mesh,) = parts.values()
    yield from girths(case, body, mesh)
    if case.model.has_stand:
        least = case.printer.min_text_height_mm
        yield Finding("marking", "height of capital letters on the stand", case.model.letter_height_mm, least.value,
                      "mm", "at least", "as asked for", least.source)  # fmt: skip


def closed(name: str, mesh: Mesh) -> Iterator[Finding]:
    """Yield whether a part is closed, in one piece, and runs through itself nowhere."""
    edges, where = measure_open_edges(mesh)
    yield Finding("integrity", f"{name}: open places in the surface (edges without a neighbour)", edges, 0, "", "at most",
                  "directed edges counted", CORE, where)  # fmt: skip
    yield Finding("integrity", f"{name}: separate bodies", count_bodies(mesh), 1, "", "at most",
                  "connected triangles counted", "own choice: a part is printed in one piece")  # fmt: skip
    overlaps, where = measure_overlaps(mesh)
    yield Finding("integrity", f"{name}: places where the body runs through itself or is turned inside out", overlaps, 0, "",
                  "at most", "winding number just inside the triangles must be 1",
                  "own choice: slicers accept overlaps silently", where)  # fmt: skip


def fits(case: ModelCase, name: str, mesh: Mesh) -> Finding:
    """Return by how much a part, as it stands, is below the build space in its tightest direction."""
    size, bed = np.ptp(mesh.vertices, axis=0), np.array(case.printer.bed_mm)
    flat = min(np.min(bed[:2] - size[:2]), np.inf), np.min(bed[:2] - size[1::-1])
    room = float(min(max(flat), bed[2] - size[2]))
    return Finding("bed", f"{name}: room left on the bed as it stands", room, 0.0, "mm", "at least",
                   "box of the part against the printer's build space", case.printer.bed_width_mm.source)  # fmt: skip


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
    yield Finding("supports", f"{name}: supports against the part's own volume", 100.0 * volume / own, 100.0 * most, "%",
                  "at most", f"{volume / 1000.0:.1f} cm3 below overhangs, as the part stands", OWN_SUPPORTS,
                  watch=WATCHED_SUPPORT_PERCENT)  # fmt: skip


def girths(case: ModelCase, body: ModelBody, mesh: Mesh) -> Iterator[Finding]:
    """Yield how far the girths taped on the mesh are off those of the case, place by place."""
    for what, across, wanted, may_be_joined in _tapes(case, body):
        girth = taped_girth_mm(mesh, _on_model(case, body, across))
        if girth is None or (may_be_joined and girth > ALONE * wanted * case.model.scale):
            continue
        off = 100.0 * (girth / case.model.scale / wanted - 1.0)
        yield Finding("girth", f"{what}: girth off {wanted:.1f} mm", off, (-GIRTH_PERCENT, GIRTH_PERCENT), "percent",
                      "between", f"convex hull of the section of the printed mesh, {girth:.2f} mm", OWN)  # fmt: skip


def _tapes(case: ModelCase, body: ModelBody) -> Iterator[tuple[str, Floats, float, bool]]:
    """Yield place, section frame (4, 4), girth, and whether fingers may touch there.

    The frame is given in the limb's, its x along the axis.
    """
    limb = body.limb
    if isinstance(limb, FingerLimb):
        yield from (tape for tape in _of_finger("", limb, np.eye(4), TAPED))
        return
    for name, ray in limb.rays.items():
        yield from _of_finger(f"{name} finger, ", ray.limb, ray.hand_from_finger(), IN_HAND)
    if not case.model.are_fingers_apart and _is_flat(limb):
        yield from _of_heads(limb)
    yield from _of_hand(limb, body.limb_from_base, -body.top_mm)


def _of_finger(
    whose: str, limb: FingerLimb, place: Floats, names: tuple[str, ...]
) -> Iterator[tuple[str, Floats, float, bool]]:
    stations = np.array([limb.landmarks[name] for name in names])
    axis, dorsal = limb.spine.at(stations)
    girth = limb.girth_mm(stations)
    for number, name in enumerate(names):
        up = dorsal[number]
        along = np.array([up[2], 0.0, -up[0]])
        frame = rigid(np.column_stack([along, [0.0, 1.0, 0.0], up]), axis[number])
        yield f"{whose}{PLACES[name]}", place @ frame, float(girth[number]), bool(whose)


def _of_hand(
    limb: HandLimb, hand_from_forearm: Floats, shown_mm: float
) -> Iterator[tuple[str, Floats, float, bool]]:
    if limb.wrist_tape_mm < shown_mm - 8.0:
        yield from _of_forearm(limb, hand_from_forearm, "wrist", limb.wrist_tape_mm)
    for place in (50.0, 100.0, 150.0):
        if place < shown_mm - 8.0:
            yield from _of_forearm(
                limb, hand_from_forearm, f"forearm {place:.0f} mm from the wrist crease", place
            )


def _is_flat(limb: HandLimb) -> bool:
    return max(abs(ray.limb.pose.mcp_flexion_deg) for ray in limb.rays.values()) < FLAT_DEG


def _of_heads(limb: HandLimb) -> Iterator[tuple[str, Floats, float, bool]]:
    """A tape around the metacarpal heads, laid as it is measured.

    The hand is flat with its fingers together: spread or bent they move the skin there.
    """
    heads = np.mean([ray.mcp_centre for ray in limb.rays.values()], axis=0)
    girth = girth_around_heads(knuckles_of(limb.fingers), limb.head)
    yield "metacarpal heads", rigid(np.eye(3), heads), girth, False


def _of_forearm(
    limb: HandLimb, frame: Floats, what: str, place: float
) -> Iterator[tuple[str, Floats, float, bool]]:
    across = frame @ rigid(np.eye(3), np.array([-place, 0.0, 0.0]))
    yield what, across, float(limb.forearm.girth_mm(np.array([place]))[0]), False


def _on_model(case: ModelCase, body: ModelBody, across: Floats) -> Floats:
    """A section frame of the limb on the finished model: on the bed, mirrored and scaled."""
    frame, side = body.bed_from_limb() @ across, case.header.side
    return rigid(turn_for_side(frame[:3, :3], side), points_for_side(frame[:3, 3], side) * case.model.scale)
