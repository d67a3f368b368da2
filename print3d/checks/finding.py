"""One result type for every check: a number measured on the finished mesh beside its limit, known by a key.

A finding holds no sentence. Its words lie beside the check, in `checks/<check>.<language>.toml`, under the rest of its key: `what` was
measured, and `how`. They are filled with the values of the finding when it is shown.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from print3d.language.catalogue import Language, catalogue
from print3d.language.message import Message, Values, as_it_stands, listed, message, message_from

Sense = Literal["at least", "at most", "between"]
Verdict = Literal["fails", "watch", "holds"]
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
"""Worst first."""
Place = tuple[float, float, float]


@dataclass(frozen=True)
class Limit:
    """A number to hold something against, and where it comes from."""

    value: float
    source: Message


@dataclass(frozen=True)
class About:
    """What a finding is about: the same row of the same design has the same one when its number changes.

    part : id of the part, or of two parts in the order of the design
    joint : id of the joint ("middle.pip")
    of : what else tells rows of one key apart, such as a load or a strap, by name
    """

    part: str = ""
    joint: str = ""
    of: tuple[tuple[str, str], ...] = ()


NOT_MEASURED = "not_measured"
"""Row of what could not be measured; every check may have it."""
RowId = tuple[str, About]
"""Key of a finding, and what it is about."""


@dataclass(frozen=True)
class Finding:
    """One measured number and what it is held against.

    key : check and row, such as "rims.edge"; the first part is the name of the check's file
    measured, limit : in `unit`; `limit` is a (low, high) pair when `sense` is "between"
    source : where the limit comes from
    about : part, joint and whatever tells it from other rows of its key
    values : what its words are filled with, numbers with their unit in the name
    how : how it was measured, piece by piece; without them the words "how" of its key
    watch : within the limit but beyond this the number is one to keep an eye on; None where there is no such step
    where : (x, y, z) mm in the limb frame of the place that decides, or None where there is none
    """

    key: str
    measured: float
    limit: float | tuple[float, float]
    unit: str
    sense: Sense
    source: Message
    about: About = About()
    values: Values = ()
    how: tuple[Message, ...] = ()
    watch: float | None = None
    where: Place | None = None

    @property
    def check(self) -> str:
        """Name of the check, which is its file's in `checks/`."""
        return self.key.split(".")[0]

    @property
    def row(self) -> RowId:
        """What the finding is known by when its numbers change."""
        return self.key, self.about

    @property
    def what(self) -> Message:
        """What was measured."""
        return Message(f"{self._words}.what", self.values)

    @property
    def brief(self) -> Message:
        """What was measured, without numbers that differ from one design to the next, where the check has words for it."""
        key = f"{self._words}.brief"
        return Message(key, self.values) if key in catalogue("en") else self.what

    @property
    def methods(self) -> tuple[Message, ...]:
        """How it was measured, piece by piece."""
        return self.how or (Message(f"{self._words}.how", self.values),)

    @property
    def _words(self) -> str:
        """Where its words lie: beside its check, or among those that all checks share."""
        row = self.key.partition(".")[2]
        return f"common.{row}" if row == NOT_MEASURED else f"checks.{self.key}"

    def said(self, language: Language) -> str:
        """Return what was measured, in words."""
        return self.what.said(language)

    def method(self, language: Language) -> str:
        """Return how it was measured, in words."""
        return listed(self.methods, language)

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


def about(part: str = "", joint: object = "", **of: object) -> About:
    """Return what a finding is about; ids as text."""
    return About(part, str(joint), tuple((name, str(of[name])) for name in sorted(of)))


def values(**given: object) -> Values:
    """Return the values of a finding's words; numbers of numpy become Python's own."""
    return message("", **given).values


def check_name(check: str) -> Message:
    """Return the name of a check by its id; one without a name goes by that."""
    key = f"checks.{check}.title"
    return message(key) if key in catalogue("en") else as_it_stands(check)


def not_measured(check: str, why: Message, on: About = About()) -> Finding:
    """Return a finding that fails because something could not be measured, which is never silence."""
    return Finding(
        f"{check}.{NOT_MEASURED}",
        0.0,
        1.0,
        "",
        "at least",
        message("sources.every_check_answers"),
        on,
        values(check=check_name(check), why=why),
    )


def finding_as_data(finding: Finding, language: Language | None = None) -> dict[str, Any]:
    """Return a finding as plain data: key, values, verdict, and its words where a language is given."""
    limit = finding.limit
    data = {
        "key": finding.key,
        "check": finding.check,
        "part": finding.about.part or None,
        "joint": finding.about.joint or None,
        "of": dict(finding.about.of),
        "values": finding.what.as_data()["values"],
        "measured": float(finding.measured),
        "limit": [float(end) for end in limit] if isinstance(limit, tuple) else float(limit),
        "unit": finding.unit,
        "sense": finding.sense,
        "watch": None if finding.watch is None else float(finding.watch),
        "margin": float(finding.margin),
        "verdict": finding.verdict,
        "holds": bool(finding.holds),
        "is_watched": finding.is_watched,
        "where": None if finding.where is None else [float(each) for each in finding.where],
        "source": finding.source.as_data(),
        "how": [each.as_data() for each in finding.methods],
    }
    if language is not None:
        data["words"] = {
            "what": finding.said(language),
            "how": finding.method(language),
            "source": finding.source.said(language),
        }
    return data


def finding_from(data: Mapping[str, Any]) -> Finding:
    """Return the finding that `finding_as_data` made plain."""
    limit, where = data["limit"], data["where"]
    said = message_from({"key": f"checks.{data['key']}.how", "values": data["values"]})
    how = tuple(message_from(each) for each in data["how"])
    return Finding(
        data["key"],
        data["measured"],
        tuple(limit) if isinstance(limit, list) else limit,
        data["unit"],
        data["sense"],
        message_from(data["source"]),
        About(data["part"] or "", data["joint"] or "", tuple(sorted(data["of"].items()))),
        said.values,
        () if how == (said,) else how,
        data["watch"],
        None if where is None else tuple(where),
    )


def numbers_of(finding: Finding) -> tuple[float, ...]:
    """Return every number of a finding; all must be finite to be written."""
    ends = finding.limit if isinstance(finding.limit, tuple) else (finding.limit,)
    watch = () if finding.watch is None else (finding.watch,)
    return (finding.measured, *ends, *watch, *(finding.where or ()))
