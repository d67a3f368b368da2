"""A step without a kink."""

import numpy as np

from print3d.geometry.types import Floats


def smooth_step(t: Floats) -> Floats:
    """Return the quintic (n,) that rises from 0 at 0 to 1 at 1 without a kink.

    It has no slope and no curvature at either end; below it is 0, above it is 1.
    """
    t = np.clip(t, 0.0, 1.0)
    return np.asarray(t**3 * (10.0 - 15.0 * t + 6.0 * t**2))
