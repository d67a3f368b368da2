"""Index to little finger side by side: each a `FingerLimb` of its own, placed at its own MCP centre.

The frame is the hand's of `geometry/frames.py`: origin at the wrist centre, x distal, y radial, z dorsal. The MCP centres lie
on an oblique, arched line, so that the fingers are staggered and the middle ones stand higher.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np
from scipy.spatial import KDTree

from print3d.geometry.cross_section import radius
from print3d.geometry.frames import apply, flexion_rotation, inverse, rigid
from print3d.geometry.mesh import Mesh, joined
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS, FingerName
from print3d.kept import kept
from print3d.limb.estimates import Estimate, FingerMeasures
from print3d.limb.finger import FingerLimb, build_finger
from print3d.limb.finger_sections import SECTION_EXPONENT
from print3d.limb.joint_id import JointId, RayName
from print3d.limb.limb import (
    Angles,
    Bools,
    Chain,
    LimbJoint,
    LimbMeasures,
    Side,
    SkinBody,
    WebLine,
    web_name,
)
from print3d.limb.norms import table

ARCH_SHARE = {"index": -0.03, "middle": 0.0, "ring": -0.03, "little": -0.09}
"""How far dorsal of the middle finger's an MCP centre lies, as a share of hand breadth: the transverse arch; from memory."""

AROUND = 72
"""Skin points around a finger from which gaps to a neighbour are found."""
STEP_MM = 0.8
"""Spacing of those points along it: gaps come out 0.03 mm too large at most at 4 mm."""


@dataclass(frozen=True, eq=False)
class Ray:
    """One finger in the hand.

    limb : the finger, whose pose holds its MCP flexion
    mcp_centre : (3,) mm, hand frame
    spread_deg : turned towards the thumb by this about the dorsal axis
    """

    limb: FingerLimb
    mcp_centre: Floats
    spread_deg: float = 0.0

    @property
    def web_mm(self) -> float:
        """Station of the web between this finger and its neighbours, nearer to the MCP than the palmar crease."""
        known = table("fingers")
        share = known["webs"]["distal_of_mcp_line_share"][self.limb.finger]
        line, tip = known["condyles"]["mcp_radius_mm"], self.limb.landmarks["tip"]
        return float(line + share * (tip - line) / (1.0 + share))

    def hand_from_finger(self) -> Floats:
        """Return the placement (4, 4) of the finger's own frame, which stays with its proximal phalanx."""
        spread = np.radians(self.spread_deg)
        turn = np.array(
            [[np.cos(spread), -np.sin(spread), 0.0], [np.sin(spread), np.cos(spread), 0.0], [0.0, 0.0, 1.0]]
        )
        return rigid(turn @ flexion_rotation(np.radians(self.limb.pose.mcp_flexion_deg)), self.mcp_centre)

    def flexed(self, mcp_deg: float) -> "Ray":
        """Return the same finger with its MCP at another angle."""
        return replace(self, limb=self.limb.posed(mcp_flexion_deg=mcp_deg))

    def skin_points(self, stations_mm: tuple[float, float]) -> Floats:
        """Return skin points (n, 3) all around between two stations, hand frame."""
        return apply(self.hand_from_finger(), _skin_in_finger(self.limb, *stations_mm))

    def encloses(self, points: Floats) -> Bools:
        """Return which points (n, 3) of the hand frame lie inside the straight proximal phalanx."""
        x, y, z = apply(inverse(self.hand_from_finger()), points).T
        breadth, depth = self.limb.half_axes(x)
        height = z - self.limb.section_middle(x)
        reach = radius(np.arctan2(y, height), breadth, depth, SECTION_EXPONENT)
        return np.asarray(np.hypot(y, height) < reach)

    def web_side(self, side: Literal["radial", "ulnar"]) -> Floats:
        """Return the skin's place (3,) at the web on one side, hand frame."""
        fraction = np.array([0.25 if side == "radial" else 0.75])
        skin = self.limb.skin_points(np.array([self.web_mm]), fraction)
        return apply(self.hand_from_finger(), skin)[0]


@kept
def _skin_in_finger(limb: FingerLimb, low_mm: float, high_mm: float) -> Floats:
    """Skin points (n, 3) all around between two stations, finger frame; a finger that is spread keeps them."""
    station = np.linspace(low_mm, high_mm, max(2, int(np.ceil((high_mm - low_mm) / STEP_MM)) + 1))
    grid = np.meshgrid(station, np.arange(AROUND) / AROUND, indexing="ij")
    return limb.skin_points(grid[0].ravel(), grid[1].ravel())


def gap_mm(first: Ray, second: Ray, zones: tuple[tuple[float, float], tuple[float, float]]) -> float:
    """Return the least gap between two fingers over the given stations of each, negative where they overlap."""
    skins = [ray.skin_points(zone) for ray, zone in zip((first, second), zones, strict=True)]
    distance, _ = KDTree(skins[0]).query(skins[1])
    return float(np.where(first.encloses(skins[1]), -distance, distance).min())


@dataclass(frozen=True, eq=False)
class FourFingers:
    """The four fingers of a hand, radial to ulnar."""

    rays: Mapping[FingerName, Ray]

    def posed(self, finger: FingerName, **angles: float) -> "FourFingers":
        """Return the same hand with one finger's joint angles changed (`mcp_flexion_deg=...`)."""
        ray = self.rays[finger]
        return FourFingers({**self.rays, finger: replace(ray, limb=ray.limb.posed(**angles))})

    def spread(self, spreads_deg: Mapping[FingerName, float]) -> "FourFingers":
        """Return the same hand with its fingers turned towards the thumb by the given angles."""
        return FourFingers(
            {
                name: replace(ray, spread_deg=spreads_deg.get(name, ray.spread_deg))
                for name, ray in self.rays.items()
            }
        )

    def web_between(self, radial: FingerName, ulnar: FingerName) -> Floats:
        """Return the web (2, 3) between two neighbours: the line between their facing sides there."""
        return np.array([self.rays[radial].web_side("ulnar"), self.rays[ulnar].web_side("radial")])

    def web_slopes(self, finger: FingerName) -> tuple[float, float]:
        """Return distal over radial of the web line through a finger, on its radial and on its ulnar side.

        The line runs to the middle of the web on either side; on the hand's outer sides it goes on straight.
        """
        ray = self.rays[finger]
        back = inverse(ray.hand_from_finger())
        number, slopes = FINGERS.index(finger), dict[str, float]()
        for side, first in (("radial", number - 1), ("ulnar", number)):
            if 0 <= first < len(FINGERS) - 1:
                web = apply(back, self.web_between(*FINGERS[first : first + 2]).mean(axis=0)[None])[0]
                slopes[side] = float((web[0] - ray.web_mm) / web[1])
        only = next(iter(slopes.values()))
        return slopes.get("radial", only), slopes.get("ulnar", only)

    # --- as a limb -----------------------------------------------------------------------------------------------

    @cached_property
    def joints(self) -> Mapping[JointId, LimbJoint]:
        """MCP, PIP and DIP of every finger."""
        return {
            joint: found.placed(ray.hand_from_finger())
            for ray in self.rays.values()
            for joint, found in ray.limb.joints.items()
        }

    @property
    def by_ray(self) -> Mapping[RayName, Chain]:
        """Every finger."""
        return {name: ray.limb for name, ray in self.rays.items()}

    @property
    def places(self) -> Mapping[str, Floats]:
        """The webs between neighbours, as lines."""
        return {web_name(*pair): self.web_between(*pair) for pair in pairwise(self.rays)}

    @property
    def measures(self) -> LimbMeasures:
        """What it was made from."""
        made_from = {name: ray.limb.made_from for name, ray in self.rays.items()}
        return LimbMeasures(None, {name: each for name, each in made_from.items() if each is not None})

    @property
    def tube(self) -> None:
        """None: there are several."""

    def place(self, ray: RayName, turned: Angles | None = None) -> Floats:
        """Return limb_from_finger (4, 4), with some joints turned; only its MCP moves a finger's frame."""
        (found,) = (each for name, each in self.rays.items() if name == ray)
        angle = (turned or {}).get(JointId(ray, "mcp"))
        return (found if angle is None else found.flexed(angle)).hand_from_finger()

    def skin_bodies(self) -> tuple[SkinBody, ...]:
        """Return the posed skin of each finger."""
        return tuple(
            SkinBody(ray.limb.skin_mesh().moved(ray.hand_from_finger()), name)
            for name, ray in self.rays.items()
        )

    def skin_mesh(self) -> Mesh:
        """Return the posed skins of all fingers as one mesh of several closed bodies."""
        return joined([each.mesh for each in self.skin_bodies()])

    def sheet(self, side: Side) -> None:
        """Return none: the four are no one sheet."""

    def beyond(self, joint: JointId, points: Floats) -> Bools:
        """Return which points (n, 3) lie distal of a finger's joint."""
        return self.by_ray[joint.ray].beyond(joint, apply(inverse(self.place(joint.ray)), points))

    def together(self, joints: Sequence[JointId]) -> LimbJoint:
        """Return one joint as it is."""
        (joint,) = joints
        return self.joints[joint]

    def web_line(self, ray: RayName) -> WebLine | None:
        """Return the line of the webs through a finger."""
        (found,) = (each for name, each in self.rays.items() if name == ray)
        return WebLine(found.web_mm, *self.web_slopes(found.limb.finger))

    def beside(self, ray: RayName) -> Mapping[str, Mesh]:
        """Return nothing: the thumb is not part of it."""
        return {}


def build_four_fingers(
    measures: Mapping[FingerName, FingerMeasures], hand: Mapping[str, Estimate]
) -> FourFingers:
    """Make the straight fingers of a hand.

    measures : of each finger, measured or estimated
    hand : hand-level dimensions by case-file key

    Raises LimbError if a finger's lengths leave no place for a segment.
    """
    centres = table("fingers")["mcp_centres"]
    length, breadth = hand["hand_length_mm"].value, hand["hand_breadth_mm"].value
    return FourFingers(
        {
            name: Ray(
                build_finger(name, measures[name]),
                np.array(
                    [
                        centres["distal"][name] * length,
                        centres["radial"][name] * breadth,
                        ARCH_SHARE[name] * breadth,
                    ]
                ),
            )
            for name in FINGERS
        }
    )
