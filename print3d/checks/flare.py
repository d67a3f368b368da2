"""Flare: the ends of a shell turn away from the skin, so that no edge digs in."""

import numpy as np

from print3d.checks.finding import Finding, Limit, about, values
from print3d.checks.limits import FOREARM_FLARE_MM, CheckLimits
from print3d.forms.orthosis import Orthosis, Part, part_name
from print3d.geometry.nearest import Surface, at, skin_surface
from print3d.language.message import message

Lift = tuple[float, tuple[float, float, float]]
"""How far an end stands off beyond the usual gap, mm, and its lowest place."""

ORDER = 60
"""Its place among the findings."""

ACROSS = 0.9
"""An edge belongs to an end where its normal in the pattern plane runs along the limb, within 26 degrees."""
FEWEST = 5
"""Points that an end must have to be measured; own choice."""
USUAL_SHARE = 25.0
"""The usual gap is the one that this percentage of the skin side stays within: reliefs and laps stand off further; own choice."""
SAMPLES = 2000
"""About how many points of the skin side are looked at; own choice."""


def check_flare(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check how far both ends of every shell stand off beyond its clearance.

    Bands all around have none, they are rounded.
    """
    limit = limits.flare_mm
    if limit is None:
        return []  # it does not apply
    skin = skin_surface(orthosis.limb)
    findings = []
    for part in orthosis.parts:
        if part.definition.pattern.period_mm is not None:
            continue
        findings += [_end(part, end, lift, limit) for end, lift in measure_lifts(part, skin).items()]
    return findings


def _end(part: Part, end: str, lift: Lift, limit: Limit) -> Finding:
    """Hold one end against its limit.

    The proximal one of hand or forearm against the trade's flare, others against how far skin is pressed in.
    """
    is_of_trade = part.flares_proximally and end == "proximal"
    return Finding(
        "flare.end",
        lift[0],
        FOREARM_FLARE_MM if is_of_trade else limit.value,
        "mm",
        "between" if is_of_trade else "at least",
        message("sources.forearm_flare") if is_of_trade else limit.source,
        about(part.name, end=end),
        values(part=part_name(part.name), end=message(f"checks.flare.which.{end}")),
        where=lift[1],
    )


def applies_to(orthosis: Orthosis, limits: CheckLimits) -> bool:
    """Whether a flare is asked for, and a part is no band."""
    return limits.flare_mm is not None and any(
        part.definition.pattern.period_mm is None for part in orthosis.parts
    )


def measure_lifts(part: Part, skin: Surface) -> dict[str, Lift]:
    """Return end -> how far its inner edge stands off beyond the usual gap (mm), and its lowest place."""
    vertices = part.shell.mesh.vertices
    skin_side = part.skin_vertices[:: max(1, len(part.skin_vertices) // SAMPLES)]
    usual = float(np.percentile(skin.signed(vertices[skin_side]), USUAL_SHARE))
    edge, along = part.shell.rims[0][0], part.definition.pattern.boundary[0].normals[:, 0]
    gap = skin.signed(vertices[edge])
    found = {}
    for end, is_end in (("proximal", along > ACROSS), ("distal", along < -ACROSS)):
        if is_end.sum() >= FEWEST:
            lowest = np.flatnonzero(is_end)[int(np.argmin(gap[is_end]))]
            found[end] = float(np.median(gap[is_end])) - usual, at(vertices[edge[lowest]])
    return found
