"""The forearm: sections from girths at stated places, flat at the wrist, rounder towards the elbow."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator

from print3d.geometry.cross_section import solve_half_axes
from print3d.geometry.types import Floats
from print3d.limb.norms import table


@dataclass(frozen=True, eq=False)
class Forearm:
    """A straight forearm.

    length_mm : wrist crease to the head of the radius
    girths_mm : distance proximal of the wrist crease (mm, increasing) -> girth there
    """

    length_mm: float
    girths_mm: Mapping[float, float]

    def girth_mm(self, proximal_mm: Floats) -> Floats:
        """Return the girth (n,) at distances (n,) proximal of the wrist crease; even beyond the outermost tapes."""
        places = [*self.girths_mm]
        return np.asarray(self._girth(np.clip(proximal_mm, places[0], places[-1])))

    def sections(self, proximal_mm: Floats) -> Floats:
        """Return half-breadth, half-depth and exponent (3, n) of the sections at distances (n,)."""
        shape, share = table("forearm")["section"], np.clip(proximal_mm / self.length_mm, 0.0, 1.0)
        ratio, exponent = (
            PchipInterpolator(shape["at"], shape[key])(share) for key in ("depth_ratio", "exponent")
        )
        return np.array([*solve_half_axes(self.girth_mm(proximal_mm), ratio, exponent), exponent])

    @cached_property
    def _girth(self) -> PchipInterpolator:
        return PchipInterpolator([*self.girths_mm], [*self.girths_mm.values()])
