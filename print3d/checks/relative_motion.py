"""Fingers held against each other: the difference of their MCP angles, the webs and PIPs left free, and the way in.

Each proximal phalanx turns about its MCP, rigid, until it bears on the band: those angles, not the planned ones, are compared.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from print3d.checks.contact import segment_surface
from print3d.checks.finding import Finding
from print3d.checks.limits import CheckLimits
from print3d.checks.nearest import PointCloud, Surface, at
from print3d.geometry.frames import apply, inverse
from print3d.limb.finger import FingerName
from print3d.limb.four_fingers import FINGERS, FourFingers, Ray
from print3d.orthoses.built import AngleDifference, Orthosis

Floats = NDArray[np.float64]

STEP_DEG, SEARCH_DEG = 2.0, 20.0
BESIDE_MM = 4.0
"""The band near a finger is what lies within this beside its own sections."""
ACROSS_SHARE = 0.6
"""The band lies across a finger where it is within this share of the half-breadth from its middle."""
SEEN_MM = 0.25
"""Seen along the finger, points of the band this near to each other count as one."""
SHIFTS_MM = np.linspace(0.0, 6.0, 13)
SIDEWAYS_MM = np.linspace(-1.0, 1.0, 5)
AROUND = 96


def check_relative_motion(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check every difference that the orthosis is to hold, and that its band lies and goes on where it may."""
    limb = orthosis.limb
    if not isinstance(limb, FourFingers):
        return []
    band = np.vstack([part.mesh.mesh.vertices for part in orthosis.parts])
    findings = []
    for difference in orthosis.differences:
        yoke = [name for name in FINGERS if name in (difference.finger, *difference.neighbours)]
        there = {name: band_at(limb.rays[name], band, _side(difference, name)) for name in yoke}
        bearing = {name: measure_bearing_deg(each) for name, each in there.items()}
        findings.append(_difference(limb, difference, bearing, limits))
        findings.append(_spread(limb, yoke, limits))
        findings += [each for name in yoke for each in _ends(name, there[name], limits)]
        findings += [_web(limb, pair, orthosis, limits) for pair in zip(yoke[:-1], yoke[1:], strict=True)]
        findings += [_way_in(name, there[name], limits) for name in yoke]
    return findings


def _side(difference: AngleDifference, name: FingerName) -> float:
    """Where the band lies: +1 on the back, -1 on the palm side."""
    lifted = difference.more_extended_deg > 0.0
    return -1.0 if (name == difference.finger) == lifted else 1.0


@dataclass(frozen=True, eq=False)
class BandThere:
    """The band as one finger sees it.

    points : (n, 3) near the finger, hand frame
    local : (n, 3) the same in the finger's own frame
    side : +1 where the band lies on the back (extension presses against it), -1 on the palm side
    """

    ray: Ray
    points: Floats
    local: Floats
    side: float


def band_at(ray: Ray, band: Floats, side: float) -> BandThere:
    """Return what lies near a finger of a band's points (n, 3)."""
    local = apply(inverse(ray.hand_from_finger()), band)
    breadth, _ = ray.limb.half_axes(np.clip(local[:, 0], 0.0, ray.limb.landmarks["pip"]))
    near = np.abs(local[:, 1]) < breadth + BESIDE_MM
    return BandThere(ray, band[near], local[near], side)


def measure_bearing_deg(there: BandThere) -> float:
    """Return the MCP flexion (deg) at which the proximal phalanx just bears on the band; not a number if it does not."""
    surface, cloud, ray = segment_surface(there.ray.limb, "proximal"), PointCloud(there.points), there.ray
    built = ray.limb.pose.mcp_flexion_deg

    def gap(towards_band_deg: float) -> float:
        flexion = built - there.side * towards_band_deg
        turned = Ray(ray.limb.posed(mcp_flexion_deg=flexion), ray.mcp_centre, ray.spread_deg)
        return cloud.least_signed(surface, inverse(turned.hand_from_finger()))[0]

    way, before = (1.0 if gap(0.0) > 0.0 else -1.0), 0.0
    for beyond in way * np.arange(STEP_DEG, SEARCH_DEG + 1e-9, STEP_DEG):
        if way * gap(float(beyond)) <= 0.0:
            found = brentq(gap, *sorted((before, float(beyond))), xtol=0.05)
            return float(built - there.side * found)
        before = float(beyond)
    return float("nan")


def _difference(
    limb: FourFingers, difference: AngleDifference, bearing: dict[FingerName, float], limits: CheckLimits
) -> Finding:
    others = float(np.mean([bearing[name] for name in difference.neighbours]))
    way = 1.0 if difference.more_extended_deg > 0.0 else -1.0
    measured = way * (others - bearing[difference.finger])
    asked, slack = abs(difference.more_extended_deg), limits.difference_deg
    words = "more extended" if way > 0.0 else "more flexed"
    each = ", ".join(f"{name} {angle:.1f}" for name, angle in bearing.items())
    where = limb.rays[difference.finger].hand_from_finger()[:3, 3]
    return Finding("relative_motion", f"{difference.finger} MCP {words} than its neighbours (asked {asked:g})",
                   measured if np.isfinite(measured) else 0.0, (asked - slack.value, asked + slack.value), "deg", "between",
                   f"rigid proximal phalanges turned until they bear on the band, at MCP flexions {each}", slack.source,
                   at(where))  # fmt: skip


def _spread(limb: FourFingers, yoke: list[FingerName], limits: CheckLimits) -> Finding:
    """How far the band makes two neighbouring fingers stand apart."""
    pairs = list(zip(yoke[:-1], yoke[1:], strict=True))
    apart = [limb.rays[radial].spread_deg - limb.rays[ulnar].spread_deg for radial, ulnar in pairs]
    widest = int(np.argmax(apart))
    radial, ulnar = pairs[widest]
    return Finding("relative_motion", f"{radial} and {ulnar} spread by the band between them", apart[widest],
                   limits.spread_deg.value, "deg", "at most", "angle between the fingers at which the band was shaped",
                   limits.spread_deg.source, at(limb.rays[ulnar].hand_from_finger()[:3, 3]))  # fmt: skip


def _ends(name: FingerName, there: BandThere, limits: CheckLimits) -> tuple[Finding, Finding]:
    """How far the band stays from the web crease and from the PIP crease, where it lies across one finger."""
    landmarks = there.ray.limb.landmarks
    breadth, _ = there.ray.limb.half_axes(np.clip(there.local[:, 0], 0.0, landmarks["pip"]))
    across = np.flatnonzero(np.abs(there.local[:, 1]) < ACROSS_SHARE * breadth)
    station, points = there.local[across, 0], there.points[across]
    first, last = int(np.argmin(station)), int(np.argmax(station))
    limit, method = limits.web_clearance_mm, "vertices of the band across this finger, along its axis"
    return (
        Finding("relative_motion", f"{name}: web crease to the band", float(station[first] - landmarks["web"]), limit.value,
                "mm", "at least", method, limit.source, at(points[first])),
        Finding("relative_motion", f"{name}: band to the PIP crease", float(landmarks["pip_crease"] - station[last]),
                limit.value, "mm", "at least", method, limit.source, at(points[last])),
    )  # fmt: skip


def _web(
    limb: FourFingers, pair: tuple[FingerName, FingerName], orthosis: Orthosis, limits: CheckLimits
) -> Finding:
    """How far the band stays from the web between two fingers: the line between their facing sides at the web creases."""
    radial, ulnar = (limb.rays[name] for name in pair)
    ends = []
    for ray, fraction in ((radial, 0.75), (ulnar, 0.25)):
        place = ray.limb.skin_points(np.array([ray.limb.landmarks["web"]]), np.array([fraction]))
        ends.append(apply(ray.hand_from_finger(), place)[0])
    line = ends[0] + np.linspace(0.0, 1.0, 21)[:, None] * (ends[1] - ends[0])
    distance = np.min([Surface(part.mesh.mesh).nearest(line)[0] for part in orthosis.parts], axis=0)
    limit = limits.web_clearance_mm
    return Finding("relative_motion", f"web between {pair[0]} and {pair[1]}: distance to the band", float(distance.min()),
                   limit.value, "mm", "at least", "nearest points of the mesh to the line between the fingers at their web creases",
                   limit.source, at(line[int(np.argmin(distance))]))  # fmt: skip


def _way_in(name: FingerName, there: BandThere, limits: CheckLimits) -> Finding:
    """Whether the finger gets in from the tip: its PIP, the largest section that passes, shifted away from the band as fits best."""
    section = _pip_section(there.ray)
    seen = np.unique(np.round(there.local[:, 1:] / SEEN_MM), axis=0) * SEEN_MM
    room = max(
        float(_outside(section + [sideways, -there.side * shift], seen).min())
        for shift in SHIFTS_MM
        for sideways in SIDEWAYS_MM
    )
    squeeze = limits.donning_squeeze_mm
    return Finding("relative_motion", f"{name}: room for the PIP as the finger slides in", room, -squeeze.value, "mm",
                   "at least", "neighbours slide in from the tip, the injured finger is laid on; PIP section seen along the "
                   f"finger, shifted as fits best; skin yields {squeeze.value:g} mm", squeeze.source,
                   at(there.points.mean(axis=0)))  # fmt: skip


def _pip_section(ray: Ray) -> Floats:
    """The PIP's section (n, 2) in the finger's own frame, radial and dorsal."""
    station = np.full(AROUND, ray.limb.landmarks["pip"])
    return np.asarray(ray.limb.skin_points(station, np.arange(AROUND) / AROUND)[:, 1:])


def _outside(section: Floats, points: Floats) -> Floats:
    """How far (n,) points (n, 2) lie outside a closed convex section, negative inside."""
    way = np.roll(section, -1, axis=0) - section
    normal = np.column_stack([way[:, 1], -way[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    inwards = np.sign(np.einsum("ij,ij->i", normal, section.mean(axis=0) - section))
    heights = (points[:, None, :] - section) * (-inwards[:, None] * normal)
    return np.asarray(heights.sum(axis=2).max(axis=1))
