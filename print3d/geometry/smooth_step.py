"""A step without a kink."""

import numpy as np

from print3d.geometry.types import Floats


def smooth_step(t: Floats) -> Floats:
    """Return 0 for t below 0, 1 above 1, and in between the quintic (n,) that has no slope and no curvature at either end."""
    t = np.clip(t, 0.0, 1.0)
    return np.asarray(t**3 * (10.0 - 15.0 * t + 6.0 * t**2))
