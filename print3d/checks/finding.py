"""One result type for every check: a number measured on the finished mesh beside its limit."""

from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args

Sense = Literal["at least", "at most", "between"]
Verdict = Literal["fails", "watch", "holds"]
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
"""Worst first."""


@dataclass(frozen=True)
class Finding:
    """One measured number and what it is held against.

    check : short name of the check, the file's name in `checks/`
    what : what was measured, in words a therapist reads
    measured, limit : in `unit`; `limit` is a (low, high) pair when `sense` is "between"
    watch : within the limit but beyond this the number is one to keep an eye on; None where there is no such step
    where : (x, y, z) mm in the limb frame of the place that decides, or None where there is none
    method : how it was measured
    source : where the limit comes from
    """

    check: str
    what: str
    measured: float
    limit: float | tuple[float, float]
    unit: str
    sense: Sense
    method: str
    source: str
    where: tuple[float, float, float] | None = None
    watch: float | None = None

    @property
    def holds(self) -> bool:
        """Whether the measured number is inside its limit."""
        return self.margin >= 0.0

    @property
    def margin(self) -> float:
        """How far inside the limit the number lies, in `unit`; negative outside."""
        if isinstance(self.limit, tuple):
            low, high = self.limit
            return min(self.measured - low, high - self.measured)
        if self.sense == "at least":
            return self.measured - self.limit
        return self.limit - self.measured

    @property
    def verdict(self) -> Verdict:
        """Whether the number is outside its limit, inside but to be watched, or simply inside."""
        return "fails" if not self.holds else "watch" if self.is_watched else "holds"

    @property
    def urgency(self) -> tuple[int, bool, float]:
        """Sort key, worst first: what fails, what is to be watched, what holds, each by the margin against the limit.

        A count or an arc that is met to the full cannot be nearer to its limit and comes last.
        """
        limit = max(map(abs, self.limit)) if isinstance(self.limit, tuple) else abs(self.limit)
        is_met = self.verdict == "holds" and self.margin <= 0.0
        return VERDICTS.index(self.verdict), is_met, self.margin / max(limit, 1e-9)

    @property
    def is_watched(self) -> bool:
        """Whether the number is inside its limit, but to be kept an eye on."""
        if self.watch is None or not self.holds:
            return False
        return self.measured < self.watch if self.sense == "at least" else self.measured > self.watch


def finding_as_json(finding: Finding) -> dict[str, Any]:
    """Return a finding with its verdict and margin as plain data, numbers of numpy as Python's own."""
    return {
        **asdict(finding),
        "measured": float(finding.measured),
        "limit": [float(end) for end in finding.limit]
        if isinstance(finding.limit, tuple)
        else float(finding.limit),
        "where": None if finding.where is None else [float(each) for each in finding.where],
        "holds": bool(finding.holds),
        "is_watched": finding.is_watched,
        "verdict": finding.verdict,
        "margin": float(finding.margin),
    }
