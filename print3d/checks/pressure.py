"""Pressure on the skin: what every bearing zone and strap presses with while the joint rests in the orthosis.

Each held joint is a three-point system. Where its forces act and how large they are follows from the finished mesh and its strap
slots (`zones.py`, `bearing.py`); how hard the joint pulls is a load of the case (`loads.py`).
"""

from dataclasses import dataclass
from math import floor

import numpy as np

from print3d.checks.finding import Finding
from print3d.checks.limits import CONTINUOUS_HOURS, CheckLimits, skin_limits
from print3d.forms.orthosis import Orthosis
from print3d.geometry.nearest import at
from print3d.geometry.types import Floats
from print3d.mechanics.bearing import Zone, pressures, zone_of
from print3d.mechanics.loads import TORQUE_KEY, Load, at_rest
from print3d.mechanics.three_point import grams_of_force, mmhg
from print3d.mechanics.zones import OVER_JOINT_MM, Hold, Strapping, holds_of, strap_to_joint, with_strap

ORDER = 170
"""Its place among the findings."""

COUNTS = 0.1
"""A zone that carries less than this share of the largest force is left out of the findings."""
FORCE_STEP_N = 0.05
"""Five grams: finer than a spring gauge at a finger is read; own choice."""


@dataclass(frozen=True, eq=False)
class System:
    """The forces about one joint under one load.

    zones : name -> what it carries
    moment_n_mm : of the joint
    end_n : at the far end, against the way the joint tends
    pressed_mpa : (n,) pressure on each patch
    """

    zones: dict[str, Zone]
    moment_n_mm: float
    end_n: float
    pressed_mpa: Floats

    def in_words(self, hold: Hold) -> str:
        """Every force with its place along the limb from the joint, and the moment they hold."""
        most = max(float(np.linalg.norm(zone.force)) for zone in self.zones.values())
        forces = [
            f"{name} {np.linalg.norm(zone.force):.2f} N {_beside(zone.centre - hold.hinge, hold)}"
            for name, zone in self.zones.items()
            if np.linalg.norm(zone.force) > COUNTS * most
        ]
        return f"{hold.joint} tends to {hold.tends} with {self.moment_n_mm:.1f} N mm: " + ", ".join(forces)


def check_pressure(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check the mean pressure of every zone that bears while the joint rests."""
    findings = []
    for hold in holds_of(orthosis, Strapping(*limits.strapping)):
        load = at_rest(limits.pull, orthosis.limb, hold.joint, hold.tends)
        system = system_under(hold, load)
        if system is None:
            findings.append(_not_held(hold))
        else:
            findings += _zone_findings(hold, load, system, limits)
    return findings


def system_under(hold: Hold, load: Load) -> System | None:
    """Return the forces about a joint under a load, or None if nothing holds it."""
    pressed = pressures(hold.bed, hold.load)
    if pressed is None:
        return None
    ends = _end_force(hold, pressed)
    times = load.moment_n_mm if load.moment_n_mm is not None else (load.end_force_n or 0.0) / ends
    pressed = times * pressed
    found = {name: zone_of(hold.bed, pressed, number) for number, name in enumerate(hold.names)}
    return System({name: zone for name, zone in found.items() if zone}, times, times * ends, pressed)


def _end_force(hold: Hold, pressed: Floats) -> float:
    """What presses beyond the joint the way it tends, in a moment of 1 N mm."""
    way = -1.0 if hold.tends == "flexion" else 1.0
    pushes = way * (hold.bed.normals @ hold.dorsal) * pressed * hold.bed.areas
    return float(np.maximum(pushes, 0.0)[hold.is_distal].sum())


def _not_held(hold: Hold) -> Finding:
    return Finding("pressure", f"{hold.joint}: bears on either side of the joint and against it", 0.0, 1.0, "", "at least",
                   f"no forces of shell and straps balance a joint that tends to {hold.tends}", "three-point principle",
                   at(hold.hinge))  # fmt: skip


def _zone_findings(hold: Hold, load: Load, system: System, limits: CheckLimits) -> list[Finding]:
    """The hardest pressed zone of the shell, and every strap."""
    most = max(float(np.linalg.norm(zone.force)) for zone in system.zones.values())
    counted = {
        name: zone for name, zone in system.zones.items() if np.linalg.norm(zone.force) > COUNTS * most
    }
    shell = {name: zone for name, zone in counted.items() if not name.startswith("strap")}
    worst = max(shell, key=lambda name: shell[name].mean_kpa, default=None)
    judged = [name for name in counted if name == worst or name not in shell]
    watch = limits.skin.watch_kpa
    source = f"{limits.skin.pressure_kpa.source} ({limits.pull.wear_source}); watch above {watch.value:.1f} kPa: {watch.source}"
    findings = []
    for name in judged:
        zone, limit = counted[name], limits.skin.pressure_kpa
        method = f"{zone.area_mm2:.0f} mm2 carry, peak {zone.peak_kpa:.1f} kPa; {system.in_words(hold)}; {load.source}"
        if name not in shell and zone.mean_kpa > watch.value:
            method += _better_strap(hold, load, name, zone.mean_kpa)
        if zone.mean_kpa > limit.value:
            method += _what_would_hold(zone.mean_kpa, load, limits)
        findings.append(
            Finding("pressure", f"{hold.joint} {load.what}, {name}: mean pressure ({mmhg(zone.mean_kpa):.0f} mmHg)",
                    zone.mean_kpa, limit.value, "kPa", "at most", method, source, at(zone.centre), watch.value)
        )  # fmt: skip
    return findings


def _better_strap(hold: Hold, load: Load, name: str, now_kpa: float) -> str:
    """What the strap would press with over the joint, if it lies beside it, and half as wide again; only what is less than now."""
    number, told = hold.names.index(name), []
    is_beside = abs(strap_to_joint(hold, number)) > OVER_JOINT_MM
    for words, shift, wider in (
        *([("with its middle over the joint", True, 1.0)] if is_beside else []),
        ("half as wide again", False, 1.5),
    ):
        changed = with_strap(hold, number, over_joint=shift, wider=wider)
        system = system_under(changed, load)
        if system is not None and name in system.zones and system.zones[name].mean_kpa < now_kpa:
            told.append(f"{system.zones[name].mean_kpa:.1f} kPa {words}")
    return "; this strap would press with " + ", ".join(told) if told else ""


def _what_would_hold(mean_kpa: float, load: Load, limits: CheckLimits) -> str:
    """A gentler force or shorter wear, where either is for the therapist to choose; pressure goes with the force."""
    told, rested = [], skin_limits(CONTINUOUS_HOURS).pressure_kpa.value
    if load.end_force_n is not None and limits.pull.chosen_end_n is not None:
        force = gentler_force_n(limits.pull.chosen_end_n, mean_kpa, limits.skin.pressure_kpa.value)
        told.append(
            f"orthosis.end_force_n = {force:g} ({grams_of_force(force):.0f} g) would hold for {limits.pull.wear_hours:g} h a day"
        )
    if limits.pull.moment_n_mm is not None and load.source == TORQUE_KEY:
        torque = limits.pull.moment_n_mm * limits.skin.pressure_kpa.value / mean_kpa
        told.append(f"{TORQUE_KEY} = {floor(torque):g} would hold for {limits.pull.wear_hours:g} h a day")
    if limits.pull.wear_hours > CONTINUOUS_HOURS and mean_kpa <= rested:
        told.append(f"orthosis.wear_hours_per_day = {CONTINUOUS_HOURS:g} would hold with this force")
    return "".join(f"; {each}" for each in told)


def gentler_force_n(force_n: float, mean_kpa: float, limit_kpa: float) -> float:
    """Return the largest force, in steps of 0.05 N (5 g), that presses with no more than a limit, given what `force_n` presses with."""
    return floor(force_n * limit_kpa / mean_kpa / FORCE_STEP_N) * FORCE_STEP_N


def _beside(arm: Floats, hold: Hold) -> str:
    along = float(np.cross(np.array([0.0, 1.0, 0.0]), hold.dorsal) @ arm)
    return f"{abs(along):.0f} mm {'distal' if along > 0.0 else 'proximal'}"
