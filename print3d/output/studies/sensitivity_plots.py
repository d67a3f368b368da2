"""Plots of a study of measuring errors, drawn without a screen."""

from textwrap import fill

import numpy as np

from print3d.language.catalogue import text
from print3d.output.studies.plots import BEST, FAILS, GREY, HOLDS, as_png, figure
from print3d.output.studies.words import fit_names, percent, source_name
from print3d.studies.sensitivity import Sensitivity

MOST_SOURCES = 14
"""Unknowns that are shown, those that matter most; own choice."""
NAME_LETTERS = 48
"""Letters on a line of what is asked of the fit; own choice."""
AXIS_LETTERS = 40
"""Letters on a line below an axis; own choice."""


def probabilities(result: Sensitivity) -> bytes:
    """How probable each thing asked of the fit is, with its interval."""
    language = result.language
    names = [fill(each, NAME_LETTERS) for each in (text("studies.fit.all", language), *fit_names(result))]
    found = [result.fit, *result.each]
    sheet, axes = figure(9.5, 1.3 + 0.4 * len(names))
    panel = axes[0][0]
    for place, each in enumerate(found):
        colour = BEST if place == 0 else HOLDS
        panel.barh(place, 100 * each.share, color=colour, height=0.62, alpha=0.85)
        panel.plot([100 * each.low, 100 * each.high], [place, place], color="black", linewidth=1.4)
        panel.text(101, place, percent(each.share, language), va="center", fontsize=9)
    panel.set_yticks(range(len(names)), names, fontsize=9)
    panel.invert_yaxis()
    panel.set_xlim(0, 122)
    panel.set_xticks(range(0, 101, 20))
    panel.set_xlabel(fill(text("studies.fit.probability_axis", language), AXIS_LETTERS))
    return as_png(sheet, language)


def shares_matrix(result: Sensitivity) -> bytes:
    """Which unknown decides which finding."""
    order = np.argsort(-result.importance, kind="stable")[:MOST_SOURCES]
    table, language = 100.0 * result.shares[:, order], result.language
    names = [source_name(result.sources[at], language) for at in order]
    sheet, axes = figure(4.5 + 0.62 * len(order), 2.6 + 0.34 * len(table))
    panel = axes[0][0]
    panel.imshow(table, cmap="Blues", vmin=0, vmax=100, aspect="auto")
    for at, value in np.ndenumerate(table):
        if value >= 1.0:
            panel.text(
                at[1],
                at[0],
                f"{value:.0f}",
                ha="center",
                va="center",
                fontsize=8,
                color="white" if value > 55 else "black",
            )
    panel.set_xticks(range(len(order)), names, rotation=35, ha="right", fontsize=8)
    panel.set_yticks(range(len(table)), [fill(each, NAME_LETTERS) for each in fit_names(result)], fontsize=8)
    panel.set_title(text("studies.fit.shares_key", language), loc="left", fontsize=10)
    return as_png(sheet, language)


def clearance_curve(result: Sensitivity) -> bytes | None:
    """The probability of a fit against the clearance; None if none was tried."""
    tried, language = result.fit_by_clearance, result.language
    all_of_it, interval, asked, best, axis, probability = (
        text(f"studies.fit.{each}", language)
        for each in ("all", "interval", "asked_line", "best_line", "clearance_axis", "probability")
    )
    if not tried:
        return None
    at, share = np.array(list(tried)), np.array([100 * each.share for each in tried.values()])
    sheet, axes = figure(7.5, 4.6)
    panel = axes[0][0]
    low, high = 100 * np.array([(each.low, each.high) for each in tried.values()]).T
    panel.fill_between(at, low, high, color=HOLDS, alpha=0.15, label=interval)
    panel.plot(at, share, color=HOLDS, marker="o", linewidth=2.2, label=all_of_it)
    built = next(each for each in result.by_clearance.values() if not each.refused)
    names = [name.said(language) for name in built.names]
    for number, name in enumerate(names):
        each = [
            100 * found.holds[:, number].mean() for found in result.by_clearance.values() if not found.refused
        ]
        if min(each) < 97.0:
            panel.plot(at, each, linewidth=1.0, linestyle="--", label=fill(name, NAME_LETTERS))
    panel.axvline(result.case.orthosis.clearance_mm, color=GREY, linewidth=0.9, label=asked)
    if result.best_clearance_mm is not None:
        panel.axvline(result.best_clearance_mm, color=FAILS, linewidth=0.9, linestyle=":", label=best)
    panel.set_ylim(0, 102)
    panel.set_xlabel(axis)
    panel.set_ylabel(probability)
    panel.legend(fontsize=7)
    panel.grid(alpha=0.25)
    return as_png(sheet, language)
