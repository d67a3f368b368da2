"""From a model case to its printed bodies: pose the limb, grow the body, stand it up, measure it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from print3d.checks.finding import Finding
from print3d.geometry.frames import apply
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import mirror_for_side
from print3d.inputs.model_case import ModelCase
from print3d.language.message import Message
from print3d.training.body import BED_FROM_BASE, ModelBody, body_of_case
from print3d.training.booleans import mesh_of, solid_of
from print3d.training.measure import measured
from print3d.training.names import BODIES
from print3d.training.stand import StandPlan, plan_stand, socket, stand

Progress = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class Model:
    """A finished training model.

    parts : printed bodies by id, standing on the bed; their names: `names.body_name`
    body : what the body was made from
    stand : None where there is none
    """

    case: ModelCase
    parts: Mapping[str, Mesh]
    findings: tuple[Finding, ...]
    body: ModelBody
    stand: StandPlan | None
    remarks: tuple[Message, ...] = ()

    @property
    def has_solid(self) -> bool:
        """Whether a CAD solid can be made of it: of a finger in one piece, alone."""
        return len(self.parts) == 1 and self.body.finger is not None

    @property
    def holds(self) -> bool:
        """Whether every finding is inside its limit."""
        return all(finding.holds for finding in self.findings)


def build_model(case: ModelCase, progress: Progress) -> Model:
    """Build a model of one piece and measure it. Raises LimbError, InputError or MeshingError if it cannot be made."""
    progress("limb")
    body = body_of_case(case)
    progress("body")
    mesh = body.mesh()
    progress("stand")
    whole, plan = stood(case, body, mesh)
    parts = {BODIES[case.model.pose]: whole}
    progress("measure")
    return Model(case, parts, tuple(measured(case, body, parts)), body, plan)


def stood(case: ModelCase, body: ModelBody, mesh: Mesh) -> tuple[Mesh, StandPlan | None]:
    """Return a body on its stand, and the stand's plan.

    The body is given in the base frame; it is returned for the hand of the case, at its scale.
    """
    on_bed = Mesh(apply(BED_FROM_BASE, mesh.vertices) - [0.0, 0.0, body.top_mm], mesh.faces)
    on_bed = mirror_for_side(Mesh(on_bed.vertices * case.model.scale, on_bed.faces), case.header.side)
    if not case.model.has_stand:
        return on_bed, None
    plan = plan_stand(case, on_bed.vertices)
    whole, hole = solid_of(on_bed) + stand(plan), socket(plan)
    return mesh_of(whole if hole is None else whole - hole), plan
