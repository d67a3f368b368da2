"""Every finding as sign, word, number, limit and source, worst first and grouped by check."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from print3d.checks.finding import Finding, RowId
from print3d.design.advice import Advice
from print3d.language.catalogue import Language, number, text
from print3d.language.message import Message, listed
from print3d.output.page.html import Html, joined, tag
from print3d.output.page.options_in_words import option_name, option_value, unit_sign

LEAST_SHARED = 3
"""From this number of rows on, what all of them say is said once; own choice."""
State = Literal["holds", "watch", "fails"]
SIGN: Mapping[State, str] = {"holds": "+", "watch": "!", "fails": "x"}
COLUMNS = ("verdict", "what", "value", "limit", "source")


def has_room(finding: Finding) -> bool:
    """Whether a finding that holds could be nearer to its limit.

    A count or an arc that is met to the full cannot.
    """
    return finding.margin > 0.0


def urgency(finding: Finding) -> tuple[bool, bool, bool, float]:
    """Return a sort key: failing, then to be watched, then by margin relative to the limit.

    What is met to the full comes last.
    """
    limit = finding.limit if not isinstance(finding.limit, tuple) else max(map(abs, finding.limit))
    share = finding.margin / max(abs(limit), 1e-9)
    return finding.holds, not finding.is_watched, finding.holds and not has_room(finding), share


def by_urgency(findings: Sequence[Finding]) -> list[Finding]:
    """Return the findings, worst first."""
    return sorted(findings, key=urgency)


def groups(findings: Sequence[Finding]) -> dict[str, list[Finding]]:
    """Return the findings of each check, worst first, the check with the worst one first."""
    found: dict[str, list[Finding]] = {}
    for finding in by_urgency(findings):
        found.setdefault(finding.check, []).append(finding)
    return found


def state_of(findings: Sequence[Finding]) -> State:
    """Return how findings stand together: the worst of them decides."""
    if not all(each.holds for each in findings):
        return "fails"
    return "watch" if any(each.is_watched for each in findings) else "holds"


def findings_part(findings: Sequence[Finding], language: Language, advice: Sequence[Advice] = ()) -> Html:
    """Return a table for each check, beside what fails what to change; folded where all of them simply hold."""
    page = _Page(language, {each.finding.row: each for each in advice})
    tables = [_group(check, each, page) for check, each in groups(findings).items()]
    return joined([tag("p", text("report.finding.order", language)), *tables])


def in_short(finding: Finding, language: Language) -> Html:
    """Return a finding as a line: sign, word, what, value and limit."""
    return joined([tag("strong", verdict(finding, language)), f" {with_value(finding, language)}"])


def with_value(finding: Finding, language: Language) -> str:
    """Return what was measured, its value and its limit."""
    return f"{finding.said(language)}: {value_of(finding, language)} ({limit_of(finding, language)})"


def verdict(finding: Finding, language: Language) -> str:
    """Return sign and word."""
    state = state_of([finding])
    return f"{SIGN[state]} {text(f'common.finding.{state}', language)}"


def value_of(finding: Finding, language: Language) -> str:
    """Return number and unit; a count has no decimals."""
    return measured_in_words(finding.measured, finding.unit, language)


def measured_in_words(measured: float, unit: str, language: Language) -> str:
    """Return a measured number with its unit; a count has no decimals."""
    is_count = not unit and float(measured).is_integer()
    decimals = 0 if is_count else 1 if unit == "deg" else 2
    return _with_unit(number(measured, language, decimals=decimals), unit)


def change_in_words(advice: Advice, language: Language, *, briefly: bool = False) -> str:
    """Return what to change, from what to what, and what was then measured; briefly without what it was tried on."""
    key = advice.option.removeprefix("orthosis.")
    now, then = (option_value(key, each, language) for each in (advice.now, advice.then))
    measured = measured_in_words(advice.measured, advice.finding.unit, language)
    name = option_name(key, language)
    return text(
        "report.glance.change_to" if briefly else "report.finding.change",
        language,
        what=advice.finding.said(language),
        name=name,
        option=advice.option,
        now=now,
        then=then,
        measured=measured,
    )


def limit_of(finding: Finding, language: Language) -> str:
    """Return the limit in words."""
    unit, decimals = unit_sign(finding.unit), 1 if finding.unit == "deg" else 2
    if isinstance(finding.limit, tuple):
        low, high = (round(float(end), decimals) for end in finding.limit)
        words = text("common.finding.between", language, low=low, high=high, unit=unit)
    else:
        key = "at_least" if finding.sense == "at least" else "at_most"
        words = text(
            f"common.finding.{key}", language, limit=round(float(finding.limit), decimals), unit=unit
        )
    return words.replace(" °", "°").strip()


def title_of(check: str, language: Language) -> str:
    """Return what a check is called on the page."""
    return text(f"checks.{check}.title", language)


@dataclass(frozen=True)
class _Page:
    """What every row needs to know of the page: which language, what to change by the row of a finding."""

    language: Language
    advice: Mapping[RowId, Advice]


def _group(check: str, findings: Sequence[Finding], page: _Page) -> Html:
    language = page.language
    failed, watched = sum(not each.holds for each in findings), sum(each.is_watched for each in findings)
    state, title = state_of(findings), title_of(check, language)
    summary = text(
        f"report.finding.group_{state}", language, failed=failed, watched=watched, count=len(findings)
    )
    sign = SIGN[state]
    shared = _Shared(findings)
    columns = [each for each in COLUMNS if each != "source" or shared.source is None]
    head = tag("tr", *(tag("th", text(f"report.finding.{each}", language), scope="col") for each in columns))
    rows = [_row(each, shared, page) for each in findings]
    caption = tag("caption", f"{title}: {sign} {summary}")
    whole = tag("table", caption, tag("thead", head), tag("tbody", *rows), class_="findings")
    heading = tag("h3", f"{title} ", tag("span", f"{sign} {summary}", class_=f"count {state}"))
    return tag(
        "details",
        tag("summary", heading),
        *shared.notes(language),
        whole,
        class_="group",
        open=state != "holds",
    )


class _Shared:
    """What every row of a group says alike: said once above the table."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        alike = len(findings) >= LEAST_SHARED
        sources = {finding.source for finding in findings}
        self.source = findings[0].source if alike and len(sources) == 1 else None
        first = findings[0].methods if alike else ()
        self.methods = [each for each in first if all(each in finding.methods for finding in findings)]

    def own_methods(self, finding: Finding) -> list[Message]:
        """What a row says of its own about how it was measured."""
        return [each for each in finding.methods if each not in self.methods]

    def notes(self, language: Language) -> list[Html]:
        """Return the lines above the table."""
        notes = []
        if self.methods:
            notes.append(text("report.finding.how_all", language, method=listed(self.methods, language)))
        if self.source is not None:
            notes.append(text("report.finding.source_all", language, source=self.source.said(language)))
        return [tag("p", note, class_="small") for note in notes]


def _row(finding: Finding, shared: _Shared, page: _Page) -> Html:
    language = page.language
    labels = {each: text(f"report.finding.{each}", language) for each in COLUMNS}
    own = shared.own_methods(finding)
    how = (
        tag("span", text("report.finding.how", language, method=listed(own, language)), class_="how")
        if own
        else ""
    )
    source = tag("td", finding.source.said(language), data_label=labels["source"], class_="source")
    return tag(
        "tr",
        tag("td", tag("strong", verdict(finding, language)), data_label=labels["verdict"], class_="sign"),
        tag("th", finding.said(language), how, _change(finding, page), _place(finding, page), scope="row"),
        tag("td", value_of(finding, language), data_label=labels["value"], class_="number"),
        tag("td", limit_of(finding, language), data_label=labels["limit"], class_="number"),
        *([source] if shared.source is None else []),
        class_=state_of([finding]),
    )


def _change(finding: Finding, page: _Page) -> Html:
    advice = page.advice.get(finding.row)
    if finding.holds or advice is None:
        return Html("")
    return tag("span", change_in_words(advice, page.language), class_="change")


def _place(finding: Finding, page: _Page) -> Html:
    """Where a script puts a button that shows the place."""
    if finding.where is None:
        return Html("")
    return tag("span", data_place=json.dumps(finding.where), data_what=finding.said(page.language))


def _with_unit(value: str, unit: str) -> str:
    sign = unit_sign(unit)
    return f"{value}{sign}" if sign == "°" else f"{value} {sign}".strip()
