"""Plots of a comparison, drawn without a screen."""

import io
from collections.abc import Mapping
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from print3d.checks.finding import RowId
from print3d.language.catalogue import Language, decimal_mark, text
from print3d.output.studies.words import figure_title, key_name, value_name
from print3d.studies.compare import Comparison
from print3d.studies.outcome import OutcomeColumn, relative_margin, tells_good_from_better

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure

HOLDS, FAILS, BEST, GREY = "#2b6ca3", "#c0392b", "#1d8348", "#8a9199"
MOST_NAMED = 12
"""More names than this on one plot cannot be read."""
MOST_IN_MATRIX = 16
"""Variants of a matrix whose names can be read; own choice."""
LABEL_LETTERS = 26
"""Letters on a line beside an axis; own choice."""
NAME_LETTERS = 16
"""Letters on a line below a mark; own choice."""
LETTERS_AN_INCH = 11
"""Letters of a title to the inch; own choice."""
LEAST_STEPS = 5
"""An axis spans at least this many steps of the last decimal: finer differences are none."""
SHOWN = 1.0
"""A margin as large as its limit has the deepest colour."""


def figure(
    width: float, height: float, *, rows: int = 1, columns: int = 1
) -> "tuple[Figure, list[list[Axes]]]":
    """Return a figure (inches) and its axes (rows, columns)."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    sheet = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(sheet)
    return sheet, sheet.subplots(rows, columns, squeeze=False).tolist()


def as_png(sheet: "Figure", language: Language) -> bytes:
    """Return a figure as a PNG file, the numbers along its axes as the language writes them."""
    if decimal_mark(language) != ".":
        for axes in sheet.axes:
            _write_numbers(axes.xaxis, language)
            _write_numbers(axes.yaxis, language)
    file = io.BytesIO()
    sheet.savefig(file, format="png", dpi=110)
    return file.getvalue()


def _write_numbers(axis: "Axis", language: Language) -> None:
    """Give an axis whose marks are numbers, not names, the decimal mark of a language."""
    from matplotlib.ticker import ScalarFormatter

    class Written(ScalarFormatter):
        def __call__(self, x: float, pos: int | None = None) -> str:
            return str(super().__call__(x, pos)).replace(".", decimal_mark(language))

    if isinstance(axis.get_major_formatter(), ScalarFormatter):
        axis.set_major_formatter(Written())


def trade_off(comparison: Comparison) -> bytes:
    """Mass against worst margin, a point for each variant that was built."""
    sheet, axes = figure(7.5, 4.8)
    language = comparison.language
    panel, best = axes[0][0], comparison.best
    rows = [row for row in comparison.rows if row.outcome.figure("margin") is not None]
    for row in rows:
        x, y = row.outcome.figure("mass_g") or 0.0, 100.0 * (row.outcome.figure("margin") or 0.0)
        colour = BEST if row is best else HOLDS if row.outcome.holds else FAILS
        panel.scatter(
            x, y, color=colour, marker="o" if row.outcome.holds else "x", s=90 if row is best else 36
        )
        if row is best or len(rows) <= MOST_NAMED:
            panel.annotate(f" {row.number}", (x, y), fontsize=9, color=colour)
    panel.axhline(0.0, color=GREY, linewidth=0.8)
    panel.set_xlabel(text("studies.figure.mass_g", language))
    panel.set_ylabel(text("studies.figure.margin", language))
    panel.set_title(text("studies.compare.trade_off_key", language), loc="left", fontsize=10)
    return as_png(sheet, language)


def effects(comparison: Comparison) -> bytes | None:
    """Every figure of merit against every varied key, and the mean over the other keys; None where nothing is varied."""
    keys, figures = comparison.keys, comparison.figures_of_merit
    if not keys or not figures:
        return None
    language = comparison.language
    sheet, axes = figure(
        3.6 * len(keys) + 0.8, 2.5 * len(figures) + 0.3, rows=len(figures), columns=len(keys)
    )
    for line, each in zip(axes, figures, strict=True):
        for panel, key in zip(line, keys, strict=True):
            _effect(panel, comparison, key, each)
            panel.set_ylabel(fill(figure_title(each, language), LABEL_LETTERS) if panel is line[0] else "")
    for panel, key in zip(axes[-1], keys, strict=True):
        panel.set_xlabel(key_name(key, language))
    return as_png(sheet, language)


def _effect(panel: "Axes", comparison: Comparison, key: str, each: OutcomeColumn) -> None:
    """Points of all variants over the values of a key, with their mean at each."""
    rows, language = comparison.rows, comparison.language
    values = list(dict.fromkeys(row.variant.values[key] for row in rows))
    numbers = sorted(
        value for value in values if isinstance(value, int | float) and not isinstance(value, bool)
    )
    is_number = len(numbers) == len(values)
    values = [*numbers] if is_number else sorted(values, key=str)
    places = [float(each) for each in (numbers if is_number else range(len(values)))]
    means = []
    for place, value in zip(places, values, strict=True):
        found = [
            (each.scale * measured, row.outcome.holds)
            for row in rows
            if row.variant.values[key] == value and (measured := row.outcome.figure(each.name)) is not None
        ]
        for number, holds in found:
            panel.scatter(
                place, number, color=HOLDS if holds else FAILS, s=16, marker="o" if holds else "x", alpha=0.7
            )
        means.append(float(np.mean([number for number, _ in found])) if found else np.nan)
    panel.plot(places, means, color=GREY, linewidth=1.2, zorder=0)
    names = [
        f"{value:g}".replace(".", decimal_mark(language)) if is_number else value_name(key, value, language)
        for value in values
    ]
    panel.set_xticks(places, names if is_number else [fill(name, NAME_LETTERS) for name in names])
    panel.grid(alpha=0.25)
    if not is_number:
        panel.set_xlim(-0.5, len(places) - 0.5)
    low, high = panel.get_ylim()
    least = LEAST_STEPS * 10.0**-each.decimals
    if high - low < least:
        panel.set_ylim((low + high - least) / 2.0, (low + high + least) / 2.0)


def margins_matrix(comparison: Comparison) -> bytes | None:
    """The relative margin of every finding (rows) of the first variants (columns); None if none was built."""
    language = comparison.language
    rows = [row for row in comparison.rows if row.outcome.findings][:MOST_IN_MATRIX]
    cells = {
        (each.row, column): relative_margin(each) if tells_good_from_better(each) else np.inf
        for column, row in enumerate(rows)
        for each in row.outcome.findings
    }
    names = {each.row: each.brief for row in reversed(rows) for each in row.outcome.findings}
    known = [row for row in dict.fromkeys(row for row, _ in cells) if _has_margin(row, cells)]
    if not known:
        return None
    table = np.array([[cells.get((row, column), np.nan) for column in range(len(rows))] for row in known])
    width = 6.4 + 0.5 * len(rows)
    sheet, axes = figure(width, 1.5 + 0.27 * len(known))
    panel = axes[0][0]
    shown = panel.imshow(
        np.where(np.isinf(table), np.nan, table), cmap="RdBu", vmin=-SHOWN, vmax=SHOWN, aspect="auto"
    )
    for at, value in np.ndenumerate(table):
        colour = "white" if np.isfinite(value) and abs(value) > 0.6 * SHOWN else "black"
        panel.text(at[1], at[0], _percent(value), ha="center", va="center", fontsize=7, color=colour)
    panel.set_xticks(range(len(rows)), [str(row.number) for row in rows])
    said = [_short(names[row].said(language)) for row in known]
    panel.set_yticks(range(len(known)), said, fontsize=8)
    panel.set_xlabel(text("studies.compare.best_first", language))
    sheet.suptitle(
        fill(text("studies.compare.margins_key", language), int(LETTERS_AN_INCH * width)), fontsize=10
    )
    bar = sheet.colorbar(shown, ax=panel, shrink=0.6, format=lambda value, _: f"{100 * value:.0f} %")
    bar.set_label(text("studies.compare.margin_bar", language))
    return as_png(sheet, language)


def _has_margin(row: RowId, cells: Mapping[tuple[RowId, int], float]) -> bool:
    """Whether a finding has a margin in any variant, not only a verdict."""
    return any(np.isfinite(value) for (each, _), value in cells.items() if each == row)


def _percent(value: float) -> str:
    if not np.isfinite(value):
        return "" if np.isnan(value) else "+"
    return f"{100 * value:.0f}" if abs(value) < 9.995 else ">999" if value > 0 else "<-999"


def _short(name: str, longest: int = 70) -> str:
    return name if len(name) <= longest else name[: longest - 3] + "..."
