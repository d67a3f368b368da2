"""Fit: how surely an orthosis that suits the numbers suits the finger, which no tape knows exactly.

    what is not known (`limb/uncertainty.py`) -> what an orthosis does on fingers a little off (`mechanics/worn.py`)
    many draws of all of it at once           -> the share of fingers on which everything holds

It goes on, stays on, holds or stops its joints near the asked angle, leaves others free, and presses nowhere. A study asks the same on
meshes, draw by draw (`studies/fit.py`).
"""

from collections.abc import Iterator
from functools import cache

import numpy as np
from scipy.stats import norm, qmc

from print3d.checks.finding import Finding, about
from print3d.checks.limits import CheckLimits, worn_press_mm
from print3d.forms.orthosis import Orthosis
from print3d.geometry.types import Floats
from print3d.language.message import Message, message
from print3d.limb.finger import FingerLimb
from print3d.limb.limb import Bools
from print3d.limb.parametric import as_finger
from print3d.limb.uncertainty import FingerUnknowns, unknowns_of
from print3d.mechanics.worn import (
    ASPECTS,
    LinearModel,
    NotTooLoose,
    OnSkin,
    PressesNowhere,
    Question,
    goes_in,
    goes_through,
    held_angle,
    linear_model,
    on_skin,
)
from print3d.mechanics.worn_motion import Yields, moving_questions

ORDER = 125
"""Its place among the findings: after all that it asks again on other fingers."""

LEAST_PERCENT = 70.0
"""On fewer fingers the numbers do not carry the orthosis; own choice."""
WATCHED_PERCENT = 85.0
"""On fewer it is looked at twice; own choice."""
N_DRAWS = 1024
"""Fingers that are drawn, evenly; the share is then within half a point of that of 32,768 (measured on three cases)."""
SEED = 1
"""The same case gives the same share."""


def check_fit(orthosis: Orthosis, limits: CheckLimits) -> list[Finding]:
    """Check on what share of fingers everything holds, and say which measurement would help most.

    The fingers are those that the numbers may stand for.
    """
    limb = _finger(orthosis)
    unknowns = unknowns_of(limb.finger, limits.measured, limits.spreads)
    model = linear_model(orthosis, limb, unknowns, *_asked(orthosis, limb, limits))
    holds = model.margins(_draws(unknowns)) >= 0.0
    share = 100.0 * float(holds.all(axis=1).mean())
    how = [message("checks.fit.certain.how", draws=N_DRAWS), *_weakest(model, holds)]
    if share < WATCHED_PERCENT:
        how += _helps_most(model, unknowns, share)
    source = message("sources.own_certainty", least=LEAST_PERCENT, watched=WATCHED_PERCENT)
    return [
        Finding(
            "fit.certain",
            share,
            LEAST_PERCENT,
            "%",
            "at least",
            source,
            about(),
            (),
            tuple(how),
            WATCHED_PERCENT,
        )
    ]


def applies_to(orthosis: Orthosis, _limits: CheckLimits) -> bool:
    """Whether it sits on one finger; what a hand and its forearm leave open is not modelled."""
    return as_finger(orthosis.limb) is not None


def _finger(orthosis: Orthosis) -> FingerLimb:
    limb = as_finger(orthosis.limb)
    if limb is None:
        raise TypeError("no single finger")
    return limb


def _asked(
    orthosis: Orthosis, limb: FingerLimb, limits: CheckLimits
) -> tuple[tuple[OnSkin, ...], list[Question]]:
    """Return the parts as they lie on the skin, and everything that is asked of them and of joints."""
    sides = tuple(on_skin(part, limb) for part in orthosis.parts)
    asked = list[Question]()
    donning, strain = limits.donning_compression_mm.value, limits.donning_strain_percent.value / 100.0
    for number, part in enumerate(orthosis.parts):
        asked += [
            PressesNowhere(number, worn_press_mm(part, limits).value),
            NotTooLoose(number, limits.loosest_mm.value),
        ]
        if part.definition.pattern.period_mm is not None:
            asked += goes_through(number, part, donning)
        else:
            asked += goes_in(number, part, limb, donning, strain)
    for joint in orthosis.held:
        asked += held_angle(sides, limb, joint, limits.worn_angle_deg.value)
    yields = Yields(limits.compression_mm.value, limits.stop_compression_mm.value)
    return sides, [*asked, *moving_questions(orthosis, limb, yields, limits.worn_stop_deg.value)]


@cache
def _even(n_sources: int) -> Floats:
    """Normal draws (n, k) that fill the space evenly."""
    sequence = qmc.Sobol(n_sources, scramble=True, rng=np.random.default_rng(SEED))
    return np.asarray(norm.ppf(np.clip(sequence.random(N_DRAWS), 1e-12, 1.0 - 1e-12)))


def _weakest(model: LinearModel, holds: Bools) -> Iterator[Message]:
    """Yield what holds on the smallest share of fingers, where any fails."""
    shares = {what: 1.0 for what in ASPECTS}
    for question, column in zip(model.questions, holds.T, strict=True):
        shares[question.what] = min(shares[question.what], float(column.mean()))
    what = min(shares, key=lambda each: shares[each])
    if shares[what] < 1.0:
        aspect = message(f"checks.fit.aspect.{what}")
        yield message("checks.fit.how.weakest", aspect=aspect, percent=100.0 * shares[what])


def _helps_most(model: LinearModel, unknowns: FingerUnknowns, share: float) -> Iterator[Message]:
    """Yield the measurement that would raise the share most, taken for the first time or again."""
    gained = {
        source: 100.0 * float((model.margins(_draws(better)) >= 0.0).all(axis=1).mean()) - share
        for source, better in unknowns.better_known()
    }
    if gained:
        best = max(gained, key=lambda each: gained[each])
        which = "again" if best.origin == "tape" else "first"
        what = message(f"studies.source.{best.key}")
        yield message(f"checks.fit.how.{which}", what=what, percent=share + max(gained[best], 0.0))


def _draws(unknowns: FingerUnknowns) -> Floats:
    """Deviations (n, k) mm."""
    return _even(len(unknowns.sources)) @ unknowns.root.T * unknowns.sd_mm
