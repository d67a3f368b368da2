"""The files of a study of measuring errors: tables for programs and a page for people."""

import csv
import io
import json
from collections.abc import Iterable, Sequence
from functools import partial

import numpy as np

from print3d import __version__
from print3d.inputs.cautions import CAUTIONS
from print3d.language.catalogue import Language, lines, number, text
from print3d.language.message import listed
from print3d.output.page.html import bullets, joined, tag
from print3d.output.page.report_findings import measured_in_words
from print3d.output.studies.page import TableRow, chart_html, page, table_html
from print3d.output.studies.sensitivity_plots import clearance_curve, probabilities, shares_matrix
from print3d.output.studies.words import PROGRAMS, fit_names, percent, signed, source_name
from print3d.studies.files import Files
from print3d.studies.sensitivity import DEGREE, SURE, Sensitivity


def files_of(result: Sensitivity) -> Files:
    """Return tables, data, plots and page."""
    plots = {
        "probabilities.png": probabilities(result),
        "shares.png": shares_matrix(result),
        "clearance.png": clearance_curve(result),
    }
    drawn = {name: content for name, content in plots.items() if content is not None}
    return Files(
        {
            "sensitivity.html": _page(result, drawn).encode(),
            "findings.csv": findings_csv(result).encode(),
            "clearances.csv": clearances_csv(result).encode(),
            "draws.csv": draws_csv(result).encode(),
            "sensitivity.json": (json.dumps(as_data(result), indent=2, ensure_ascii=False) + "\n").encode(),
            **drawn,
        }
    )


def findings_csv(result: Sensitivity) -> str:
    """Return a row for each thing asked of the fit: its probability with interval, its spread, and every variance share."""
    head = ["what", "unit", "probability", "low", "high", "P5", "median", "P95"]
    rows = [
        [
            name.said(PROGRAMS),
            unit,
            *_numbers(each.share, each.low, each.high, *np.nanpercentile(values, [5, 50, 95]), *shares),
        ]
        for name, unit, each, values, shares in zip(
            result.measured.names,
            result.measured.units,
            result.each,
            result.measured.values.T,
            result.shares,
            strict=True,
        )
    ]
    fit = result.fit
    rows.append([text("studies.fit.all"), "", *_numbers(fit.share, fit.low, fit.high)])
    return _csv([*head, *(f"share of {source_name(each, 'en')}" for each in result.sources)], rows)


def clearances_csv(result: Sensitivity) -> str:
    """Return a row for each clearance.

    It has the probability of a fit and of each finding, or why it cannot be built.
    """
    rows = []
    for clearance, found in result.by_clearance.items():
        fit = result.fit_by_clearance.get(clearance)
        numbers = [] if fit is None else [fit.share, fit.low, fit.high, *found.holds.mean(axis=0)]
        rows.append([f"{clearance:g}", listed(found.refused, PROGRAMS), *_numbers(*numbers)])
    return _csv(["clearance_mm", "message", "probability", "low", "high", *fit_names(result, PROGRAMS)], rows)


def draws_csv(result: Sensitivity) -> str:
    """Return a row for each draw: every deviation in mm, and everything measured."""
    head = [*(f"{source_name(each, 'en')} [mm]" for each in result.sources)]
    head += [
        f"{name} [{unit}]" if unit else name
        for name, unit in zip(fit_names(result, PROGRAMS), result.measured.units, strict=True)
    ]
    rows = [_numbers(*row) for row in np.hstack([result.deviations, result.measured.values])]
    return _csv(head, rows)


def as_data(result: Sensitivity) -> dict[str, object]:
    """Return the study as plain data."""
    return {
        "version": __version__,
        "case": result.case.header.code,
        "seed": result.seed,
        "draws": len(result.deviations),
        "draws_without_a_finger": int(np.isnan(result.measured.margins).any(axis=1).sum()),
        "spreads_mm": vars(result.spreads),
        "loosest_mm": result.loosest.value,
        "assumptions": lines("studies.fit.assumptions"),
        "shares_are": text("studies.fit.shares_are", degree=DEGREE),
        "cautions": CAUTIONS,
        "fit": vars(result.fit),
        "findings": [
            {
                **name.as_data(), "what": name.said(PROGRAMS), "unit": unit, **vars(each),
                "shares": {source.key: float(share) for source, share in zip(result.sources, shares, strict=True)},
            }
            for name, unit, each, shares in zip(
                result.measured.names, result.measured.units, result.each, result.shares, strict=True
            )
        ],
        "measure_first": [
            {"key": source.key, "what": source.words(), "origin": source.origin, "share": share}
            for source, share in result.measure_first
        ],
        "clearances": {f"{each:g}": vars(found) for each, found in result.fit_by_clearance.items()},
        "best_clearance_mm": result.best_clearance_mm,
    }  # fmt: skip


def verdict(result: Sensitivity, language: Language = "en") -> list[str]:
    """Return what a therapist wants to know, in a few sentences."""
    fit, say = result.fit, partial(_say, language)
    share, low, high = (percent(each, language) for each in (fit.share, fit.low, fit.high))
    said = [say("fits", share=share, n=len(result.measured.holds), low=low, high=high)]
    weakest, what = min(zip(result.each, result.measured.names, strict=True), key=lambda pair: pair[0].share)
    if weakest.share < 1.0:
        said.append(say("weakest", what=what.said(language), share=percent(weakest.share, language)))
    if result.measure_first:
        source, decides = result.measure_first[0]
        advice = "repeat" if source.origin == "tape" else "measure"
        said.append(say(advice, what=source.words(language), share=percent(decides, language)))
    best, tried = result.best_clearance_mm, result.fit_by_clearance
    if best is not None:
        asked, share = float(result.case.orthosis.clearance_mm), percent(tried[best].share, language)
        said.append(say("clearance", best=best, share=share, asked=asked))
    return said


def _page(result: Sensitivity, plots: dict[str, bytes]) -> str:
    language = result.language
    say = partial(_say, language)
    captions = {
        "probabilities.png": say("probabilities"),
        "shares.png": say("shares", shares=say("shares_are", degree=DEGREE)),
        "clearance.png": say("curve"),
    }
    images = "".join(chart_html(content, captions[name]) for name, content in plots.items())
    source = result.loosest.source.said(language)
    loosest = say("loosest", loosest=float(result.loosest.value), source=source)
    assumed = bullets([*lines("studies.fit.assumptions", language), loosest])
    note = tag("p", say("asked_note", sure=percent(SURE, language)))
    return page(
        say("title", code=result.case.header.code),
        [
            tag("div", *(tag("p", line) for line in verdict(result, language)), class_="verdict"),
            tag("h2", say("asked_head")) + _asked_table(result) + note,
            tag("h2", say("unknown_head")) + _unknown_table(result),
            tag("h2", say("plots")) + images,
            joined([tag("h2", say("assumed")), assumed, tag("p", say("seed", seed=result.seed))]),
        ],
        language,
    )


def _asked_table(result: Sensitivity) -> str:
    """How probable each thing asked is, and what was measured of it over all fingers."""
    language, rows = result.language, list[TableRow]()
    spreads = np.nanpercentile(result.measured.values, [5, 50, 95], axis=0).T
    names, units = fit_names(result), result.measured.units
    for name, unit, found, spread in zip(names, units, result.each, spreads, strict=True):
        is_sure = found.share >= SURE
        word = text("studies.sure" if is_sure else "studies.unsure", language)
        sign = signed("+" if is_sure else "x", word, language)
        share, *ends = (
            f"{number(100.0 * each, language)}\u00a0%" for each in (found.share, found.low, found.high)
        )
        low, median, high = (measured_in_words(float(each), unit, language) for each in spread)
        cells = [sign, name, share, _span(language, *ends), median, _span(language, low, high)]
        rows.append(TableRow(cells, "" if is_sure else "x"))
    columns = ("verdict", "what", "share", "interval", "median", "spread")
    return table_html([_say(language, each) for each in columns], rows, language)


def _unknown_table(result: Sensitivity) -> str:
    """Everything that is not known, what decides most first."""
    language, rows = result.language, list[TableRow]()
    ranked = sorted(zip(result.sources, result.importance, strict=True), key=lambda pair: -pair[1])
    for source, share in ranked:
        sd, decides = number(source.sd_mm, language, decimals=2), percent(float(share), language)
        rows.append(TableRow([source.words(language), source.words_of_origin(language), sd, decides]))
    return table_html([_say(language, each) for each in ("what", "origin", "sd", "decides")], rows, language)


def _span(language: Language, low: str, high: str) -> str:
    return text("studies.span", language, low=low, high=high)


def _say(language: Language, name: str, **values: object) -> str:
    return text(f"studies.fit.{name}", language, **values)


def _numbers(*values: float) -> list[str]:
    return [f"{float(value):.9g}" for value in values]


def _csv(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    file = io.StringIO()
    table = csv.writer(file, lineterminator="\n")
    table.writerow(head)
    table.writerows(rows)
    return file.getvalue()
