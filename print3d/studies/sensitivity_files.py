"""The files of a study of measuring errors: tables for programs and a page for people."""

import csv
import io
import json
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

import numpy as np

from print3d import __version__
from print3d.inputs.cautions import CAUTIONS
from print3d.studies.files import Files
from print3d.studies.page import figure_html, page, table_html
from print3d.studies.sensitivity import SHARES, Sensitivity
from print3d.studies.sensitivity_plots import clearance_curve, probabilities, shares_matrix
from print3d.studies.uncertainty import Source

ASSUMPTIONS = (
    "Girths and lengths by tape: no published error of a finger tape was found; SD 1.0 mm is from memory. The rounding of a whole-mm "
    "scale alone is 0.29 mm.",
    "Swelling: a finger can change by a ring size, 2.5 mm of girth, within a day (common practice, no single source), read as two SD; "
    "all girths of the finger change in proportion.",
    "Print: the printer's tolerance on a size, read as two SD; half of it on every surface, outward or inward.",
    "What was not measured varies as published proportions leave open, correlated as they give it; joint centres vary against the creases.",
    "The orthosis is put on at the crease of the joint it holds or stops and settles there as its plan says; it does not bend.",
)


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
            name,
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
    rows.append(["everything at once", "", *_numbers(fit.share, fit.low, fit.high)])
    return _csv([*head, *(f"share of {each.words} ({each.origin})" for each in result.sources)], rows)


def clearances_csv(result: Sensitivity) -> str:
    """Return a row for each clearance: the probability of a fit and of each finding, or why it cannot be built."""
    rows = []
    for clearance, found in result.by_clearance.items():
        fit = result.fit_by_clearance.get(clearance)
        numbers = [] if fit is None else [fit.share, fit.low, fit.high, *found.holds.mean(axis=0)]
        rows.append([f"{clearance:g}", found.message, *_numbers(*numbers)])
    return _csv(["clearance_mm", "message", "probability", "low", "high", *result.measured.names], rows)


def draws_csv(result: Sensitivity) -> str:
    """Return a row for each draw: every deviation in mm, and everything measured."""
    head = [*(f"{each.words} ({each.origin}) [mm]" for each in result.sources)]
    head += [
        f"{name} [{unit}]" if unit else name
        for name, unit in zip(result.measured.names, result.measured.units, strict=True)
    ]
    rows = [_numbers(*row) for row in np.hstack([result.deviations, result.measured.values])]
    return _csv(head, rows)


def as_data(result: Sensitivity) -> dict[str, Any]:
    """Return the study as plain data."""
    return {
        "version": __version__,
        "case": result.case.case.code,
        "seed": result.seed,
        "draws": len(result.deviations),
        "draws_without_a_finger": int(np.isnan(result.measured.margins).any(axis=1).sum()),
        "spreads_mm": vars(result.spreads),
        "loosest_mm": result.loosest.value,
        "assumptions": ASSUMPTIONS,
        "shares_are": SHARES,
        "cautions": CAUTIONS,
        "fit": vars(result.fit),
        "findings": [
            {
                "what": name, "unit": unit, **vars(each),
                "shares": {source.key: float(share) for source, share in zip(result.sources, shares, strict=True)},
            }
            for name, unit, each, shares in zip(
                result.measured.names, result.measured.units, result.each, result.shares, strict=True
            )
        ],
        "measure_first": [
            {"key": source.key, "what": source.words, "origin": source.origin, "share": share}
            for source, share in result.measure_first
        ],
        "clearances": {f"{each:g}": vars(found) for each, found in result.fit_by_clearance.items()},
        "best_clearance_mm": result.best_clearance_mm,
    }  # fmt: skip


def verdict(result: Sensitivity) -> list[str]:
    """Return what a therapist wants to know, in a few sentences."""
    fit = result.fit
    lines = [
        f"Fits in {_percent(fit.share)} of {len(result.measured.holds)} draws (95 % interval {_percent(fit.low)} to {_percent(fit.high)})."
    ]
    weakest = min(zip(result.each, result.measured.names, strict=True), key=lambda pair: pair[0].share)
    if weakest[0].share < 1.0:
        lines.append(f"Least sure: {weakest[1]}, {_percent(weakest[0].share)}.")
    if result.measure_first:
        source, share = result.measure_first[0]
        lines.append(f"{advice(source)} first: {source.words} decides {_percent(share)} of what may fail.")
    best, tried = result.best_clearance_mm, result.fit_by_clearance
    if best is not None:
        asked = result.case.orthosis.clearance_mm
        lines.append(
            f"Clearance with the most probable fit: {best:g} mm, {_percent(tried[best].share)} (asked: {asked:g} mm)."
        )
    return lines


def advice(source: Source) -> str:
    """Return what to do about a source: repeat a measurement or take it for the first time."""
    return "Repeat" if source.origin == "tape" else "Measure"


def _page(result: Sensitivity, plots: dict[str, bytes]) -> str:
    captions = {
        "probabilities.png": "How probable it is that each thing asked of the fit holds.",
        "shares.png": f"What decides: {SHARES}.",
        "clearance.png": "The clearance; dashed: things asked of the fit that are less than sure somewhere.",
    }
    images = "".join(figure_html(content, captions[name]) for name, content in plots.items())
    sources = [
        ["", each.words, each.origin, f"{each.sd_mm:.2f}", f"{share:.0%}"]
        for each, share in sorted(
            zip(result.sources, result.importance, strict=True), key=lambda pair: -pair[1]
        )
    ]
    each_row = [
        ["" if found.share >= 0.95 else "x", name, f"{found.share:.1%}", f"{found.low:.1%} to {found.high:.1%}", f"{median:.2f} {unit}",
         f"{low:.2f} to {high:.2f}"]
        for name, unit, found, (low, median, high) in zip(
            result.measured.names, result.measured.units, result.each,
            np.nanpercentile(result.measured.values, [5, 50, 95], axis=0).T, strict=True)
    ]  # fmt: skip
    said = "".join(f"<p>{escape(line)}</p>" for line in verdict(result))
    assumed = "".join(
        f"<li>{escape(each)}</li>"
        for each in (*ASSUMPTIONS, f"Too loose from {result.loosest.value:g} mm: {result.loosest.source}.")
    )
    return page(
        f"How surely {result.case.case.code} fits",
        [
            f'<div class="verdict">{said}</div>',
            "<h2>What is asked of the fit</h2>"
            + table_html(["", "what", "holds in", "95 % interval", "median", "5 to 95 % of draws"], each_row),
            "<h2>What is not known</h2>" + table_html(["", "what", "why", "SD, mm", "decides"], sources),
            f"<h2>Plots</h2>{images}",
            f"<h2>What is assumed</h2><ul>{assumed}</ul><p>Seed {result.seed}.</p>",
        ],
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _numbers(*values: float) -> list[str]:
    return [f"{float(value):.9g}" for value in values]


def _csv(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(head)
    table.writerows(rows)
    return text.getvalue()
