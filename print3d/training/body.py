"""The posed limb of a training model as one body: a field of distances, and how it stands."""

from dataclasses import dataclass, replace

import numpy as np

from print3d.geometry.frames import apply, inverse, rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS
from print3d.inputs.model_case import ModelCase
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.finger import FingerLimb, build_finger
from print3d.limb.hand import HandLimb, build_hand
from print3d.limb.hand_estimates import estimate_hand_and_forearm
from print3d.training.booleans import largest, mesh_of, solid_of
from print3d.training.finger_form import FingerForm
from print3d.training.hand_form import HandForm
from print3d.training.level_set import intersection, surface, union
from print3d.training.marks import Mark, skeleton_on_finger, tendon_in_palm, tendon_on_finger
from print3d.training.poses import FAN_DEG, POSES, finger_pose, hand_pose

FINGER_STEP_MM = 0.4
"""Grid of the level set of a finger: facets lie within 0.003 mm of its skin."""
HAND_STEP_MM = 0.7
"""Grid of the level set of a hand: facets lie within 0.01 mm of its skin."""
FOOT_FROM_WEB = 0.3
"""A finger alone stands on its plate at this share of the way from MCP centre to web; own choice."""
HAND_FOREARM_MM = {"hand": 28.0, "hand_and_forearm": 60.0}
"""How much of the forearm is shown, unless a case asks for more or less; own choice."""
FOOT_FILLET_MM = 4.0
"""Fillet between body and plate; own choice."""
FOOT_REACH_MM = 4.5
"""How far around the body that fillet reaches; own choice."""
LIFT_MM = 0.05
"""How far the fillet's rim stands over the plate, so that no two faces coincide."""
ROOT_MM = 1.5
"""How deep the body is sunk into the plate, so that both grow together; own choice."""
ROOM_MM = 3.0
"""The grid goes this far beyond the body; own choice."""
BED_FROM_BASE = rigid(np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]]), np.zeros(3))
"""Proximal down, volar to the right, radial (of a right hand) to the back."""


@dataclass(frozen=True, eq=False)
class ModelBody:
    """A body as a field, and how it stands.

    finger, hand : the limb: a finger alone, or a hand on its forearm
    form : the field in the limb's own frame
    limb_from_base : (4, 4) frame in which x points up
    top_mm : where the plate's top cuts the body, along x of that frame
    box : (2, 3) corners of the body in the base frame
    """

    finger: FingerLimb | None
    hand: HandLimb | None
    form: FingerForm | HandForm
    limb_from_base: Floats
    top_mm: float
    box: Floats
    step_mm: float

    def distance(self, points: Floats) -> Floats:
        """Return the field (n,) at points (n, 3) of the base frame.

        It is the body with its foot, cut off a little below the plate's top.
        """
        body = self.form.distance(apply(self.limb_from_base, points))
        height = points[:, 0] - self.top_mm - LIFT_MM
        footed = intersection(union(body, height, FOOT_FILLET_MM), body - FOOT_REACH_MM, 0.5)
        return intersection(footed, -height - ROOT_MM, 0.2)

    def mesh(self) -> Mesh:
        """Return the body's mesh in the base frame."""
        low, high = self.box
        low = np.array([self.top_mm - ROOT_MM - 2.0, *(low[1:] - FOOT_REACH_MM - ROOM_MM)])
        found = surface(self.distance, low, high + FOOT_REACH_MM + ROOM_MM, self.step_mm)
        return mesh_of(largest(solid_of(found)))

    def base_from_limb(self) -> Floats:
        """Return the frame (4, 4) of the limb in the base frame."""
        return inverse(self.limb_from_base)

    def bed_from_limb(self) -> Floats:
        """Return the frame (4, 4) of the limb on the bed, before mirroring and scale."""
        down = rigid(np.eye(3), np.array([0.0, 0.0, -self.top_mm]))
        return np.asarray(down @ BED_FROM_BASE @ self.base_from_limb())


def body_of_case(case: ModelCase) -> ModelBody:
    """Return the posed body of a case as a field."""
    if case.model.body == "finger":
        return finger_body(case, finger_limb(case))
    hand = hand_limb(case)
    if case.model.are_fingers_apart and not POSES[case.model.pose].are_fingers_together:
        hand = replace(hand, fingers=hand.fingers.spread(FAN_DEG))
    return hand_body(case, hand)


def finger_limb(case: ModelCase) -> FingerLimb:
    """Return the posed finger of a case."""
    name, measured_ = case.header.finger, case.measured
    hand = estimate_hand(measured_.hand_measures(), measured_.sex)
    measures = estimate_finger(name, measured_.finger_measures(name), hand)
    return build_finger(name, measures, finger_pose(case.model))


def hand_limb(case: ModelCase) -> HandLimb:
    """Return the posed hand of a case, its fingers side by side."""
    measured_ = case.measured
    fingers = {name: measured_.finger_measures(name) for name in FINGERS}
    measures = estimate_hand_and_forearm(measured_.hand_measures(), measured_.sex, fingers)
    return build_hand(measures, hand_pose(case.model, case.header.finger))


def finger_body(case: ModelCase, limb: FingerLimb) -> ModelBody:
    """Return a finger on its foot, tilted on it by its MCP angle."""
    form = FingerForm(limb, finger_marks(case, limb))
    frame = limb.segment_transform("hand")
    skin = apply(inverse(frame), limb.skin_mesh().vertices)
    box = np.array([skin.min(axis=0), skin.max(axis=0)])
    return ModelBody(limb, None, form, frame, FOOT_FROM_WEB * limb.landmarks["web"], box, FINGER_STEP_MM)


def hand_body(case: ModelCase, limb: HandLimb) -> ModelBody:
    """Return a hand that stands on its forearm."""
    options, finger = case.model, case.header.finger
    shown = options.forearm_mm or HAND_FOREARM_MM[options.body]
    marks = {finger: finger_marks(case, limb.rays[finger].limb)}
    palm = None
    if options.teaching_line == "tendon":
        palm = tendon_in_palm(limb, finger, shown, is_mirrored=case.header.side == "left")
    form = HandForm(limb, shown + ROOT_MM + 3.0, marks, palm)
    frame = form.hand_from_forearm()
    corners = np.stack(np.meshgrid(*np.transpose(form.box()), indexing="ij"), axis=-1).reshape(-1, 3)
    ends = apply(inverse(frame), corners)
    box = np.array([ends.min(axis=0), ends.max(axis=0)])
    return ModelBody(None, limb, form, frame, -shown, box, HAND_STEP_MM)


def finger_marks(case: ModelCase, limb: FingerLimb) -> tuple[Mark, ...]:
    """Return the teaching line that a case asks for on its finger."""
    line = case.model.teaching_line
    if line == "tendon":
        return (tendon_on_finger(limb, is_mirrored=case.header.side == "left"),)
    return (skeleton_on_finger(limb),) if line == "skeleton" else ()
