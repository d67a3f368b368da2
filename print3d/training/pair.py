"""A model with the orthosis that answers its pose.

The finger is as the orthosis holds it; measurements prove that one goes on the other.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.errors import InputError
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import mirror_for_side
from print3d.geometry.nearest import Surface, at
from print3d.geometry.types import Floats
from print3d.inputs.case_file import case_from_data
from print3d.inputs.model_case import ModelCase, PoseName
from print3d.inputs.problems import Problem, refused
from print3d.inputs.tables import Tables
from print3d.kinds.registry import KINDS, AnyKind
from print3d.language.message import message
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.parametric import as_finger, as_hand
from print3d.training.body import ModelBody, finger_body, hand_body
from print3d.training.build import Model, Progress, stood
from print3d.training.measure import closed, measured
from print3d.training.names import BODIES, HELD, ORTHOSIS
from print3d.training.plates import packed
from print3d.training.poses import POSES

WITHIN_MM = 0.2
"""How far a gap may be off the planned one: half the tolerance of material extrusion; own choice."""
LEAST_PERCENT = 95.0
"""Share of the inner surface that must keep to that; own choice."""
RELIEF = 0.5
"""Creases under an orthosis are this share of their usual depth, so that the planned gap is kept over them; own choice."""
FROM_STAND_MM = 0.3
"""An orthosis stands clear of the stand by this; own choice."""


def build_pair(case: ModelCase, progress: Progress) -> Model:
    """Build a model and the orthosis for it.

    Raises InputError if the pose has no orthosis or the model is not at full size, and what the orthosis raises.
    """
    kind = answer_to(case.model.pose)
    if kind is None or case.model.scale != 1.0 or case.model.is_jointed:
        raise InputError(_why_not(case, kind).of(case.source))
    progress("orthosis")
    orthosis = orthosis_of(case, kind)
    progress("body")
    plain = replace(case, model=case.model.model_copy(update={"teaching_line": "none"}))
    body = body_in(plain, orthosis)
    mesh, plan = stood(case, body, body.mesh())
    name = f"{BODIES[case.model.pose]}{HELD}"
    findings = list(measured(case, body, {name: mesh}))
    progress("gap")
    parts = {name: mesh}
    for part in orthosis.parts:
        printed = on_model(case, body, part.shell.mesh)
        findings += fit(part, printed, mesh)
        parts[f"{ORTHOSIS}{part.name}"] = printed
        findings += closed(f"{ORTHOSIS}{part.name}", part_name(part.name), printed)
    (plate, *more) = packed(parts, case.printer.bed_mm)
    findings.append(Finding("model.beds", 1 + len(more), 1, "", "at most", case.printer.bed_width_mm.origin))
    remark = message("training.remark.as_held", option="--with-orthosis")
    return Model(case, plate if not more else parts, tuple(findings), body, plan, (remark,))


def _why_not(case: ModelCase, kind: AnyKind | None) -> Problem:
    if kind is None:
        having = [name for name in POSES if answer_to(name)]
        listed = ", ".join(f'"{name}"' for name in having)
        wanted = message("refusals.training.no_orthosis", having=listed, one_of=having)
        return Problem("model.pose", case.model.pose, wanted)
    if case.model.is_jointed:
        return Problem("model.is_jointed", True, message("refusals.training.pair_in_one_piece"))
    return Problem("model.scale", case.model.scale, message("refusals.training.pair_full_size"))


def answer_to(pose: PoseName) -> AnyKind | None:
    """Return the kind of orthosis that answers a pose, or None."""
    return next((kind for kind in KINDS.values() if pose in kind.answers), None)


def orthosis_of(case: ModelCase, kind: AnyKind) -> Orthosis:
    """Return the orthosis for a case, with the kind's own answer to its pose."""
    data = {
        "case": {**case.header.model_dump(mode="json"), "note": ""},
        "measured": _measures_of_model(case),
        "orthosis": {"kind": kind.name, **kind.answers[case.model.pose]},
        "print": case.print.model_dump(mode="json", exclude_none=True),
    }
    asked = case_from_data(data, {kind.name: kind.options}, case.source, case.libraries)
    return kind.build(replace(asked, revision=case.revision))


def _measures_of_model(case: ModelCase) -> Tables:
    """Return the table [measured] of a model's finger.

    Where nobody taped it, the model itself has the girth that was estimated.
    """
    given, name = case.measured, case.header.finger
    tables: Tables = given.model_dump(mode="json", exclude_none=True)
    if not given.finger_measures(name):
        finger = estimate_finger(name, {}, estimate_hand(given.hand_measures(), given.sex))
        tables[name] = {**tables[name], "pip_girth_mm": finger.pip_girth_mm.value}
    return tables


def body_in(case: ModelCase, orthosis: Orthosis) -> ModelBody:
    """Return the body of the limb that an orthosis was made on, standing clear of the orthosis."""
    body = _body_of(case, orthosis)
    lowest = min(
        float(apply(body.base_from_limb(), part.shell.mesh.vertices)[:, 0].min()) for part in orthosis.parts
    )
    form = replace(body.form, relief=RELIEF)
    return replace(body, form=form, top_mm=min(body.top_mm, lowest - FROM_STAND_MM - 5.0))


def _body_of(case: ModelCase, orthosis: Orthosis) -> ModelBody:
    finger, hand = as_finger(orthosis.limb), as_hand(orthosis.limb)
    if finger is not None:
        return finger_body(case, finger)
    if hand is not None:
        return hand_body(case, hand)
    raise refused(case.source, message("refusals.training.no_hand"), "model.pose", case.model.pose)


def on_model(case: ModelCase, body: ModelBody, mesh: Mesh) -> Mesh:
    """Return a mesh of the limb's frame where it sits on the standing model."""
    return mirror_for_side(Mesh(apply(body.bed_from_limb(), mesh.vertices), mesh.faces), case.header.side)


def fit(part: Part, printed: Mesh, model: Mesh) -> Iterator[Finding]:
    """Yield how much of a printed part's inner surface keeps the planned gap to the model, and the least gap."""
    inner = part.skin_vertices
    gap = Surface(model).signed(printed.vertices[inner])
    off = np.abs(gap - part.planned_gap_mm)
    share = 100.0 * float(_areas(printed)[inner] @ (off <= WITHIN_MM) / _areas(printed)[inner].sum())
    worst, tightest = int(np.argmax(off)), int(np.argmin(gap))
    row, name = about(part.name), part_name(part.name)
    yield Finding("model.fit_share", share, LEAST_PERCENT, "percent", "at least", message("training.source.fit"), row,
                  values(part=name, within_mm=WITHIN_MM, points=len(inner), most_off_mm=off[worst]),
                  where=at(printed.vertices[inner][worst]))  # fmt: skip
    yield Finding("model.fit_gap", float(gap[tightest]), -0.05, "mm", "at least", message("training.source.chord"), row,
                  values(part=name), where=at(printed.vertices[inner][tightest]))  # fmt: skip


def _areas(mesh: Mesh) -> Floats:
    """Area (n,) around each vertex: a third of each of its triangles."""
    thirds = np.repeat(np.linalg.norm(mesh.area_vectors(), axis=1) / 3.0, 3)
    return np.asarray(np.bincount(mesh.faces.ravel(), thirds, minlength=len(mesh.vertices)), dtype=np.float64)
