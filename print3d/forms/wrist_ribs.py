r"""Ridges over the wrist bend of a forearm shell, which stiffen it against bending.

The wall is lifted off the skin in waves:

   __        __          section across the wrist: wall and clearance as everywhere, the ridges on top of the clearance;
__/  \______/  \__       they fade out at both ends, and carry no vents
"""

import numpy as np
import shapely

from print3d.forms.clearance import Clearance
from print3d.forms.forearm_options import WristRibs
from print3d.geometry.smooth_step import smooth_step
from print3d.geometry.types import Floats
from print3d.limb.hand import HandLimb
from print3d.limb.hand_unrolled import UnrolledHand

FADING_SHARE = 0.45
"""A ridge rises to its height over this share of its reach; own choice."""


def rib_lift(skin: UnrolledHand[HandLimb], ribs: WristRibs) -> Clearance:
    """Return the further clearance over the ridges."""
    scale = skin.scale(0.0)
    width, reach = ribs.width_mm / scale, ribs.reach_mm / scale
    middles = width * (np.arange(ribs.count) - (ribs.count - 1) / 2.0)

    def lift(along: Floats, around: Floats) -> Floats:
        to_end = (reach - np.abs(along)) / (FADING_SHARE * reach)
        off = np.abs(around[:, None] - middles).min(axis=1) / (width / 2.0)
        wave = 0.5 + 0.5 * np.cos(np.pi * np.minimum(off, 1.0))
        return np.asarray(ribs.height_mm * smooth_step(to_end) * wave)

    return lift


def rib_zone(skin: UnrolledHand[HandLimb], ribs: WristRibs) -> shapely.Polygon:
    """Return the part of the pattern plane that the ridges take."""
    scale = skin.scale(0.0)
    reach, half = ribs.reach_mm / scale, ribs.count * ribs.width_mm / scale / 2.0
    return shapely.box(-reach, -half, reach, half)
