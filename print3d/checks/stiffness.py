"""Stiffness and strength.

Checked are the degrees of the held angle that the wall gives away, and how near to its limit it is strained.

    a joint works against its orthosis      forces of the bearing zones and straps (`zones.py`), in effort (`loads.py`)
    a ring is squeezed                      two forces across it, from side to side
    a gutter is snapped on                  its lips sprung apart by what the finger lacks of room

Finite elements on the whole shell (`elastic.py`). The angle is their work over the joint's moment: forces in balance with a
moment M that do the work W let the joint go by W / M (virtual work). Beam theory stands beside where it has a formula.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from print3d.checks.finding import Finding, about, not_measured, values
from print3d.checks.limits import SQUEEZE_N, CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats
from print3d.kept import kept
from print3d.language.message import Message, message
from print3d.limb.limb import Tube
from print3d.limb.tube import stations_of
from print3d.mechanics.areas import beam_angle_rad, section_area
from print3d.mechanics.beams import CurvedBeam, opening_strain, ring_deflections
from print3d.mechanics.bearing import pressures
from print3d.mechanics.contact_patches import ties_of, wedges_by_part
from print3d.mechanics.elastic import ElasticBody, ElasticSolution
from print3d.mechanics.loads import MOST_EFFORT_N, in_effort, strongest_times
from print3d.mechanics.shell_sections import measure_sections, measure_wall, passing_widths
from print3d.mechanics.wedges import Wedges
from print3d.mechanics.zones import Hold, borne_joints, holds_of

ORDER = 180
"""Its place among the findings."""

Bools = NDArray[np.bool_]

BEAM_STATIONS = 24
"""Sections of a part as a beam; own choice."""
BEAM_SLENDERNESS = 5.0
"""A beam this many times longer than wide bends as beams do; a half tube 1.6 times as long as wide was 32 percent softer (measured)."""
THICKER = (1.1, 1.2, 1.3, 1.4, 1.5, 1.75, 2.0)
"""Walls over today's that are tried until the part holds; own choice."""
SIDE = 0.8
"""Where a ring is squeezed: its outside within this cosine of straight sideways."""
LIP_MM = 4.0
"""Lips are sprung open over this much to either side of the tightest section."""
PEAK = (message("checks.stiffness.how.mises"), message("checks.stiffness.how.mises_finer"))
"""Measured on the worked cases of fingers: 13 percent less to 29 percent more, most at the ends of slots; rings at most 6 percent."""
LOST = "stiffness.lost"
"""Key of the finding about a joint in effort."""
NEAR = 4
"""Points that a picture's vertex takes its values from."""


@dataclass(frozen=True, eq=False)
class LoadCase:
    """One load on the parts of an orthosis.

    forces : per part, (2 n, 3) N at its wedges' points
    """

    forces: tuple[Floats, ...]


@dataclass(frozen=True, eq=False)
class BeamLoad:
    """What bends a beam.

    points, forces : (n, 3) mm and N
    moment : N mm of the joint they balance
    """

    points: Floats
    forces: Floats
    moment: float


@dataclass(frozen=True, eq=False)
class StressField:
    """What a picture of one part under load shows, at the vertices of its finished mesh.

    displacement : (n, 3) mm
    von_mises_mpa : (n,)
    """

    part: str
    displacement: Floats
    von_mises_mpa: Floats


def check_stiffness(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check angle and stress of every joint in effort, of squeezed rings and of gutters that are snapped on."""
    findings = []
    for hold in holds_of(orthosis, limits.strapping):
        findings += _joint_findings(orthosis, hold, limits)
    for number, part in enumerate(orthosis.parts):
        if part.rings:
            findings += _squeezed(orthosis, number, limits)
        elif part.definition.pattern.period_mm is None and orthosis.limb.tube is not None:
            findings += _snapped_on(orthosis, number, orthosis.limb.tube, limits)
    for wedges in wedges_by_part(orthosis):
        body_of.forget(wedges)  # factorised, a forearm takes 100 MB; its answers are kept
    return findings


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a joint works against the orthosis, or a ring can be squeezed."""
    is_ring = any(part.rings for part in orthosis.parts)
    return is_ring or bool(orthosis.differences or borne_joints(orthosis))


def is_in_effort(findings: Sequence[Finding]) -> bool:
    """Whether findings tell of a joint in effort, so that `shown_in_effort` has something to show."""
    return any(each.key == LOST for each in findings)


def shown_in_effort(orthosis: Orthosis, limits: CheckLimits) -> dict[str, tuple[StressField, ...]]:
    """Return displacement and stress at every vertex of every part, for each joint in effort, by its id."""
    shown = {}
    for hold in holds_of(orthosis, limits.strapping):
        effort = _effort(orthosis, hold)
        if effort is None:
            continue
        answers = answers_in_effort(orthosis, effort[0], limits.strength.modulus_mpa.value)
        shown[hold.id] = tuple(
            _at_vertices(part, wedges, answer)
            for part, wedges, answer in zip(orthosis.parts, wedges_by_part(orthosis), answers, strict=True)
        )
    return shown


# --- a joint in effort -----------------------------------------------------------------------------------------------


def _joint_findings(orthosis: Orthosis, hold: Hold, limits: CheckLimits) -> list[Finding]:
    load = in_effort(orthosis.limb, hold.joints, hold.tends)
    if load is None:
        why = message("common.lacks.load", joint=hold.name)
        return [not_measured("stiffness", why, about(joint=hold.id))]
    effort = _effort(orthosis, hold)
    if effort is None:
        return []  # the pressure check says that nothing holds this joint
    case, moment = effort
    strength, slack = limits.strength, limits.held_loss_deg
    answers = answers_in_effort(orthosis, case, strength.modulus_mpa.value)
    lost = _lost_deg(answers, moment)
    how = (
        message(
            "checks.stiffness.how.elements",
            wedges=sum(len(wedges.triangles) for wedges in wedges_by_part(orthosis)),
            modulus_mpa=strength.modulus_mpa.value,
            modulus=strength.modulus_mpa.source,
        ),
        message("checks.stiffness.how.moment", moment_n_mm=moment, load=load.source),
        *_beam(orthosis, hold, case, moment, limits),
    )
    peak, place = _peak(orthosis, answers)
    holding = _wall_that_holds(orthosis, case, moment, limits) if _fails(lost, peak, limits) else ()
    row, stress, times = about(joint=hold.id, load=load.what), strength.stress_mpa, strongest_times(load)
    words = values(joint=hold.name, load=load.name)
    return [
        Finding(LOST, lost, slack.value, "deg", "at most", slack.source, row, words,
                (*how, *_strongest("lost", lost, times), *holding), slack.value / times, at(hold.hinge)),
        Finding("stiffness.peak", peak, stress.value, "MPa", "at most", stress.source, row,
                words, (*PEAK, *_strongest("peak", peak, times), *holding), stress.value / times, at(place)),
    ]  # fmt: skip


def _strongest(what: str, measured: float, times: float) -> Iterator[Message]:
    """What the hardest pull that was measured would do; all grows with the load."""
    if times > 1.0:
        yield message(
            f"checks.stiffness.how.strongest_{what}", tension_n=MOST_EFFORT_N, value=times * measured
        )


@kept
def _effort(orthosis: Orthosis, hold: Hold) -> tuple[LoadCase, float] | None:
    """The forces on every part when the joint works against it, and its moment."""
    pressed, load = pressures(hold.bed, hold.load), in_effort(orthosis.limb, hold.joints, hold.tends)
    if pressed is None or load is None:
        return None
    moment = load.moment_n_mm or 0.0
    forces = tuple(np.zeros_like(wedges.points) for wedges in wedges_by_part(orthosis))
    pushes = (moment * pressed * hold.bed.areas)[:, None] * hold.bed.normals
    for push, part, corners in zip(pushes, hold.patches.part, hold.patches.corners, strict=True):
        forces[part][corners] += push / len(corners)
    return LoadCase(forces), moment


@kept
def answers_in_effort(orthosis: Orthosis, case: LoadCase, modulus_mpa: float) -> list[ElasticSolution]:
    """Return how every part answers a load; solved once, for the check and for pictures."""
    return _answers(orthosis, case, modulus_mpa)


def _answers(
    orthosis: Orthosis, case: LoadCase, modulus: float, shape: Callable[[Wedges], Wedges] | None = None
) -> list[ElasticSolution]:
    """How every part answers a load, its wall changed by `shape` if that is given."""
    answers = []
    is_lapped = bool(orthosis.laps)
    for part, wedges, forces in zip(orthosis.parts, wedges_by_part(orthosis), case.forces, strict=True):
        body = body_of(wedges, modulus) if shape is None else ElasticBody(shape(wedges), modulus)
        taken_by = _screwed(part, wedges) if is_lapped else None
        answers.append(body.under(forces, taken_by, ties_of(part, wedges, orthosis.limb)))
    return answers


@kept
def body_of(wedges: Wedges, modulus_mpa: float) -> ElasticBody:
    """Return wedges factorised, kept for the next load of the same check."""
    return ElasticBody(wedges, modulus_mpa)


def _screwed(part: Part, wedges: Wedges) -> Bools:
    """The points around screw holes: there one lapped part hands its forces to the other."""
    holes = [k for k, loop in enumerate(part.definition.pattern.rimmed) if loop.kind == "opening"]
    return np.isin(np.tile(wedges.on_loop, 2), holes)


def _lost_deg(answers: list[ElasticSolution], moment: float) -> float:
    return round(float(np.degrees(sum(answer.work_n_mm for answer in answers) / moment)), 6)


def _peak(orthosis: Orthosis, answers: list[ElasticSolution]) -> tuple[float, Floats]:
    """The largest stress of all parts and where it is."""
    number = int(np.argmax([answer.peak_mpa for answer in answers]))
    points = wedges_by_part(orthosis)[number].points
    return answers[number].peak_mpa, points[answers[number].peak_at]


def _fails(lost: float, peak: float, limits: CheckLimits) -> bool:
    return lost > limits.held_loss_deg.value or peak > limits.strength.stress_mpa.value


def _wall_that_holds(
    orthosis: Orthosis, case: LoadCase, moment: float, limits: CheckLimits
) -> tuple[Message]:
    """The thinnest of a few thicker walls that would hold.

    It is computed on the same shell with its outer face moved out.
    """
    wall = max(part.definition.wall_mm for part in orthosis.parts)
    for factor in THICKER:
        answers = _answers(orthosis, case, limits.strength.modulus_mpa.value, _thickened(factor))
        if not _fails(_lost_deg(answers, moment), max(answer.peak_mpa for answer in answers), limits):
            return (message("checks.stiffness.how.wall_holds", wall_mm=wall, thicker_mm=factor * wall),)
    return (message("checks.stiffness.how.no_wall_holds", thicker_mm=THICKER[-1] * wall),)


def _thickened(factor: float) -> Callable[[Wedges], Wedges]:
    def thicker(wedges: Wedges) -> Wedges:
        return replace(wedges, outer=wedges.inner + factor * (wedges.outer - wedges.inner))

    return thicker


def _beam(
    orthosis: Orthosis, hold: Hold, case: LoadCase, moment: float, limits: CheckLimits
) -> Iterator[Message]:
    """What beam theory says beside finite elements, for one gutter or sleeve on a finger."""
    tube = orthosis.limb.tube
    loaded = [k for k, forces in enumerate(case.forces) if np.abs(forces).max() > 0.0]
    if tube is None or len(loaded) != 1 or orthosis.parts[loaded[0]].rings:
        return
    (number,) = loaded
    points, modulus = wedges_by_part(orthosis)[number].points, limits.strength.modulus_mpa.value
    beam = measure_beam_deg(
        orthosis.parts[number], tube, BeamLoad(points, case.forces[number], moment), modulus
    )
    slender = float(np.ptp(points[:, 0]) / np.ptp(points[:, 1]))
    key = "beam" if slender >= BEAM_SLENDERNESS else "short_beam"
    yield message(f"checks.stiffness.how.{key}", lost_deg=beam, slenderness=slender)


def measure_beam_deg(part: Part, tube: Tube, bent: BeamLoad, modulus_mpa: float) -> float:
    """Return the degrees lost by beam theory.

    The beam has the sections of the finished mesh, bent in the finger's plane by the forces beyond them.
    """
    points, forces = bent.points, bent.forces
    station = stations_of(tube, points)
    places = np.linspace(station.min(), station.max(), BEAM_STATIONS + 2)[1:-1]
    axis, dorsal = tube.spine.at(places)
    kept, bending, rigidity = [], [], []
    radial = np.array([0.0, 1.0, 0.0])
    for place, origin, up in zip(places, axis, dorsal, strict=True):
        section = section_area(part.shell.mesh, origin, radial, up)
        if section is None:
            continue
        middle = origin + section.centroid[0] * radial + section.centroid[1] * up
        beyond = station > place
        arm = points[beyond] - middle
        kept.append(place)
        bending.append(float((forces[beyond, 0] * arm[:, 2] - forces[beyond, 2] * arm[:, 0]).sum()))
        rigidity.append(modulus_mpa * section.second_moments_mm4[1])
    return float(
        np.degrees(beam_angle_rad(np.array(kept), np.array(bending), np.array(rigidity), bent.moment))
    )


# --- a ring squeezed, a gutter snapped on -----------------------------------------------------------------------------


def _squeezed(orthosis: Orthosis, number: int, limits: CheckLimits) -> Iterator[Finding]:
    part, wedges = orthosis.parts[number], wedges_by_part(orthosis)[number]
    outwards = wedges.outer - wedges.inner
    sideways = outwards[:, 1] / np.linalg.norm(outwards, axis=1)
    forces = np.zeros_like(wedges.points)
    for side in (-1.0, 1.0):
        mine = len(wedges.inner) + np.flatnonzero(side * sideways > SIDE)
        forces[mine, 1] = -side * SQUEEZE_N / len(mine)
    answer = body_of(wedges, limits.strength.modulus_mpa.value).under(forces)
    narrowed = answer.work_n_mm / SQUEEZE_N
    ring = _ring_like(part, wedges, limits)
    how = (
        message("checks.stiffness.how.squeezed", wedges=len(wedges.triangles), force_n=SQUEEZE_N),
        message("checks.stiffness.how.plain_ring", narrower_mm=ring_deflections(ring, SQUEEZE_N)[0]),
    )
    row, words = about(part.name), values(part=part_name(part.name))
    place, stress = wedges.points[answer.peak_at], limits.strength.stress_mpa
    yield Finding("stiffness.squeezed", narrowed, limits.squeezed_mm.value, "mm", "at most", limits.squeezed_mm.source,
                  row, words, how, None, at(place))  # fmt: skip
    yield Finding("stiffness.squeezed_peak", answer.peak_mpa, stress.value, "MPa", "at most", stress.source,
                  row, words, PEAK, None, at(place))  # fmt: skip


def _ring_like(part: Part, wedges: Wedges, limits: CheckLimits) -> CurvedBeam:
    """The plain ring with the part's breadth, wall and material."""
    wall = measure_wall(part)
    radius = float(np.ptp(wedges.points[:, 1])) / 2.0 - wall / 2.0
    width = wedges.volume_mm3() / (2.0 * np.pi * radius * wall)
    return CurvedBeam(radius, wall, width, limits.strength.modulus_mpa.value)


def _snapped_on(orthosis: Orthosis, number: int, tube: Tube, limits: CheckLimits) -> Iterator[Finding]:
    """A gutter whose mouth is narrower than the finger and that is laid on nevertheless; a sleeve is slid on."""
    part, wedges = orthosis.parts[number], wedges_by_part(orthosis)[number]
    mouth, sections = measure_sections(part, tube)
    if mouth not in ("dorsal", "volar") or not sections:
        return
    stations, heights, mouths = np.array(
        [(each.station_mm, each.lip_height_mm, each.mouth_mm) for each in sections]
    ).T
    yields = 2.0 * limits.donning_compression_mm.value
    missing = passing_widths(tube, mouth, stations, heights) - yields - mouths
    tightest = int(np.argmax(missing))
    section, opening = sections[tightest], float(missing[tightest])
    if opening <= 0.0 or section.mouth_mm < opening:
        return
    forces = np.zeros_like(wedges.points)
    near = (np.abs(stations_of(tube, wedges.inner) - section.station_mm) < LIP_MM) & (wedges.on_loop == 0)
    for side in (-1.0, 1.0):
        lip = np.flatnonzero(near & (side * wedges.inner[:, 1] > 0.0))
        for corners in (lip, lip + len(wedges.inner)):
            forces[corners, 1] = side / (2.0 * len(lip))
    answer = body_of(wedges, limits.strength.modulus_mpa.value).under(forces)
    peak, stress = answer.peak_mpa * opening / answer.work_n_mm, limits.strength.stress_mpa
    wall = measure_wall(part)
    strain = opening_strain(section.radius_mm + wall / 2.0, wall, section.half_angle_rad, opening)
    how = (
        message(
            "checks.stiffness.how.sprung",
            lips_mm=section.mouth_mm,
            opening_mm=opening,
            force_n=opening / answer.work_n_mm,
        ),
        message("checks.stiffness.how.strip", stress_mpa=strain * limits.strength.modulus_mpa.value),
    )
    yield Finding("stiffness.snapped_peak", peak, stress.value, "MPa", "at most", stress.source, about(part.name),
                  values(part=part_name(part.name)), how, None, section.where)  # fmt: skip


# --- for pictures ----------------------------------------------------------------------------------------------------


def _at_vertices(part: Part, wedges: Wedges, answer: ElasticSolution) -> StressField:
    """Values at the vertices of the finished mesh, from the nearest points of the wedges."""
    distance, nearest = KDTree(wedges.points).query(part.shell.mesh.vertices, k=NEAR)
    weight = 1.0 / np.maximum(distance, 1e-6) ** 2
    weight /= weight.sum(axis=1, keepdims=True)
    return StressField(
        part.name,
        np.einsum("ij,ijk->ik", weight, answer.displacement[nearest]),
        np.einsum("ij,ij->i", weight, answer.highest_mpa[nearest]),
    )
