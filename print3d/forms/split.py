r"""A shell too long for the printer's bed, cut across the forearm into two parts.

The parts lap over each other and are screwed or riveted.

  inner part (hand)       ____________________________
                                                      \         the lap is lifted off the skin by a little, so that heads of
outer part (forearm)  ______      o      o   ==========          screws or rivets do not press; the outer part climbs over the
                            \_________________                   end of the inner one; holes lie on common normals
                      ramp       lap        ramp
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from print3d.forms.clearance import Clearance
from print3d.forms.letters_and_vents import Label
from print3d.forms.trough import ForearmPlan
from print3d.geometry.types import Floats
from print3d.shell.curves import circle, rounded
from print3d.shell.pattern import Loop

LAP_MM = 32.0
"""Two rows of holes with two screw diameters from either row to the edges."""
ROW_MM = 14.0
"""Between the two rows of holes: four screw diameters; own choice."""
HOLE_MM = 3.4
"""Passes an M3 screw or a 3.2 mm rivet: medium fit of ISO 273, from memory."""
HEAD_MM = 1.5
"""The lap is lifted by this: a low head, or a rivet's flange under a liner; own choice."""
PLAY_MM = 0.25
"""Between the two parts: extrusion prints a wall 0.1 mm thick or thin on either side; own choice."""
RAMP_MM = 16.0
"""The outer part climbs over this length; own choice."""
END_MM = 2.0
"""The outer part is up this far before the inner part's end; own choice."""
BESIDE_LAP_MM = 4.0
"""A part's vents stay this far from the other part's end, which would half close them."""
EDGE_MM = 9.0
"""From a hole's centre to a lateral edge."""
CORNER_MM = 8.0
"""Rounding of corners, 5 mm or more; common practice, no single source."""
CHORD_ERROR_MM = 0.02
"""Of the circles of holes; a tenth of what a printer is off, own choice."""


@dataclass(frozen=True)
class Lap:
    """Where the two parts lie over each other, in the pattern plane.

    proximal, distal : along, the ends of the inner and of the outer part
    """

    proximal: float
    distal: float


def split(plan: ForearmPlan, lap: Lap, label: Label) -> tuple[ForearmPlan, ForearmPlan]:
    """Return the plans of the inner (distal) and of the outer (proximal) part.

    label : of the inner part; the plan's own goes with the outer one
    """
    holes = _holes(plan, lap)
    far = 1e4
    distal = shapely.box(lap.proximal, -far, far, far)
    proximal = shapely.box(-far, -far, lap.distal, far)
    middle = (lap.proximal + lap.distal) / 2.0
    solid = (
        *plan.solid_zones,
        shapely.box(lap.proximal - BESIDE_LAP_MM, -far, lap.distal + BESIDE_LAP_MM, far),
    )
    inner = replace(
        plan,
        name="hand_part",
        outline=rounded(plan.outline.intersection(distal), CORNER_MM),
        flared_along=None,
        straps=tuple(strap for strap in plan.straps if float(plan.skin.along(strap.station_mm)) > middle),
        solid_zones=solid,
        openings=holes,
        label=label,
        lifts=(*plan.lifts, _lifted(plan, lap, is_outer=False)),
    )
    outer = replace(
        plan,
        name="forearm_part",
        outline=rounded(plan.outline.intersection(proximal), CORNER_MM),
        straps=tuple(strap for strap in plan.straps if float(plan.skin.along(strap.station_mm)) <= middle),
        solid_zones=solid,
        openings=holes,
        lifts=(*plan.lifts, _lifted(plan, lap, is_outer=True)),
        stiffened_along=None,
    )
    return inner, outer


def _holes(plan: ForearmPlan, lap: Lap) -> tuple[Loop, ...]:
    """Two rows of three holes, from one lateral edge to the other."""
    middle = (lap.proximal + lap.distal) / 2.0
    scale = float(plan.skin.scale_along(np.array([middle]))[0])
    holes = []
    for along in (middle - ROW_MM / scale / 2.0, middle + ROW_MM / scale / 2.0):
        across = shapely.LineString([(along, -1e3), (along, 1e3)]).intersection(
            plan.outline.buffer(-EDGE_MM / scale)
        )
        low, high = across.bounds[1], across.bounds[3]
        for around in (low, (low + high) / 2.0, high):
            holes.append(circle(np.array([along, around]), HOLE_MM / scale / 2.0, "opening", CHORD_ERROR_MM))
    return tuple(holes)


def _lifted(plan: ForearmPlan, lap: Lap, *, is_outer: bool) -> Clearance:
    """Further clearance of a part: over the lap for the heads, and for the outer part over the inner one."""
    scale = float(plan.skin.scale_along(np.array([lap.proximal]))[0])
    ramp, end = RAMP_MM / scale, END_MM / scale
    over = plan.options.wall_mm + PLAY_MM

    def lift(along: Floats, _: Floats) -> Floats:
        before = _cubic_step(1.0 + (along - lap.proximal + end) / ramp)
        after = _cubic_step(1.0 - (along - lap.distal) / ramp)
        heads = HEAD_MM * before * after
        return heads + over * before if is_outer else heads

    return lift


def _cubic_step(t: Floats) -> Floats:
    t = np.clip(t, 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))
