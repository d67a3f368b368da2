"""All checks, in the order in which they are read."""

from print3d.checks.donning import check_donning
from print3d.checks.finding import Finding
from print3d.checks.flare import check_flare
from print3d.checks.gap import check_gap
from print3d.checks.integrity import check_integrity
from print3d.checks.joints import check_joints
from print3d.checks.laps import check_laps
from print3d.checks.limits import CheckLimits
from print3d.checks.marking import check_marking
from print3d.checks.motion import check_motion
from print3d.checks.openings import check_openings
from print3d.checks.pressure import check_pressure
from print3d.checks.printability import check_printability
from print3d.checks.reach import check_reach
from print3d.checks.relative_motion import check_relative_motion
from print3d.checks.ribs import check_ribs
from print3d.checks.rims import check_rims
from print3d.checks.slots import check_slots
from print3d.checks.stiffness import check_stiffness
from print3d.checks.stops import check_stops
from print3d.checks.trough import check_trough
from print3d.checks.wall import check_wall
from print3d.forms.orthosis import Orthosis

CHECKS = (
    check_integrity,
    check_wall,
    check_openings,
    check_slots,
    check_rims,
    check_flare,
    check_gap,
    check_joints,
    check_stops,
    check_motion,
    check_relative_motion,
    check_donning,
    check_trough,
    check_reach,
    check_laps,
    check_ribs,
    check_pressure,
    check_stiffness,
    check_marking,
    check_printability,
)


def run_suite(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Run every check and return all findings."""
    return [finding for check in CHECKS for finding in check(orthosis, limits)]
