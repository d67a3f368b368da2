"""Fingers held against each other.

Checked are the difference of their MCP angles, the webs and PIPs left free, and the way in.

Each proximal phalanx turns about its MCP, rigid, until it bears on the band: those angles, not the planned ones, are compared.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.optimize import brentq

from print3d.checks.finding import Finding, about, values
from print3d.checks.limits import CheckLimits
from print3d.errors import NotMeasurableError
from print3d.forms.orthosis import AngleDifference, Orthosis, part_name
from print3d.geometry.frames import apply, inverse
from print3d.geometry.nearest import PointCloud, at, skin_surface, surface_of
from print3d.geometry.types import Floats
from print3d.language.message import Message, in_a_row, message
from print3d.limb.joint_id import JointId, RayName
from print3d.limb.limb import Limb, Tube, chain_of, landmark_of, tube_of, web_name
from print3d.mechanics.contact import segment_surface

ORDER = 110
"""Its place among the findings."""

STEP_DEG = 2.0
"""Step in which a finger is turned into the band; own choice."""
SEARCH_DEG = 20.0
"""A finger that turns this far beyond its plan counts as not held; own choice."""
BESIDE_MM = 4.0
"""The band near a finger is what lies within this beside its own sections."""
ACROSS_SHARE = 0.6
"""The band lies across a finger where it is within this share of the half-breadth from its middle."""
SEEN_MM = 0.25
"""Seen along the finger, points of the band this near to each other count as one."""
NEAR_MM = 10.0
"""Points of the band farther from a section do not decide whether it passes."""
HOOK_SHARE = 0.8
"""The end of the band lies farther from an outer finger's middle plane than this share of its half-breadth."""
SHIFTS_MM = np.linspace(0.0, 6.0, 13)
"""How far a finger that is put in moves away from the band: soft tissue and a loose fit; own choice."""
SIDEWAYS_MM = np.linspace(-1.0, 1.0, 5)
"""How far it moves sideways; own choice."""
AROUND = 96
"""Points of the PIP's section; own choice."""
WEB_POINTS = 21
"""Points along a web; own choice."""


def check_relative_motion(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check every difference that the orthosis is to hold, and that its band lies and goes on where it may."""
    limb = orthosis.limb
    band = np.vstack([part.shell.mesh.vertices for part in orthosis.parts])
    findings = []
    for difference in orthosis.differences:
        joints = {joint.ray: joint for joint in (difference.joint, *difference.neighbours)}
        yoke = [ray for ray in limb.by_ray if ray in joints]
        there = {ray: band_at(limb, joints[ray], band, _side(difference, ray)) for ray in yoke}
        bearing = {ray: measure_bearing_deg(each) for ray, each in there.items()}
        findings.append(_difference(limb, difference, bearing, limits))
        findings += [each for ray in yoke for each in _ends(ray, limb, there[ray], limits)]
        findings += [_way_in(ray, there[ray], limits) for ray in yoke]
        findings += [_hook(yoke[end], there[yoke[end]], out, limits) for end, out in ((0, 1.0), (-1, -1.0))]
    if findings:
        findings += [*_webs(limb, orthosis, limits), *_clear(limb, orthosis, limits)]
    return findings


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether joints are held against each other."""
    return bool(orthosis.differences)


def _side(difference: AngleDifference, ray: RayName) -> float:
    """Where the band lies: +1 on the back, -1 on the palm side."""
    lifted = difference.more_extended_deg > 0.0
    return -1.0 if (ray == difference.joint.ray) == lifted else 1.0


@dataclass(frozen=True, eq=False)
class BandThere:
    """The band as one finger sees it.

    joint : the finger's, at which it is held
    points : (n, 3) near the finger, limb frame
    local : (n, 3) the same in the finger's own frame
    side : +1 where the band lies on the back (extension presses against it), -1 on the palm side
    """

    limb: Limb
    joint: JointId
    tube: Tube
    points: Floats
    local: Floats
    side: float


def band_at(limb: Limb, joint: JointId, band: Floats, side: float) -> BandThere:
    """Return what lies near the finger of a joint of a band's points (n, 3).

    Raises NotMeasurableError if its sections are not known.
    """
    tube = tube_of(chain_of(limb, joint.ray))
    local = apply(inverse(limb.place(joint.ray)), band)
    breadth, _ = tube.half_axes(np.clip(local[:, 0], 0.0, landmark_of(tube, "pip")))
    near = np.abs(local[:, 1]) < breadth + BESIDE_MM
    return BandThere(limb, joint, tube, band[near], local[near], side)


def measure_bearing_deg(there: BandThere) -> float:
    """Return the flexion (deg) at which the segment beyond the joint just bears on the band.

    It is not a number if the segment does not bear.
    """
    limb, joint = there.limb, there.joint
    chain = limb.by_ray[joint.ray]
    surface, cloud = segment_surface(chain, joint.distal), PointCloud(there.points)
    built, own = chain.joints[joint].angle_deg, chain.transform(joint.distal)

    def gap(towards_band_deg: float) -> float:
        placed = limb.place(joint.ray, {joint: built - there.side * towards_band_deg}) @ own
        return cloud.least_signed(surface, inverse(placed))[0]

    way, before = (1.0 if gap(0.0) > 0.0 else -1.0), 0.0
    for beyond in way * np.arange(STEP_DEG, SEARCH_DEG + 1e-9, STEP_DEG):
        if way * gap(float(beyond)) <= 0.0:
            found = brentq(gap, *sorted((before, float(beyond))), xtol=0.05)
            return float(built - there.side * found)
        before = float(beyond)
    return float("nan")


def _difference(
    limb: Limb, difference: AngleDifference, bearing: dict[RayName, float], limits: CheckLimits
) -> Finding:
    others = float(np.mean([bearing[joint.ray] for joint in difference.neighbours]))
    way = 1.0 if difference.more_extended_deg > 0.0 else -1.0
    measured = way * (others - bearing[difference.joint.ray])
    asked, slack = abs(difference.more_extended_deg), limits.difference_deg
    angles = [
        message("checks.relative_motion.how.angle", finger=finger_name(name), bearing_deg=angle)
        for name, angle in bearing.items()
    ]
    where = limb.joints[difference.joint].centre
    return Finding(
        f"relative_motion.more_{'extended' if way > 0.0 else 'flexed'}",
        measured if np.isfinite(measured) else 0.0,
        (asked - slack.value, asked + slack.value),
        "deg",
        "between",
        slack.source,
        about(joint=difference.joint),
        values(finger=finger_name(difference.joint.ray), asked_deg=asked, angles=in_a_row(angles)),
        where=at(where),
    )


def finger_name(name: RayName) -> Message:
    """Return the name of a finger among others: "index"."""
    return message(f"common.ray.{name}")


def _ends(name: RayName, limb: Limb, there: BandThere, limits: CheckLimits) -> tuple[Finding, Finding]:
    """How far the band stays from the web line and from the PIP crease, where it lies across one finger."""
    breadth, _ = there.tube.half_axes(np.clip(there.local[:, 0], 0.0, landmark_of(there.tube, "pip")))
    across = np.flatnonzero(np.abs(there.local[:, 1]) < ACROSS_SHARE * breadth)
    (station, lateral, _), points = there.local[across].T, there.points[across]
    web = limb.web_line(name)
    if web is None:
        raise NotMeasurableError(message("common.lacks.webs", ray=finger_name(name)))
    from_web = station - web.station_mm - np.where(lateral > 0.0, web.radial, web.ulnar) * lateral
    first, last = int(np.argmin(from_web)), int(np.argmax(station))
    limit, row, words = limits.web_clearance_mm, about(finger=name), values(finger=finger_name(name))
    return (
        Finding("relative_motion.web", float(from_web[first]), limit.value, "mm", "at least", limit.source, row, words,
                where=at(points[first])),
        Finding("relative_motion.crease", float(landmark_of(there.tube, "pip_crease") - station[last]), limit.value, "mm", "at least",
                limit.source, row, words, where=at(points[last])),
    )  # fmt: skip


def _webs(limb: Limb, orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """How far the band stays from the web between any two fingers."""
    surfaces = [surface_of(part.shell.mesh) for part in orthosis.parts]
    limit, findings = limits.web_clearance_mm, []
    for pair in pairwise(ray for ray in limb.by_ray if limb.web_line(ray) is not None):
        ends = limb.places[web_name(*pair)]
        line = ends[0] + np.linspace(0.0, 1.0, WEB_POINTS)[:, None] * (ends[1] - ends[0])
        distance = np.min([surface.nearest(line)[0] for surface in surfaces], axis=0)
        first, second = (finger_name(name) for name in pair)
        findings.append(
            Finding("relative_motion.web_between", float(distance.min()), limit.value, "mm", "at least", limit.source,
                    about(fingers="_".join(pair)), values(first=first, second=second), where=at(line[int(np.argmin(distance))]))
        )  # fmt: skip
    return findings


def _way_in(name: RayName, there: BandThere, limits: CheckLimits) -> Finding:
    """Whether the finger gets in from the tip.

    Its PIP is the largest section that passes; it is shifted away from the band as fits best.
    """
    room = measure_way_in_mm(_pip_section(there.tube), there.local[:, 1:], there.side)
    compression = limits.donning_compression_mm
    return Finding("relative_motion.way_in", room, -compression.value, "mm", "at least", compression.source, about(finger=name),
                   values(finger=finger_name(name), yields_mm=compression.value), where=at(there.points.mean(axis=0)))  # fmt: skip


def measure_way_in_mm(section: Floats, band: Floats, side: float) -> float:
    """Return the room (mm) left beside a convex section (m, 2), shifted off the band (n, 2) as fits best.

    It is negative where the section is pressed.

    side : +1 where the band lies on the back, so that the section is shifted towards the palm
    """
    way = np.roll(section, -1, axis=0) - section
    normal = np.column_stack([-way[:, 1], way[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    middle = section.mean(axis=0)
    normal *= np.sign(np.einsum("ij,ij->i", normal, section - middle))[:, None]
    seen = np.unique(np.round(band / SEEN_MM), axis=0) * SEEN_MM
    heights = seen @ normal.T - np.einsum("ij,ij->i", normal, section)
    heights = heights[heights.max(axis=1) < NEAR_MM]
    if not len(heights):
        return NEAR_MM
    shifts = [np.array([across, -side * away]) for away in SHIFTS_MM for across in SIDEWAYS_MM]
    return max(float((heights - normal @ shift).max(axis=1).min()) for shift in shifts)


def _pip_section(tube: Tube) -> Floats:
    """The PIP's section (n, 2) in the finger's own frame, radial and dorsal."""
    station = np.full(AROUND, landmark_of(tube, "pip"))
    return np.asarray(tube.skin_points(station, np.arange(AROUND) / AROUND)[:, 1:])


def _hook(name: RayName, there: BandThere, outwards: float, limits: CheckLimits) -> Finding:
    """How far the band goes on past the widest place of an outer finger.

    That holds it sideways; outwards is +1 radially.
    """
    breadth, _ = there.tube.half_axes(np.clip(there.local[:, 0], 0.0, landmark_of(there.tube, "pip")))
    beside = np.flatnonzero(outwards * there.local[:, 1] > HOOK_SHARE * breadth)
    past = -there.side * (there.local[beside, 2] - there.tube.section_middle(there.local[beside, 0]))
    farthest = int(np.argmax(past))
    limit = limits.hook_mm
    return Finding("relative_motion.hook", float(past[farthest]), limit.value, "mm", "at least", limit.source,
                   about(finger=name), values(finger=finger_name(name)), where=at(there.points[beside[farthest]]))  # fmt: skip


def _clear(limb: Limb, orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """The least gap of all of the band to every finger.

    Its links and ends count too, and fingers that it does not pass.
    """
    skin, findings, limit = skin_surface(limb), [], limits.penetration_mm
    for part in orthosis.parts:
        points = part.shell.mesh.vertices
        gap = skin.signed(points)
        tightest = int(np.argmin(gap))
        findings.append(
            Finding("relative_motion.clear", float(gap[tightest]), -limit.value, "mm", "at least", limit.source,
                    about(part.name), values(part=part_name(part.name), vertices=len(points)), where=at(points[tightest]))
        )  # fmt: skip
    return findings
