"""Published proportions of fingers, as numbers to reckon with: bones, creases, joint centres, girths.

A crease is not a joint line, and a joint line is not a joint centre:

        web crease          PIP crease    joint line            DIP crease       joint line       tip
    ------|--------------------|---------------|--------------------|-----------------|------------|
      o   |                  o |               |                    |            o    |            |
     MCP centre            PIP centre                                       DIP centre
     (25 proximal)         (1.5 proximal)                                   (5 distal)          adult, mm
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from print3d.geometry.types import Floats
from print3d.limb.norms import Norm, table

SEGMENTS = ("proximal", "middle", "distal")
GIRTHS = (
    "pip_girth_mm", "dip_girth_mm", "web_girth_mm", "proximal_girth_mm", "middle_girth_mm", "nail_fold_girth_mm",
)  # fmt: skip


@dataclass(frozen=True)
class JointCentres:
    """Where an adult's joint centres lie against the palmar creases, mm."""

    mcp_proximal_of_web_crease_mm: float
    pip_proximal_of_crease_mm: float
    dip_distal_of_crease_mm: float

    def added_to_palmar(self) -> Floats:
        """Return what (3,) makes proximal, middle and distal palmar lengths into joint-centre lengths."""
        mcp, pip = self.mcp_proximal_of_web_crease_mm, self.pip_proximal_of_crease_mm
        dip = self.dip_distal_of_crease_mm
        return np.array([mcp - pip, pip + dip, -dip])


@cache
def adult_joint_centres() -> JointCentres:
    """Return the adult offsets: crease to joint line, and one condyle radius further proximally."""
    creases, condyles = table("fingers")["creases"], table("fingers")["condyles"]
    return JointCentres(
        creases["web_crease_distal_of_mcp_line_mm"] + condyles["mcp_radius_mm"],
        condyles["pip_radius_mm"] - creases["pip_crease_proximal_of_pip_line_mm"],
        creases["dip_crease_proximal_of_dip_line_mm"] - condyles["dip_radius_mm"],
    )


def adult_palmar_lengths_mm(finger: str) -> Floats:
    """Return the mean palmar lengths (3,): web to PIP crease, PIP to DIP crease, DIP crease to tip.

    Bones (Buryanov and Kotiuk 2010) seen from the creases (Bugbee and Botte 1993).
    """
    bones, creases = table("fingers")["bones"], table("fingers")["creases"]
    web, pip = creases["web_crease_distal_of_mcp_line_mm"], creases["pip_crease_proximal_of_pip_line_mm"]
    dip = creases["dip_crease_proximal_of_dip_line_mm"]
    proximal, middle, distal = (bones[f"{segment}_mm"][finger][0] for segment in SEGMENTS)
    return np.array(
        [proximal - web - pip, middle + pip - dip, distal + bones["soft_tip_mm"][finger][0] + dip]
    )


def segment_shares(finger: str) -> Floats:
    """Return the joint-centre segment lengths (3,) as shares of hand length (Buchholz et al. 1992)."""
    segments = table("fingers")["segments"]
    return np.array([segments[segment][finger] for segment in SEGMENTS])


def girth_norm(finger: str, pip_mean_mm: float, pip_sd_mm: float) -> Norm:
    """Return how the six girths of a finger go together, when the PIP girth is known so well.

    Each girth is a share of the PIP or DIP girth, or of their mean, plus a spread of its own.
    """
    return Norm(GIRTHS, pip_mean_mm * girth_shares(finger), _girth_covariance(finger, pip_sd_mm))


def girth_shares(finger: str) -> Floats:
    """Return the mean girths (6,) as shares of the PIP girth."""
    return _paths(finger)[:, 0]


def _girth_covariance(finger: str, pip_sd_mm: float) -> Floats:
    fingers = table("fingers")
    own = fingers["other_girths"]["sd_mm"]
    spreads = np.array([pip_sd_mm, fingers["dip_girth"]["spread"]["sd_mm"], own, own, own, own])
    reach = _paths(finger) * spreads
    return np.asarray(reach @ reach.T)


@cache
def _paths(finger: str) -> Floats:
    """How much (6, 6) each girth moves with the PIP girth (first column) and with each own spread."""
    dip_share = table("fingers")["dip_girth"]["share_of_pip"][finger]
    shares: Mapping[str, float] = table("fingers")["other_girths"]
    paths = np.eye(6)
    paths[1] += dip_share * paths[0]
    paths[2] += shares["web_share_of_pip"] * paths[0]
    paths[3] += shares["proximal_share_of_pip"] * paths[0]
    paths[4] += shares["middle_share_of_mean"] * (paths[0] + paths[1]) / 2.0
    paths[5] += shares["nail_fold_share_of_dip"] * paths[1]
    return paths
