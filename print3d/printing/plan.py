"""How one part is best printed: which side up, on what supports, how heavy, how long, how strong."""

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from print3d.forms.orthosis import Part
from print3d.geometry.bed import build_directions, on_bed, rooms_mm
from print3d.geometry.frames import mirrored
from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import Side, points_for_side
from print3d.geometry.types import Floats, Ints
from print3d.inputs.materials import Material, Printer
from print3d.kept import kept
from print3d.language.catalogue import Language, text
from print3d.printing.layers import cut_into_layers
from print3d.printing.strength import layer_strength, stressed_along
from print3d.printing.supports import Hanging, Supports
from print3d.printing.timing import print_seconds
from print3d.shell.mesh import FaceKind

SideUp = Literal["fingertip", "wrist", "thumb_side", "little_finger_side", "back", "palm_side"]
SIDES: tuple[tuple[SideUp, SideUp], ...] = (
    ("fingertip", "wrist"), ("thumb_side", "little_finger_side"), ("back", "palm_side"),
)  # fmt: skip
"""What the axes of the right hand's limb frame point to, and what their opposites do."""
ROUGH_SAMPLES = 3000
"""Triangles by which all positions are compared; the best few are then measured on the whole part."""
BEST = 5
"""Positions that are measured on the whole part; own choice."""
SKIN_WORTH_MM = 4.0
"""A square millimetre of skin side marked by supports weighs as much as a support of this height; own choice."""
HEIGHT_WORTH_MM2 = 15.0
"""A millimetre of height weighs as much as this many mm3 of support: a layer change costs seconds; own choice."""
STRONG_ENOUGH = 0.75
"""Positions that leave less of the strength lose to all others; as the check watches."""
ROOM_ENOUGH_MM = 1.0
"""Positions with less room beside the part lose to all others; as the limit of the check."""
WEAK_WORTH_MM3 = 1e6
"""What a lost share of the strength is worth in supports: more than all of them; own choice."""
TOO_WEAK = 0.1
"""Share that is added to any loss, so that a position that is only a little too weak still loses; own choice."""
UPRIGHT = float(np.cos(np.radians(15.0)))
"""A part tilted by less is said to stand upright on its side."""


@dataclass(frozen=True, eq=False)
class PrintPlan:
    """One part in its best position in the build space.

    bed_from_limb : (4, 4) from the limb frame to the bed: z up, the part in the middle on height 0
    size_mm : (x, y, z) of the part on the bed
    room_mm : least room left above or on either side of it in the build space; negative if it does not fit
    layers : how many
    supports : what hangs over and what is held up, all 0 where the process needs none
    mass_g, support_mass_g : of the part and of its supports
    seconds : print time, None if the printer's file does not say how fast it is
    strength : least share of the strength in the plane of the layers that is left along the stressed direction
    weakest_at : (3,) mm, limb frame, where that is
    side : the hand whose limb frame that is
    """

    part: str
    bed_from_limb: Floats
    size_mm: tuple[float, float, float]
    room_mm: float
    layers: int
    supports: Supports
    mass_g: float
    support_mass_g: float
    seconds: float | None
    strength: float
    weakest_at: Floats
    side: Side = "right"

    @property
    def up(self) -> Floats:
        """The direction (3,) of the limb frame that points upward on the bed."""
        return np.asarray(self.bed_from_limb[2, :3])

    def for_side(self, side: Side) -> "PrintPlan":
        """Return the plan for a part of the asked hand.

        Those of a left hand lie as the mirror image of the right one's.
        """
        if side == self.side:
            return self
        placed = np.diag([-1.0, 1.0, 1.0, 1.0]) @ self.bed_from_limb @ np.diag([1.0, -1.0, 1.0, 1.0])
        return replace(self, bed_from_limb=placed, weakest_at=mirrored(self.weakest_at), side=side)

    def as_data(self, price_per_kg: float | None = None) -> dict[str, Any]:
        """Return the plan as plain data, for files."""
        return {
            "part": self.part,
            "position": self.position(),
            "side_up": self.side_up,
            "is_tilted": self.is_tilted,
            "bed_from_limb": [[round(float(each), 6) for each in row] for row in self.bed_from_limb],
            "size_mm": [round(each, 2) for each in self.size_mm],
            "layers": self.layers,
            "support_volume_mm3": round(self.supports.volume_mm3, 1),
            "mass_g": round(self.mass_g, 2),
            "support_mass_g": round(self.support_mass_g, 2),
            "seconds": None if self.seconds is None else round(self.seconds),
            "cost": None if price_per_kg is None else round(self.cost(price_per_kg), 2),
        }

    @property
    def side_up(self) -> SideUp:
        """Which side of the limb points upward."""
        up = points_for_side(self.up, self.side)
        strongest = int(np.argmax(np.abs(up)))
        return SIDES[strongest][0 if up[strongest] > 0 else 1]

    @property
    def is_tilted(self) -> bool:
        """Whether that side points upward only roughly."""
        return bool(np.abs(self.up).max() <= UPRIGHT)

    def position(self, language: Language = "en") -> str:
        """Return which side of the limb points upward, in words."""
        side = text(f"common.side_up.{self.side_up}", language)
        return text(f"common.position.{'tilted' if self.is_tilted else 'upright'}", language, side=side)

    def cost(self, price_per_kg: float) -> float:
        """Return the price of the material, supports included, in the currency of `price_per_kg`."""
        return price_per_kg * (self.mass_g + self.support_mass_g) / 1000.0


@kept
def plan_print(part: Part, printer: Printer, material: Material) -> PrintPlan:
    """Find the best position among some 270 and measure it.

    All are weighed by the strength across the layers, and by supports, marks on the skin side and height on samples of the
    surface; the best five then by rays and on every triangle. The plan is kept in the part.
    """
    mesh = part.shell.mesh
    directions = build_directions()
    room, turns = rooms_mm(mesh.vertices, directions, printer.bed_mm)
    stressed = stressed_along(part)
    strengths, weakest = layer_strength(stressed.tangents, directions, material.layer_factor.value)
    hanging = _hanging(part, printer)
    rough = _rough_cost(part, printer, directions) + _penalty(room, strengths)
    best = np.argsort(rough, kind="stable")[:BEST]
    measured = {number: _supports(hanging, directions[number]) for number in best}
    chosen = min(
        best,
        key=lambda number: (
            _cost(measured[number], float(np.ptp(mesh.vertices @ directions[number])))
            + _penalty(room, strengths)[number]
        ),
    )
    up, supports = directions[chosen], measured[chosen]
    layers = cut_into_layers(mesh, up, printer.layer_mm.value)
    share = 0.0 if printer.support_share is None else printer.support_share.value
    bed_from_limb = on_bed(mesh.vertices, up, float(turns[chosen]))
    width, depth, height = np.ptp(mesh.vertices @ bed_from_limb[:3, :3].T, axis=0)
    gram_per_mm3 = material.density_g_per_cm3.value / 1000.0
    return PrintPlan(
        part=part.name,
        bed_from_limb=bed_from_limb,
        size_mm=(float(width), float(depth), float(height)),
        room_mm=float(room[chosen]),
        layers=layers.count,
        supports=supports,
        mass_g=gram_per_mm3 * mesh.volume_mm3(),
        support_mass_g=gram_per_mm3 * share * supports.volume_mm3,
        seconds=print_seconds(layers, share * supports.volume_mm3, printer),
        strength=float(strengths[chosen]),
        weakest_at=stressed.points[weakest[chosen]],
    )


def _hanging(part: Part, printer: Printer) -> Hanging | None:
    """What may need supports, or None where the process needs none."""
    if printer.max_overhang_deg is None:
        return None
    skin = part.shell.face_kind == FaceKind.INNER
    return Hanging(part.shell.mesh, skin, printer.max_overhang_deg.value, printer.layer_mm.value)


def _supports(hanging: Hanging | None, up: Floats) -> Supports:
    return Supports() if hanging is None else hanging.supports(up)


def _cost(supports: Supports, height_mm: float) -> float:
    return supports.volume_mm3 + SKIN_WORTH_MM * supports.skin_mm2 + HEIGHT_WORTH_MM2 * height_mm


def _penalty(room: Floats, strengths: Floats) -> Floats:
    """What is added to the cost of a position (n,) that does not fit or is too weak.

    Not fitting counts most; too weak is one whose layers lie across the stressed direction.
    """
    weak = np.maximum(STRONG_ENOUGH - strengths, 0.0)
    weak = weak + TOO_WEAK * (weak > 0.0)
    return np.asarray(WEAK_WORTH_MM3 * (weak + 100.0 * np.maximum(ROOM_ENOUGH_MM - room, 0.0)))


def _rough_cost(part: Part, printer: Printer, directions: Floats) -> Floats:
    """The cost (n,) of each position by samples, as if all supports went down to the bed."""
    mesh = part.shell.mesh
    heights = mesh.vertices[:: max(1, len(mesh.vertices) // ROUGH_SAMPLES)] @ directions.T
    tall = np.ptp(heights, axis=0)
    if printer.max_overhang_deg is None:
        return HEIGHT_WORTH_MM2 * tall
    chosen, sizes = _samples(mesh)
    normals = mesh.area_vectors()[chosen]
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    steep = -normals @ directions.T
    above = mesh.corners()[chosen].mean(axis=1) @ directions.T - heights.min(axis=0)
    hangs = (steep > np.sin(np.radians(printer.max_overhang_deg.value))) & (above > printer.layer_mm.value)
    skin = (part.shell.face_kind[chosen] == FaceKind.INNER)[:, None]
    return np.asarray(
        sizes * np.where(hangs, steep * above + SKIN_WORTH_MM * skin, 0.0).sum(axis=0)
        + HEIGHT_WORTH_MM2 * tall
    )


def _samples(mesh: Mesh) -> tuple[Ints, float]:
    """Triangles evenly over the area, and the area that each stands for."""
    along = np.cumsum(np.linalg.norm(mesh.area_vectors(), axis=1))
    steps = (np.arange(ROUGH_SAMPLES) + 0.5) / ROUGH_SAMPLES * along[-1]
    chosen = np.minimum(np.searchsorted(along, steps), len(along) - 1)
    return chosen, float(along[-1] / ROUGH_SAMPLES)
