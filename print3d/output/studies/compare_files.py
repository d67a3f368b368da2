"""The files of a comparison: a table for programs, a table for people, and a page with pictures."""

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence

from print3d import __version__
from print3d.built import Built
from print3d.checks.finding import Finding, RowId, finding_as_data
from print3d.inputs.case import Case, canonical_data
from print3d.inputs.cautions import CAUTIONS
from print3d.inputs.problems import in_words
from print3d.language.catalogue import Language, text
from print3d.language.message import listed
from print3d.output.page.html import joined, tag
from print3d.output.page.report import asset
from print3d.output.page.report_findings import SIGN, State
from print3d.output.pictures.views import webp
from print3d.output.studies.compare_live import live_views
from print3d.output.studies.difference import difference_picture, measure_difference
from print3d.output.studies.page import TableRow, chart_html, page, table_html
from print3d.output.studies.plots import effects, margins_matrix, trade_off
from print3d.output.studies.words import (
    PROGRAMS,
    figure_title,
    figure_value,
    key_name,
    percent,
    signed,
    value_name,
    variant_title,
)
from print3d.studies.compare import ComparedVariant, Comparison
from print3d.studies.files import Files
from print3d.studies.outcome import FIGURES

MOST_SHOWN = 4
"""Variants whose pictures stand side by side."""
MOST_ON_PAGE = 200
"""Rows of the page's table; the others are in the CSV file."""

VIEW_STYLE = """
:root { --ink: #1e2228; --quiet: #4d5661; --line: #c9ced5; --soft: #f3f5f7; --link: #0b5394; }
* { box-sizing: border-box; }
.small { color: var(--quiet); font-size: .88rem; }
.bar-of-controls { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 17rem), 1fr)); gap: .8rem; align-items: start; }
.pair .frame { height: min(24rem, 60vh); }
.pair figure { margin: .4rem 0; min-width: 0; }
.pair figcaption { font-weight: 600; color: var(--ink); }
@media print { #live-3d { display: none !important; } details#still::details-content { content-visibility: visible; height: auto; } summary { display: none; } }
"""
Shape = Callable[[Case], Built]
Shown = Sequence[tuple[ComparedVariant, Built]]
Views = Callable[[Shown], str]
"""Variants as they are built -> the HTML that shows them side by side."""


def files_of(comparison: Comparison, shape: Shape, views: Views | None = None) -> Files:
    """Return table, data, plots and page.

    shape : makes the orthosis of a case again, for pictures; only of the variants shown
    views : how variants are shown side by side; None: linked views in three dimensions, with pictures behind them
    """
    shown = [(row, shape(case)) for row, case in shown_rows(comparison)]
    plots = {
        "trade_off.png": trade_off(comparison),
        "effects.png": effects(comparison),
        "margins.png": margins_matrix(comparison),
        "difference.png": _difference(shown, comparison.language),
    }
    drawn = {name: content for name, content in plots.items() if content is not None}
    html = _page(comparison, drawn, (views or live_views)(shown))
    return Files(
        {
            "compare.html": html.encode(),
            "compare.csv": as_csv(comparison).encode(),
            "compare.json": (json.dumps(as_data(comparison), indent=2, ensure_ascii=False) + "\n").encode(),
            **drawn,
        }
    )


def shown_rows(comparison: Comparison) -> list[tuple[ComparedVariant, Case]]:
    """Return the first rows of different shapes, with their cases: what is printed from changes no shape."""
    found: dict[str, tuple[ComparedVariant, Case]] = {}
    for row in comparison.rows:
        if row.variant.case is not None and not row.outcome.refused:
            shape = {key: value for key, value in canonical_data(row.variant.case).items() if key != "print"}
            found.setdefault(json.dumps(shape, sort_keys=True), (row, row.variant.case))
    return list(found.values())[:MOST_SHOWN]


def as_csv(comparison: Comparison) -> str:
    """Return one row for each variant, best first: what was set, the verdict, the figures, every finding's number."""
    findings = _first_of_each_row(comparison)
    head = [
        "rank",
        "variant",
        "case",
        *comparison.keys,
        "holds",
        "worst finding",
        *(each.name for each in FIGURES),
    ]
    file = io.StringIO()
    table = csv.writer(file, lineterminator="\n")
    table.writerow([*head, "message", *(_headed(each, PROGRAMS) for each in findings.values())])
    for rank, row in enumerate(comparison.rows, 1):
        outcome, tightest = row.outcome, row.outcome.tightest
        measured = {each.row: each.measured for each in outcome.findings}
        figures = [_plain(outcome.figure(each.name)) for each in FIGURES]
        values = [
            value if isinstance(value, str) else in_words(value) for value in row.variant.values.values()
        ]
        table.writerow(
            [rank, row.number, row.variant.code, *values, outcome.holds, tightest[1].said(PROGRAMS) if tightest else "", *figures,
             listed(outcome.refused, PROGRAMS), *(_plain(measured.get(key)) for key in findings)]
        )  # fmt: skip
    return file.getvalue()


def _first_of_each_row(comparison: Comparison) -> dict[RowId, Finding]:
    """Return every row of findings that any variant has, with its first finding."""
    found: dict[RowId, Finding] = {}
    for row in comparison.rows:
        for each in row.outcome.findings:
            found.setdefault(each.row, each)
    return found


def _headed(finding: Finding, language: Language) -> str:
    what = finding.brief.said(language)
    return f"{what} [{finding.unit}]" if finding.unit else what


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def as_data(comparison: Comparison) -> dict[str, object]:
    """Return everything as plain data, best first."""
    return {
        "version": __version__,
        "rule": comparison.rule(),
        "best_by": comparison.best_by,
        "best": None if comparison.best is None else comparison.best.number,
        "cautions": CAUTIONS,
        "variants": [
            {
                "rank": rank,
                "variant": row.number,
                "case": row.variant.code,
                "file": str(row.variant.source),
                "values": dict(row.variant.values),
                "holds": row.outcome.holds,
                "figures": {each.name: row.outcome.figure(each.name) for each in FIGURES},
                "worst_finding": finding_as_data(row.outcome.tightest[1], PROGRAMS)
                if row.outcome.tightest
                else None,
                "message": listed(row.outcome.refused, PROGRAMS),
                "refused": [each.as_data() for each in row.outcome.refused],
                "findings": [finding_as_data(each, PROGRAMS) for each in row.outcome.findings],
            }
            for rank, row in enumerate(comparison.rows, 1)
        ],
    }


def _difference(shown: Shown, language: Language) -> bytes | None:
    """The first variant against the next one of the same case that has another shape; None where there is none."""
    if not shown:
        return None
    first, built = shown[0]
    for other, other_built in shown[1:]:
        if other.variant.source != first.variant.source:
            continue
        difference, head = measure_difference(built, other_built), built.case.header
        if difference.farthest_mm > 0.0:
            title = text("studies.compare.difference_of", language, number=first.number, other=other.number,
                         farthest_mm=difference.farthest_mm)  # fmt: skip
            return difference_picture(difference, head.side, title, language)
    return None


def _page(comparison: Comparison, plots: Mapping[str, bytes], side_by_side: str) -> str:
    language = comparison.language

    def say(key: str, **values: object) -> str:
        return text(key, language, **values)

    codes = ", ".join(dict.fromkeys(row.variant.code for row in comparison.rows))
    images = {
        name: chart_html(webp(content), say(f"studies.compare.{name.removesuffix('.png')}"), "webp")
        for name, content in plots.items()
    }
    others = "".join(html for name, html in images.items() if name != "difference.png")
    order = say("studies.compare.order", rule=comparison.rule(language))
    return page(
        say("studies.compare.title", codes=codes),
        [
            joined([tag("p", _verdict(comparison), class_="verdict"), tag("p", order)]),
            tag("h2", say("studies.compare.table")) + _table(comparison),
            tag("h2", say("studies.compare.side_by_side")) + side_by_side + images.get("difference.png", ""),
            tag("h2", say("studies.compare.plots")) + others,
        ],
        language,
        VIEW_STYLE + asset("stage.css"),
    )


def _verdict(comparison: Comparison) -> str:
    """The best variant in a sentence, and how far its tightest check is from the limit."""
    best, language = comparison.best, comparison.language
    if best is None:
        return text("studies.compare.none_best", language)
    tightest = best.outcome.tightest
    margin = (
        text("studies.compare.no_margin", language)
        if tightest is None
        else text(
            "studies.compare.margin",
            language,
            margin=percent(tightest[0], language),
            what=tightest[1].said(language),
        )
    )
    title = variant_title(best.variant, language)
    return text("studies.compare.best", language, number=best.number, title=title, margin=margin)


def _table(comparison: Comparison) -> str:
    language = comparison.language
    keys = [key_name(key, language) for key in comparison.keys]
    has_cases = len({row.variant.code for row in comparison.rows}) > 1
    verdict, variant, case, checks, tightest = (
        text(f"studies.compare.{each}", language)
        for each in ("verdict", "variant", "case", "checks", "tightest")
    )
    titles = [figure_title(each, language) for each in comparison.figures_of_merit]
    head = [verdict, variant, *([case] if has_cases else []), *keys, checks, *titles, tightest]
    rows = []
    for row in comparison.rows[:MOST_ON_PAGE]:
        values = [value_name(key, value, language) for key, value in row.variant.values.items()]
        codes = [row.variant.code] if has_cases else []
        cells = [_sign(row, comparison), str(row.number), *codes, *values, *_measured(row, comparison)]
        rows.append(TableRow(cells, "best" if row is comparison.best else "" if row.outcome.holds else "x"))
    left_out = len(comparison.rows) - MOST_ON_PAGE
    note = tag("p", text("studies.compare.more", language, n=left_out)) if left_out > 0 else ""
    return table_html(head, rows, language) + note


def _sign(row: ComparedVariant, comparison: Comparison) -> str:
    """Sign and word."""
    if row is comparison.best:
        return signed("+", text("studies.best", comparison.language), comparison.language)
    state: State = "holds" if row.outcome.holds else "fails"
    return signed(SIGN[state], text(f"common.finding.{state}", comparison.language), comparison.language)


def _measured(row: ComparedVariant, comparison: Comparison) -> list[str]:
    """How many checks hold, the figures, and what decides.

    Why there are none is said as the program said it, in English.
    """
    outcome, language, figures = row.outcome, comparison.language, comparison.figures_of_merit
    if outcome.refused:
        return [
            text("studies.compare.cannot", language),
            *("" for _ in figures),
            listed(outcome.refused, language),
        ]
    shown = [figure_value(each, outcome.figure(each.name), language) for each in figures]
    failing = outcome.failing
    checks = "failing" if failing else "all_hold"
    decides = failing or ([outcome.tightest[1]] if outcome.tightest else [])
    said = "; ".join(each.said(language) for each in decides)
    return [text(f"studies.compare.{checks}", language, n=len(failing)), *shown, said]
