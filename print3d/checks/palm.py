"""The palm: straps stay behind the distal palmar crease, so that the fingers close, and leave room for a fist.

 )  )  )  )      fingers
-.__        _.-  distal palmar crease, oblique
    ``----''     at least the margin
 ============    strap
"""

from collections.abc import Iterator

import numpy as np

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.forms.orthosis import Orthosis
from print3d.forms.palm_crease import behind_crease_mm
from print3d.forms.straps import straps_of
from print3d.geometry.frames import inverse
from print3d.geometry.nearest import PointCloud, Surface, at
from print3d.geometry.types import Floats
from print3d.inputs.measured import FINGERS, FingerName
from print3d.language.message import message
from print3d.limb.joint_id import JointId
from print3d.limb.limb import palmar_creases_of
from print3d.mechanics.contact import segment_surface

ORDER = 127
"""Its place among the findings."""

FIST_DEG = {"mcp": 90.0, "pip": 100.0, "dip": 70.0}
"""A full fist: flexion of all joints together, or as far as they were measured to go; common practice, no single source."""
CLOSING = (0.7, 0.85, 1.0)
"""Shares of the way from the held pose to the fist at which gaps are measured; they shrink to its end; own choice."""
WATCHED_SD = 3.0
"""An estimated crease is watched until a strap ends behind it by this number of SD more; own choice."""
YIELDING_SKINS = 2
"""A strap between fingertip and palm is pressed into either: twice what soft tissue yields."""
BESIDE_MM = 4.0
"""A strap lies in line with a finger within this to either side of it; own choice."""


def check_palm(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check how far behind the crease the straps end, and their gap to fingers that close together."""
    return [*_behind(orthosis, limits), *_fist(orthosis, limits)]


def _behind(orthosis: Orthosis, limits: CheckLimits) -> Iterator[Finding]:
    """At the finger where it is least."""
    creases = palmar_creases_of(orthosis.limb)
    ends = {name: found for name in FINGERS if (found := _farthest(orthosis, limits, name)) is not None}
    if not ends:
        return
    behind = {name: creases[name].value - float(end[0]) for name, end in ends.items()}
    needed = {name: creases[name].value - behind_crease_mm(orthosis.limb, name) for name in ends}
    worst = min(ends, key=lambda name: behind[name] - needed[name])
    crease = creases[worst]
    yield Finding(
        "palm.crease",
        behind[worst],
        needed[worst],
        "mm",
        "at least",
        message("sources.palm_crease_measured")
        if crease.is_measured
        else message("sources.palm_crease_estimated", sd_mm=crease.sd),
        about(),
        values(finger=message(f"common.finger.{worst}"), crease_mm=crease.value),
        watch=None if crease.is_measured else needed[worst] + WATCHED_SD * crease.sd,
        where=at(ends[worst]),
    )


def _fist(orthosis: Orthosis, limits: CheckLimits) -> Iterator[Finding]:
    straps = PointCloud(np.vstack(_over_palm(orthosis, limits)))
    gap, where = np.inf, np.full(3, np.nan)
    for name in FINGERS:
        for body, place in _closing(orthosis, name):
            nearest_mm, nearest = straps.least_signed(body, inverse(place), gap)
            if nearest_mm < gap:
                gap, where = nearest_mm, nearest
    if np.isinf(gap):
        return
    yield Finding(
        "palm.fist",
        gap,
        -YIELDING_SKINS * limits.compression_mm.value,
        "mm",
        "at least",
        message("checks.palm.source.both", source=limits.compression_mm.source),
        about(),
        values(mcp_deg=FIST_DEG["mcp"], pip_deg=FIST_DEG["pip"], dip_deg=FIST_DEG["dip"]),
        where=at(where),
    )


def _closing(orthosis: Orthosis, finger: FingerName) -> Iterator[tuple[Surface, Floats]]:
    """Yield the segments of a closing finger and the place (4, 4) of each; none if it does not close."""
    limb = orthosis.limb
    arcs = {
        arc.joint: arc for arc in orthosis.freed if arc.joint.ray == finger and arc.joint.joint in FIST_DEG
    }
    if not arcs:
        return
    chain = limb.by_ray[finger]
    for share in CLOSING:
        turned = {
            joint: arc.from_deg + share * max(min(FIST_DEG[joint.joint], arc.to_deg) - arc.from_deg, 0.0)
            for joint, arc in arcs.items()
        }
        place = limb.place(finger, turned)
        for segment in chain.segments:
            if segment != orthosis.carrier:
                yield segment_surface(chain, segment), place @ chain.transform(segment, turned)


def applies_to(orthosis: Orthosis, limits: CheckLimits) -> bool:
    """Whether a strap runs over a palm that is known."""
    is_known = orthosis.carrier == "hand" and orthosis.limb.measures.hand is not None
    return is_known and bool(_over_palm(orthosis, limits))


def _farthest(orthosis: Orthosis, limits: CheckLimits, finger: FingerName) -> Floats | None:
    """Where (3,) straps over the palm reach farthest in line with a finger; None if none does."""
    knuckle = orthosis.limb.joints[JointId(finger, "mcp")].centre
    ends = list[Floats]()
    for strap in _over_palm(orthosis, limits):
        at_finger = strap[np.abs(strap[:, 1] - knuckle[1]) < BESIDE_MM]
        on_palm = at_finger[at_finger[:, 2] < knuckle[2]]
        if len(on_palm):
            ends.append(on_palm[np.argmax(on_palm[:, 0])])
    return max(ends, key=lambda end: float(end[0]), default=None)


def _over_palm(orthosis: Orthosis, limits: CheckLimits) -> list[Floats]:
    """Points (n, 3) of each strap over the palm.

    One over the fingers comes off before they close.
    """
    crease = max(each.value for each in palmar_creases_of(orthosis.limb).values())
    bodies = [each.body.vertices for each in straps_of(orthosis, limits.strapping)]
    return [body for body in bodies if 0.0 < body[:, 0].mean() < crease]
