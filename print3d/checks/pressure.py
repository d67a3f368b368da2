"""Pressure on the skin: what every bearing zone and strap presses with while the joint rests in the orthosis.

Each held joint is a three-point system. Where its forces act and how large they are follows from the finished mesh and its strap
slots (`zones.py`, `bearing.py`); how hard the joint pulls is a load of the case (`loads.py`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor

import numpy as np

from print3d.checks.finding import Finding, about, not_measured, values
from print3d.checks.limits import CheckLimits
from print3d.checks.skin_limits import CONTINUOUS_HOURS, hours_borne, skin_limits
from print3d.forms.orthosis import Orthosis
from print3d.forms.straps import OVER_JOINT_MM
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats
from print3d.inputs.options import MOST_END_FORCE_N
from print3d.language.message import Message, in_a_row, message
from print3d.mechanics.bearing import PEAK_AREA_MM2, Zone, most_pressed, pressures, zone_of
from print3d.mechanics.contact_patches import Patches
from print3d.mechanics.loads import ASKED_TORQUE, WRIST, Load, at_rest
from print3d.mechanics.names import ZoneName
from print3d.mechanics.three_point import force_of_grams, grams_of_force, mmhg
from print3d.mechanics.zones import (
    Bools,
    Hold,
    borne_joints,
    holds_of,
    strap_to_joint,
    with_strap,
)

ORDER = 170
"""Its place among the findings."""

COUNTS = 0.1
"""A zone that carries less than this share of the largest force is left out of the findings."""
SHELL = "shell"
"""Zone of the finding about the shell: whichever of its zones is pressed hardest."""
FORCE_STEP_N = 0.05
"""Five grams: finer than a spring gauge at a finger is read; own choice."""


@dataclass(frozen=True, eq=False)
class System:
    """The forces about one joint under one load.

    zones : id of a zone -> what it carries
    moment_n_mm : of the joint
    end_n : at the far end, against the way the joint tends
    pressed_mpa : (n,) pressure on each patch
    """

    zones: dict[str, Zone]
    moment_n_mm: float
    end_n: float
    pressed_mpa: Floats

    def balance(self, hold: Hold) -> Message:
        """Return every force with its place along the limb from the joint, and the moment they hold."""
        most = max(float(np.linalg.norm(zone.force)) for zone in self.zones.values())
        names = {each.id: each.name for each in hold.names}
        forces = [
            _force(names[key], zone, hold)
            for key, zone in self.zones.items()
            if np.linalg.norm(zone.force) > COUNTS * most
        ]
        return message(
            "checks.pressure.how.balance",
            joint=hold.name,
            tends=message(f"mechanics.tends.{hold.tends}"),
            moment_n_mm=self.moment_n_mm,
            forces=in_a_row(forces),
        )


@dataclass(frozen=True, eq=False)
class PressedSkin:
    """The skin about one joint: its patches and the pressure (n,) kPa on each."""

    patches: Patches
    kpa: Floats


@dataclass(frozen=True)
class TooMuch:
    """A pressure beyond its limit: the mean of a zone or the peak of a place."""

    kpa: float
    limit_kpa: float
    is_peak: bool


def _force(name: Message, zone: Zone, hold: Hold) -> Message:
    """One force and how far distal or proximal of the joint it acts."""
    along = float(np.cross(hold.axis, hold.dorsal) @ (zone.centre - hold.hinge))
    return message(
        f"checks.pressure.how.force_{'distal' if along > 0.0 else 'proximal'}",
        zone=name,
        force_n=np.linalg.norm(zone.force),
        apart_mm=abs(along),
    )


def check_pressure(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check mean and peak pressure of what bears while the joint rests, and what pulls at the finger."""
    findings = []
    for hold in holds_of(orthosis, limits.strapping):
        load = at_rest(limits.pull, orthosis.limb, hold.joints, hold.tends)
        if load is None:
            why = message("common.lacks.load", joint=hold.name)
            findings.append(not_measured("pressure", why, about(joint=hold.id)))
            continue
        system = system_under(hold, load)
        if system is None:
            findings.append(_not_held(hold))
        else:
            findings += [*_pulled(hold, load, system, limits), *_zone_findings(hold, load, system, limits)]
    return findings


def is_pressed(findings: Sequence[Finding]) -> bool:
    """Return whether the check found anything that presses, so that `pressed_at_rest` has something to show."""
    return any(each.key == "pressure.zone" for each in findings)


def pressed_at_rest(orthosis: Orthosis, limits: CheckLimits) -> list[PressedSkin]:
    """Return what presses on the skin about each joint while it rests."""
    shown = []
    for hold in holds_of(orthosis, limits.strapping):
        load = at_rest(limits.pull, orthosis.limb, hold.joints, hold.tends)
        system = None if load is None else system_under(hold, load)
        if system is not None:
            shown.append(PressedSkin(hold.patches, 1000.0 * system.pressed_mpa))
    return shown


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether a joint is held, stopped or kept at another angle than those beside it."""
    return bool(orthosis.differences or borne_joints(orthosis))


def system_under(hold: Hold, load: Load) -> System | None:
    """Return the forces about a joint under a load, or None if nothing holds it."""
    pressed = pressures(hold.bed, hold.load)
    if pressed is None:
        return None
    ends = _end_force(hold, pressed)
    times = load.moment_n_mm if load.moment_n_mm is not None else (load.end_force_n or 0.0) / ends
    pressed = times * pressed
    found = {name: zone_of(hold.bed, pressed, number) for number, name in enumerate(hold.names)}
    return System({name.id: zone for name, zone in found.items() if zone}, times, times * ends, pressed)


def _end_force(hold: Hold, pressed: Floats) -> float:
    """What presses beyond the joint the way it tends, in a moment of 1 N mm."""
    way = -1.0 if hold.tends == "flexion" else 1.0
    pushes = way * (hold.bed.normals @ hold.dorsal) * pressed * hold.bed.areas
    return float(np.maximum(pushes, 0.0)[hold.is_distal].sum())


def _not_held(hold: Hold) -> Finding:
    return Finding(
        "pressure.not_held",
        0.0,
        1.0,
        "",
        "at least",
        message("sources.three_point"),
        about(joint=hold.id),
        values(joint=hold.name, tends=message(f"mechanics.tends.{hold.tends}")),
        where=at(hold.hinge),
    )


def _pulled(hold: Hold, load: Load, system: System, limits: CheckLimits) -> Iterator[Finding]:
    """What rests at the far end of each finger; the hand on a wrist is no finger."""
    if hold.joints[0] == WRIST:
        return
    grams, most = round(grams_of_force(system.end_n / len(hold.joints)), 1), limits.pull_g.limit
    value, source = most.value, most.source
    if limits.pull_g.is_lifted and grams > most.value:
        value, source = grams, message("sources.pull_lifted", limit=source)
    yield Finding(
        "pressure.pull",
        grams,
        value,
        "g",
        "at most",
        source,
        about(joint=hold.id, load=load.what),
        values(joint=hold.name, load=load.name, force_n=force_of_grams(grams)),
        (load.source,),
        most.value,
        at(hold.hinge),
    )


def _zone_findings(hold: Hold, load: Load, system: System, limits: CheckLimits) -> list[Finding]:
    """The hardest pressed zone of the shell, and every strap."""
    most = max(float(np.linalg.norm(zone.force)) for zone in system.zones.values())
    counted = [
        name
        for name in hold.names
        if name.id in system.zones and np.linalg.norm(system.zones[name.id].force) > COUNTS * most
    ]
    shell = [name for name in counted if not name.is_strap]
    worst = max(shell, key=lambda name: system.zones[name.id].mean_kpa, default=None)
    means = [
        _zone_finding(hold, load, system, name, limits) for name in counted if name.is_strap or name is worst
    ]
    straps = [number for number, name in enumerate(hold.names) if name.is_strap and name in counted]
    places = [hold.bed.zones == number for number in straps]
    if shell:
        places.insert(0, hold.patches.strap < 0)
    return [*means, *(_peak_finding(hold, load, system, place, limits) for place in places)]


def _peak_finding(hold: Hold, load: Load, system: System, place: Bools, limits: CheckLimits) -> Finding:
    """The most pressed place of the shell, or of one strap."""
    peak, patch = most_pressed(hold.bed, system.pressed_mpa, place)
    name, most = hold.names[hold.bed.zones[patch]], limits.skin.peak_kpa
    how = [message("checks.pressure.how.peak", area_mm2=PEAK_AREA_MM2), load.source]
    if peak > most.limit.value:
        how += _what_would_hold(TooMuch(peak, most.limit.value, is_peak=True), load, system, limits)
    return Finding(
        "pressure.peak",
        peak,
        most.limit.value,
        "kPa",
        "at most",
        message("sources.peak_pressure", limit=most.limit.source, wear=limits.pull.wear_source),
        about(joint=hold.id, load=load.what, zone=name.id if name.is_strap else SHELL),
        values(joint=hold.name, load=load.name, zone=name.name, pressure_mmhg=mmhg(peak)),
        tuple(how),
        most.watch,
        at(hold.bed.points[patch]),
    )


def _zone_finding(hold: Hold, load: Load, system: System, name: ZoneName, limits: CheckLimits) -> Finding:
    zone, limit, watch = system.zones[name.id], limits.skin.pressure_kpa, limits.skin.watch_kpa
    carry = message("checks.pressure.how.carry", area_mm2=zone.area_mm2)
    strap_n = float(np.linalg.norm(zone.force))
    how = [carry, system.balance(hold), load.source]
    if name.is_strap:
        how.insert(0, message("checks.pressure.how.strap", force_n=strap_n, grams=grams_of_force(strap_n)))
    if name.is_strap and zone.mean_kpa > watch.value:
        how += _better_strap(hold, load, name, zone.mean_kpa)
    if zone.mean_kpa > limit.value:
        how += _what_would_hold(TooMuch(zone.mean_kpa, limit.value, is_peak=False), load, system, limits)
    source = message(
        "sources.pressure",
        limit=limit.source,
        wear=limits.pull.wear_source,
        watch_kpa=watch.value,
        watch=watch.source,
    )
    return Finding(
        "pressure.zone",
        zone.mean_kpa,
        limit.value,
        "kPa",
        "at most",
        source,
        about(joint=hold.id, load=load.what, zone=name.id if name.is_strap else SHELL),
        values(
            joint=hold.name,
            load=load.name,
            zone=name.name,
            pressure_mmhg=mmhg(zone.mean_kpa),
        ),
        tuple(how),
        watch.value,
        at(zone.centre),
    )


def _better_strap(hold: Hold, load: Load, name: ZoneName, now_kpa: float) -> Iterator[Message]:
    """What a strap would press with half as wide again, and an only one beside the joint over it.

    Only pressures below today's are returned.
    """
    number = hold.names.index(name)
    is_only = sum(each.is_strap for each in hold.names) == 1
    is_beside = is_only and abs(strap_to_joint(hold, number)) > OVER_JOINT_MM
    found = {}
    for key, shift, wider in (("over", True, 1.0), ("wider", False, 1.5)):
        if shift and not is_beside:
            continue
        changed = with_strap(hold, number, over_joint=shift, wider=wider)
        system = system_under(changed, load)
        if system is not None and name.id in system.zones and system.zones[name.id].mean_kpa < now_kpa:
            found[key] = system.zones[name.id].mean_kpa
    if found:
        given = {f"{key}_kpa": pressure for key, pressure in found.items()}
        yield message(f"checks.pressure.how.strap_{'_'.join(found)}", **given)


def _what_would_hold(pressed: TooMuch, load: Load, system: System, limits: CheckLimits) -> Iterator[Message]:
    """A gentler force, shorter wear or more bearing area; pressure goes with the force, and against the area."""
    pull = limits.pull
    if load.end_force_n is not None and pull.chosen_end_n is not None:
        force = gentler_force_n(pull.chosen_end_n, pressed.kpa, pressed.limit_kpa)
        yield message(
            "checks.pressure.how.force_holds",
            force_n=force,
            grams=grams_of_force(force),
            wear_hours=pull.wear_hours,
            at_once=pull.hours_at_once,
        )
    if pull.moment_n_mm is not None and load.source == ASKED_TORQUE:
        lever = system.moment_n_mm / system.end_n
        most = min(pull.moment_n_mm * pressed.limit_kpa / pressed.kpa, MOST_END_FORCE_N * lever)
        yield message(
            "checks.pressure.how.torque_holds",
            torque_n_mm=floor(most),
            wear_hours=pull.wear_hours,
            at_once=pull.hours_at_once,
        )
    yield from _hours_that_hold(pressed, limits)
    yield message("checks.pressure.how.area_holds", times=pressed.kpa / pressed.limit_kpa)


def _hours_that_hold(pressed: TooMuch, limits: CheckLimits) -> Iterator[Message]:
    """Fewer hours a day for a mean, in one piece for a peak."""
    at_once, rested = hours_borne(pressed.kpa), skin_limits(CONTINUOUS_HOURS).pressure_kpa.value
    if pressed.is_peak and at_once is not None:
        yield message("checks.pressure.how.at_once_holds", at_once=at_once)
    if not pressed.is_peak and limits.pull.wear_hours > CONTINUOUS_HOURS and pressed.kpa <= rested:
        yield message("checks.pressure.how.hours_hold", wear_hours=CONTINUOUS_HOURS)


def gentler_force_n(force_n: float, mean_kpa: float, limit_kpa: float) -> float:
    """Return the largest force that presses with no more than a limit.

    It is found in steps of 0.05 N (5 g), from what `force_n` presses with, and never above 200 g.
    """
    return floor(min(force_n * limit_kpa / mean_kpa, MOST_END_FORCE_N) / FORCE_STEP_N) * FORCE_STEP_N
