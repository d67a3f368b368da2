"""Every finding as sign, word, number, limit and source, worst first and grouped by check."""

import json
from collections.abc import Sequence

import numpy as np

from print3d.checks.finding import Finding
from print3d.exports.html import Html, joined, tag
from print3d.geometry.frames import mirrored
from print3d.texts.catalogue import Language, catalogue, number, text

COLUMNS = ("verdict", "what", "value", "limit", "source")


def urgency(finding: Finding) -> tuple[bool, float]:
    """Return a sort key: failing first, then by margin relative to the limit."""
    limit = finding.limit if not isinstance(finding.limit, tuple) else max(map(abs, finding.limit))
    return finding.holds, finding.margin / max(abs(limit), 1e-9)


def by_urgency(findings: Sequence[Finding]) -> list[Finding]:
    """Return the findings, worst first."""
    return sorted(findings, key=urgency)


def groups(findings: Sequence[Finding]) -> dict[str, list[Finding]]:
    """Return the findings of each check, worst first, the check with the worst one first."""
    found: dict[str, list[Finding]] = {}
    for finding in by_urgency(findings):
        found.setdefault(finding.check, []).append(finding)
    return found


def findings_part(findings: Sequence[Finding], side: str, language: Language) -> Html:
    """Return a table for each check."""
    tables = [_group(check, each, side, language) for check, each in groups(findings).items()]
    return joined([tag("p", text("report.finding.order", language)), *tables])


def in_short(finding: Finding, language: Language) -> Html:
    """Return a finding as a line: sign, word, what, value and limit."""
    return joined(
        [
            tag("strong", verdict(finding, language)),
            f" {finding.what}: {value_of(finding, language)} ({limit_of(finding, language)})",
        ]
    )


def verdict(finding: Finding, language: Language) -> str:
    """Return sign and word."""
    sign, word = ("+", "holds") if finding.holds else ("x", "fails")
    return f"{sign} {text(f'common.finding.{word}', language)}"


def value_of(finding: Finding, language: Language) -> str:
    """Return number and unit; a count has no decimals."""
    decimals = 0 if not finding.unit and float(finding.measured).is_integer() else 2
    return _with_unit(number(finding.measured, language, decimals=decimals), finding.unit)


def limit_of(finding: Finding, language: Language) -> str:
    """Return the limit in words."""
    unit = _sign(finding.unit)
    if isinstance(finding.limit, tuple):
        low, high = (float(end) for end in finding.limit)
        words = text("common.finding.between", language, low=low, high=high, unit=unit)
    else:
        key = "at_least" if finding.sense == "at least" else "at_most"
        words = text(f"common.finding.{key}", language, limit=float(finding.limit), unit=unit)
    return words.replace(" °", "°").strip()


def title_of(check: str, language: Language) -> str:
    """Return what a check is called on the page."""
    key = f"report.check.{check}"
    return text(key, language) if key in catalogue(language) else check.replace("_", " ").capitalize()


def _group(check: str, findings: Sequence[Finding], side: str, language: Language) -> Html:
    failed, title = sum(not each.holds for each in findings), title_of(check, language)
    state = "fails" if failed else "holds"
    summary = text(f"report.finding.group_{state}", language, failed=failed, count=len(findings))
    sign = "x" if failed else "+"
    head = tag("tr", *(tag("th", text(f"report.finding.{each}", language), scope="col") for each in COLUMNS))
    rows = [_row(each, side, language) for each in findings]
    caption = tag("caption", f"{title}: {sign} {summary}")
    whole = tag("table", caption, tag("thead", head), tag("tbody", *rows), class_="findings")
    return joined([tag("h3", f"{title} ", tag("span", f"{sign} {summary}", class_=f"count {state}")), whole])


def _row(finding: Finding, side: str, language: Language) -> Html:
    labels = dict(zip(COLUMNS, (text(f"report.finding.{each}", language) for each in COLUMNS), strict=True))
    how = tag("span", text("report.finding.how", language, method=finding.method), class_="how")
    state = "holds" if finding.holds else "fails"
    return tag(
        "tr",
        tag("td", tag("strong", verdict(finding, language)), data_label=labels["verdict"], class_="sign"),
        tag("th", finding.what, how, _place(finding, side), scope="row"),
        tag("td", value_of(finding, language), data_label=labels["value"], class_="number"),
        tag("td", limit_of(finding, language), data_label=labels["limit"], class_="number"),
        tag("td", finding.source, data_label=labels["source"]),
        class_=state,
    )


def _place(finding: Finding, side: str) -> Html:
    """Where a script puts a button that shows the place, for the hand of the case."""
    if finding.where is None:
        return Html("")
    at = np.array(finding.where)
    place = [float(each) for each in (mirrored(at) if side == "left" else at)]
    return tag("span", data_place=json.dumps(place), data_what=finding.what)


def _with_unit(value: str, unit: str) -> str:
    sign = _sign(unit)
    return f"{value}{sign}" if sign == "°" else f"{value} {sign}".strip()


def _sign(unit: str) -> str:
    return {"deg": "°", "percent": "%"}.get(unit, unit)
