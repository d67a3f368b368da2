r"""A finger of three phalanges that turn about pins at PIP and DIP, and stop when straight.

The pins lie on the true axes of the joints.

Seen along the axis of a joint (x distal, h dorsal), in the slot and beside it:

    proximal part, beside the slot      distal part, in the slot
           |                                      |
      #####|                                      |######
      #####)  cheek, a disc                tongue (######      both discs have the radius r about the axis;
      ####/                                       \#####       beside and in the slot the other part keeps out of it
      ###/   45 degrees                            \####       of it by the clearance

Straight, the dorsal faces stand apart by `STOP_DEG`; bent by 90 degrees, the volar slopes meet.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from print3d.checks.finding import Finding, about, values
from print3d.geometry.frames import apply, flexion_rotation, rigid
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import mirror_for_side
from print3d.inputs.measured import FingerName
from print3d.inputs.model_case import ModelCase
from print3d.inputs.problems import refused
from print3d.language.message import message
from print3d.limb.finger import FingerLimb, FingerPose
from print3d.limb.joint_id import JointId
from print3d.training.body import BED_FROM_BASE, finger_body, finger_limb
from print3d.training.booleans import cylinder, extruded, mesh_of, placed, solid_of, united
from print3d.training.build import Model, Progress, stood
from print3d.training.measure import closed, fits, supported
from print3d.training.names import body_name

if TYPE_CHECKING:
    from manifold3d import Manifold

Joint = Literal["pip", "dip"]
JOINTS: tuple[Joint, ...] = ("pip", "dip")

STOP_DEG = 1.0
"""The joint goes this far beyond straight before its dorsal faces meet: room for the first layer of paint; own choice."""
STOP_SLACK_DEG = 2.0
"""How far a joint may stop off that; own choice."""
BENDS_TO_DEG = 90.0
"""Angle to which the joints bend freely; own choice."""
SLOT_SHARE = 0.40
"""Breadth of the tongue over that of the finger; own choice."""
SKIN_MM = 0.8
"""The discs stay this far inside the volar skin; own choice."""
PIN_MM = 3.0
"""Diameter of the printed pins; own choice."""
PIN_PLAY_MM = 0.2
"""Play of the pins in the tongue; in the cheeks they are pressed or glued; own choice."""
FAR_MM = 80.0
"""Beyond every finger: bodies that cut reach this far."""
APART_MM = 8.0
"""Free room between the printed bodies; own choice."""
SWEEP_STEP_DEG = 5.0
"""Step in which the joints are bent to measure their gap; own choice."""
STILL_MM3 = 1e-3
"""Two bodies that share less than this do not touch."""


@dataclass(frozen=True)
class Hinge:
    """A hinge about the radial axis through (station, 0, 0) of the straight finger.

    disc_mm : radius of cheeks and tongue
    tongue_mm : half-breadth of the tongue
    gap_mm : clearance between parts
    pin_mm : diameter of the pin
    """

    station_mm: float
    disc_mm: float
    tongue_mm: float
    gap_mm: float
    pin_mm: float

    def proximal_side(self) -> "Manifold":
        """Return the space in which the proximal part may be."""
        wedge = _wedge(90.0 + STOP_DEG / 2.0, 225.0, self.gap_mm)
        beside, inside = wedge.union(self._disc(0.0)), wedge.difference(self._disc(self.gap_mm))
        edge = self.tongue_mm + self.gap_mm
        return self._prisms((inside, -FAR_MM, FAR_MM), (beside, -FAR_MM, -edge), (beside, edge, FAR_MM))

    def distal_side(self) -> "Manifold":
        """Return the space in which the distal part may be."""
        wedge = _wedge(-45.0, 90.0 - STOP_DEG / 2.0, self.gap_mm)
        beside, inside = wedge.difference(self._disc(self.gap_mm)), wedge.union(self._disc(0.0))
        return self._prisms((beside, -FAR_MM, FAR_MM), (inside, -self.tongue_mm, self.tongue_mm))

    def bore(self, play_mm: float) -> "Manifold":
        """Return a bar along the axis, `play_mm` wider than the pin."""
        disc = shapely.Point(0.0, 0.0).buffer((self.pin_mm + play_mm) / 2.0, quad_segs=24)
        return self._prisms((disc, -FAR_MM, FAR_MM))

    def bent(self, body: "Manifold", flexion_deg: float) -> "Manifold":
        """Return a body of the straight finger turned about the axis."""
        centre = np.array([self.station_mm, 0.0, 0.0])
        turn = flexion_rotation(np.radians(flexion_deg))
        return placed(body, rigid(turn, centre - turn @ centre))

    def _disc(self, wider_mm: float) -> shapely.Polygon:
        return shapely.Point(0.0, 0.0).buffer(self.disc_mm + wider_mm, quad_segs=48)

    def _prisms(self, *pieces: tuple[shapely.Geometry, float, float]) -> "Manifold":
        """Shapes in (distal, dorsal) stretched from one radial place to another."""
        bodies = []
        for shape, low, high in pieces:
            frame = np.eye(4)
            frame[:3, :3] = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
            frame[:3, 3] = [self.station_mm, high, 0.0]
            bodies.append(placed(extruded(shape, high - low), frame))
        return united(bodies)


def _wedge(from_deg: float, to_deg: float, gap_mm: float) -> shapely.Polygon:
    """All directions between two angles, counted from distal over dorsal; the volar edge moved in by half the gap."""
    angles = np.radians(np.linspace(from_deg, to_deg, 9))
    rim = 2.0 * FAR_MM * np.column_stack([np.cos(angles), np.sin(angles)])
    wedge = shapely.Polygon([(0.0, 0.0), *rim])
    volar = np.radians(to_deg if to_deg > 180.0 else from_deg)
    edge = shapely.LineString([(0.0, 0.0), (3.0 * FAR_MM * np.cos(volar), 3.0 * FAR_MM * np.sin(volar))])
    return wedge.difference(edge.buffer(gap_mm / 2.0, cap_style="flat"))


def hinge_of(case: ModelCase, limb: FingerLimb, joint: Joint) -> Hinge:
    """Return the hinge of a joint. Raises InputError if the finger is too thin for it on the case's printer."""
    station = limb.landmarks[joint]
    gap = case.printer.min_gap_mm.value / case.model.scale
    breadth, depth = (float(each[0]) for each in limb.half_axes(np.array([station])))
    disc = depth - float(limb.section_middle(np.array([station]))[0]) - SKIN_MM
    tongue = SLOT_SHARE * breadth
    least = case.printer.recommended_wall_mm.value / case.model.scale
    pin = PIN_MM / case.model.scale
    walls = disc - pin / 2.0 - gap, breadth - tongue - gap, 2.0 * tongue
    if min(walls) < least:
        wanted = message(
            "refusals.training.hinge",
            joint=message(f"common.joint.{joint}"),
            scale=case.model.scale,
            wall_mm=min(walls) * case.model.scale,
            least_mm=least * case.model.scale,
        )
        raise refused(case.source, wanted, "model.is_jointed", True)
    return Hinge(station, disc, tongue, gap, pin)


def build_jointed(case: ModelCase, progress: Progress) -> Model:
    """Build a jointed finger, straight, and check its hinges. Raises InputError if it cannot have any."""
    progress("limb")
    limb = finger_limb(case).posed(**vars(FingerPose()))
    body = finger_body(case, limb)
    hinges = {joint: hinge_of(case, limb, joint) for joint in JOINTS}
    progress("body")
    whole = solid_of(body.mesh())
    progress("hinges")
    phalanges = cut(whole, hinges)
    pins = {f"pin_{name}": _pin(case, limb, hinge) for name, hinge in hinges.items()}
    progress("sweep")
    findings = list(swept(limb.finger, phalanges, hinges))
    standing, plan = stood(case, body, mesh_of(phalanges["proximal_phalanx"]))
    parts = _on_bed(case, standing, phalanges, pins)
    for name, mesh in parts.items():
        findings += [
            *closed(name, body_name(name), mesh),
            fits(case, name, mesh),
            *supported(case, name, mesh),
        ]
    remark = message("training.remark.pins", pin_mm=PIN_MM, tolerance_mm=case.printer.tolerance_mm.value)
    return Model(case, parts, tuple(findings), body, plan, (remark,))


def cut(whole: "Manifold", hinges: Mapping[Joint, Hinge]) -> "dict[str, Manifold]":
    """Return the three phalanges of a straight finger, bored for their pins."""
    pip, dip = hinges["pip"], hinges["dip"]
    proximal = whole ^ pip.proximal_side()
    middle = (whole ^ pip.distal_side()) ^ dip.proximal_side()
    distal = whole ^ dip.distal_side()
    middle -= pip.bore(pip.gap_mm)
    return {
        "proximal_phalanx": _one(proximal - pip.bore(PIN_PLAY_MM)),
        "middle_phalanx": _one(middle - dip.bore(PIN_PLAY_MM)),
        "distal_phalanx": _one(distal - dip.bore(dip.gap_mm)),
    }


def _one(body: "Manifold") -> "Manifold":
    """The largest piece: what a slope cuts off a crease is no part."""
    return max(body.decompose(), key=lambda piece: float(piece.volume()))


def swept(
    finger: FingerName, phalanges: "Mapping[str, Manifold]", hinges: Mapping[Joint, Hinge]
) -> Iterator[Finding]:
    """Yield for both hinges the least gap from straight to 90 degrees, and the angle at which extension stops."""
    names = list(phalanges)
    for number, (joint, hinge) in enumerate(hinges.items()):
        fixed, turning = phalanges[names[number]], phalanges[names[number + 1]]
        gaps = [
            float(fixed.min_gap(hinge.bent(turning, float(angle)), 1.0))
            for angle in np.arange(0.0, BENDS_TO_DEG + 0.1, SWEEP_STEP_DEG)
        ]
        which = JointId(finger, joint)
        row = about(joint=which)
        yield Finding("model.hinge_gap", min(gaps), 0.01, "mm", "at least", message("training.source.hinge_gap"), row,
                      values(joint=which.alone, to_deg=BENDS_TO_DEG, step_deg=SWEEP_STEP_DEG))  # fmt: skip
        yield Finding("model.hinge_stop", stop_deg(fixed, turning, hinge),
                      (STOP_DEG - STOP_SLACK_DEG, STOP_DEG + STOP_SLACK_DEG), "deg", "between",
                      message("training.source.hinge_stop"), row, values(joint=which.alone))  # fmt: skip


def stop_deg(fixed: "Manifold", turning: "Manifold", hinge: Hinge) -> float:
    """Return the hyperextension (deg) at which two phalanges begin to share space, 30 if they never do."""
    free, held = 0.0, 30.0
    if not _touch(fixed, hinge.bent(turning, -held)):
        return held
    while held - free > 0.05:
        middle = (free + held) / 2.0
        if _touch(fixed, hinge.bent(turning, -middle)):
            held = middle
        else:
            free = middle
    return (free + held) / 2.0


def _touch(first: "Manifold", second: "Manifold") -> bool:
    return float((first ^ second).volume()) > STILL_MM3


def _pin(case: ModelCase, limb: FingerLimb, hinge: Hinge) -> "Manifold":
    """A pin at the size of the print, a little shorter than the finger is broad."""
    breadth = float(limb.half_axes(np.array([hinge.station_mm]))[0][0])
    return cylinder(PIN_MM / 2.0, 2.0 * breadth * case.model.scale - 1.0)


def _on_bed(
    case: ModelCase, standing: Mesh, phalanges: "Mapping[str, Manifold]", pins: "Mapping[str, Manifold]"
) -> dict[str, Mesh]:
    """Return all parts standing side by side on the bed."""
    scale = case.model.scale
    first, *others = phalanges
    parts = {first: standing}
    edge = float(parts[first].vertices[:, 0].max())
    floor = float(parts[first].vertices[:, 2].min())
    for name in others:
        mesh = mesh_of(phalanges[name])
        parts[name] = mirror_for_side(
            Mesh(apply(BED_FROM_BASE, mesh.vertices) * scale, mesh.faces), case.header.side
        )
    for name, pin in pins.items():
        parts[name] = mesh_of(pin)
    for name in [*others, *pins]:
        mesh = parts[name]
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        shift = np.array([edge + APART_MM - low[0], -(low[1] + high[1]) / 2.0, floor - low[2]])
        parts[name] = Mesh(mesh.vertices + shift, mesh.faces)
        edge += APART_MM + high[0] - low[0]
    return parts
