"""The files of a comparison: a table for programs, a table for people, and a page with pictures."""

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence
from html import escape
from typing import Any

from print3d import __version__
from print3d.exports.files import Draft
from print3d.exports.pictures import webp
from print3d.exports.report import asset
from print3d.inputs.case import Case, canonical_data
from print3d.inputs.cautions import CAUTIONS
from print3d.inputs.problems import in_words
from print3d.orthoses.built import Orthosis
from print3d.studies.compare import Comparison, Row
from print3d.studies.compare_live import live_views
from print3d.studies.difference import difference_picture, measure_difference
from print3d.studies.files import Files
from print3d.studies.outcome import FIGURES, Figure
from print3d.studies.page import figure_html, page, table_html
from print3d.studies.plots import effects, margins_matrix, trade_off

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
Build = Callable[[Any], Orthosis]
Shown = Sequence[tuple[Row, Draft]]
Views = Callable[[Shown], str]
"""Variants with their drafts -> the HTML that shows them side by side."""


def files_of(comparison: Comparison, build: Build, views: Views | None = None) -> Files:
    """Return table, data, plots and page.

    build : makes the orthosis of a case again, for pictures; only of the variants shown
    views : how variants are shown side by side; None: linked views in three dimensions, with pictures behind them
    """
    shown = [(row, Draft(case, build(case), ())) for row, case in shown_rows(comparison)]
    plots = {
        "trade_off.png": trade_off(comparison),
        "effects.png": effects(comparison),
        "margins.png": margins_matrix(comparison),
        "difference.png": _difference(shown),
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


def shown_rows(comparison: Comparison) -> list[tuple[Row, Case[Any]]]:
    """Return the first rows of different shapes, with their cases: what is printed from changes no shape."""
    found: dict[str, tuple[Row, Case[Any]]] = {}
    for row in comparison.rows:
        if row.variant.case is not None and not row.outcome.message:
            shape = {key: value for key, value in canonical_data(row.variant.case).items() if key != "print"}
            found.setdefault(json.dumps(shape, sort_keys=True), (row, row.variant.case))
    return list(found.values())[:MOST_SHOWN]


def as_csv(comparison: Comparison) -> str:
    """Return one row for each variant, best first: what was set, the verdict, the figures, every finding's number."""
    findings = list(
        dict.fromkeys(
            (each["what"], each["unit"]) for row in comparison.rows for each in row.outcome.findings
        )
    )
    head = [
        "rank",
        "variant",
        "case",
        *comparison.keys,
        "holds",
        "worst finding",
        *(each.name for each in FIGURES),
    ]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow([*head, "message", *(f"{what} [{unit}]" if unit else what for what, unit in findings)])
    for rank, row in enumerate(comparison.rows, 1):
        outcome, tightest = row.outcome, row.outcome.tightest
        measured = {(each["what"], each["unit"]): each["measured"] for each in outcome.findings}
        figures = [_plain(outcome.figure(each.name)) for each in FIGURES]
        values = [
            value if isinstance(value, str) else in_words(value) for value in row.variant.values.values()
        ]
        table.writerow(
            [rank, row.number, row.variant.code, *values, outcome.holds, tightest[1] if tightest else "", *figures,
             outcome.message, *(_plain(measured.get(key)) for key in findings)]
        )  # fmt: skip
    return text.getvalue()


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def as_data(comparison: Comparison) -> dict[str, Any]:
    """Return everything as plain data, best first."""
    return {
        "version": __version__,
        "rule": comparison.rule,
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
                "worst_finding": row.outcome.tightest[1] if row.outcome.tightest else None,
                "message": row.outcome.message,
                "findings": list(row.outcome.findings),
            }
            for rank, row in enumerate(comparison.rows, 1)
        ],
    }


def _difference(shown: Shown) -> bytes | None:
    """The first variant against the next one of the same case that has another shape; None where there is none."""
    if not shown:
        return None
    first, draft = shown[0]
    for other, other_draft in shown[1:]:
        if other.variant.source != first.variant.source:
            continue
        difference = measure_difference(draft.orthosis, other_draft.orthosis)
        if difference.farthest_mm > 0.0:
            title = f"variant {first.number} against variant {other.number}"
            return difference_picture(difference, draft.case.case.side, title)
    return None


CAPTIONS = {
    "trade_off.png": "Mass against the worst margin.",
    "effects.png": "Every figure against every varied key; the line is the mean over the other keys.",
    "margins.png": "Margin of every finding.",
    "difference.png": "Where the best variant differs from the next of another shape: exact distance from each vertex to the "
    "nearest point of the other mesh.",
}


def _page(comparison: Comparison, plots: Mapping[str, bytes], side_by_side: str) -> str:
    codes = ", ".join(dict.fromkeys(row.variant.code for row in comparison.rows))
    best = comparison.best
    verdict = (
        "No variant passes every check."
        if best is None
        else f"Best: variant {best.number} ({best.variant.title}), {_worst_in_words(best)}."
    )
    images = {name: figure_html(webp(content), CAPTIONS[name], "webp") for name, content in plots.items()}
    return page(
        f"Variants of {codes}",
        [
            f'<p class="verdict">{escape(verdict)}</p><p>Order: {escape(comparison.rule)}.</p>',
            "<h2>Table</h2>" + _table(comparison),
            "<h2>Side by side</h2>" + side_by_side + images.get("difference.png", ""),
            "<h2>Plots</h2>" + "".join(html for name, html in images.items() if name != "difference.png"),
        ],
        VIEW_STYLE + asset("stage.css"),
    )


def _worst_in_words(row: Row) -> str:
    tightest = row.outcome.tightest
    return "no margins" if tightest is None else f"worst margin {tightest[0]:.0%} of its limit: {tightest[1]}"


def _table(comparison: Comparison) -> str:
    figures = comparison.figures
    keys = [key.removeprefix("orthosis.") for key in comparison.keys]
    cases = len({row.variant.code for row in comparison.rows}) > 1
    head = [
        "verdict",
        "variant",
        *(["case"] if cases else []),
        *keys,
        "checks",
        *(each.title for each in figures),
        "decides",
    ]
    rows = []
    for row in comparison.rows[:MOST_ON_PAGE]:
        values = [
            value if isinstance(value, str) else in_words(value) for value in row.variant.values.values()
        ]
        cells = [_mark(row, comparison), str(row.number), *([row.variant.code] if cases else []), *values]
        rows.append([*cells, *_verdict(row, figures)])
    left_out = len(comparison.rows) - MOST_ON_PAGE
    note = f"<p>{left_out} more variants are in compare.csv.</p>" if left_out > 0 else ""
    return table_html(head, rows) + note


def _mark(row: Row, comparison: Comparison) -> str:
    return "best" if row is comparison.best else "+" if row.outcome.holds else "x"


def _verdict(row: Row, figures: Sequence[Figure]) -> list[str]:
    outcome = row.outcome
    if outcome.message:
        return ["cannot be built", *("" for _ in figures), outcome.message]
    numbers = [(outcome.figure(each.name), each) for each in figures]
    shown = ["" if value is None else f"{value:.0%}" if each.name == "margin" else f"{value:.{each.decimals}f}"
             for value, each in numbers]  # fmt: skip
    failing = outcome.failing
    tightest = outcome.tightest[1] if outcome.tightest else ""
    return [f"{len(failing)} fail" if failing else "all hold", *shown, "; ".join(failing) or tightest]
