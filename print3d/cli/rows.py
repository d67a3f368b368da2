"""What the terminal says of a case that was checked, in the language of the case."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.console import Console

from print3d.language.catalogue import Language, lines, number, text

if TYPE_CHECKING:
    from print3d.checks.finding import Finding
    from print3d.design.advice import Advice
    from print3d.printing.plan import PrintPlan

SIGNS = {"fails": "x", "watch": "!", "holds": "+"}
"""Sign of each verdict: known by shape and word, not by colour alone."""
STYLES = {"fails": "bold red", "watch": "bold yellow"}
MOST_WATCHED = 3
"""Findings to watch that are listed without -v, the nearest to their limits; the others are counted (own choice: a
case of which all checks hold then takes one screen of a terminal)."""
Row = tuple[str, ...]


def sign_of(finding: "Finding", language: Language) -> str:
    """Return sign and word of a verdict."""
    return f"{SIGNS[finding.verdict]} {text(f'terminal.{finding.verdict}', language)}"


def summary(findings: "Sequence[Finding]", language: Language) -> str:
    """Return how many checks there are, how many fail, and how many are to be watched."""
    failed = sum(not each.holds for each in findings)
    watched = sum(each.is_watched for each in findings)
    said = [
        text("terminal.checks", language, count=len(findings)),
        text("terminal.fail", language, count=failed) if failed else text("terminal.all_hold", language),
    ]
    return ", ".join([*said, text("terminal.to_watch", language, count=watched)] if watched else said)


def heads(language: Language) -> Row:
    """Return what stands above the columns of `row_of`."""
    return "", *lines("terminal.columns", language)


def print_rows(findings: "Sequence[Finding]", language: Language, *, verbose: bool) -> None:
    """Print findings worst first: a table on a terminal, a line for each in a pipe.

    How each was measured, from where on it is watched, those that simply hold and more than a few that are to be
    watched, only if `verbose`; else how many these are.
    """
    told = sorted(findings, key=lambda each: each.urgency)
    if not verbose:
        failing = [each for each in told if each.verdict == "fails"]
        told = [*failing, *[each for each in told if each.verdict == "watch"][:MOST_WATCHED]]
    columns = None if verbose else -1
    rows = [row_of(finding, language, verbose=verbose)[:columns] for finding in told]
    if not Console().is_terminal:
        for row in rows:
            print("  " + " | ".join(row))
    elif rows:
        from rich.table import Table

        table = Table(*heads(language)[:columns])
        for finding, row in zip(told, rows, strict=True):
            table.add_row(*row, style=STYLES.get(finding.verdict))
        Console().print(table)
    for verdict in ("watch", "holds"):
        left = sum(each.verdict == verdict for each in findings) - sum(
            each.verdict == verdict for each in told
        )
        if left:
            print("  " + text(f"terminal.others.{verdict}", language, count=left))


def row_of(finding: "Finding", language: Language, *, verbose: bool = True) -> Row:
    """Return sign with word, what, value, limit and how.

    Where it is stands there too, unless it simply holds, and, if `verbose`, from where on it is watched.
    """
    how = [finding.method(language)]
    if finding.where is not None and finding.verdict != "holds":
        x, y, z = finding.where
        how.append(text("terminal.at", language, x=x, y=y, z=z))
    return (
        sign_of(finding, language),
        finding.said(language),
        f"{number(finding.measured, language, decimals=2)} {finding.unit}".strip(),
        _limit(finding, language, with_watch=verbose and finding.is_watched),
        "; ".join(how),
    )


def _limit(finding: "Finding", language: Language, *, with_watch: bool) -> str:
    if isinstance(finding.limit, tuple):
        low, high = (round(float(each), 2) for each in finding.limit)
        limit = text("common.finding.between", language, low=low, high=high, unit=finding.unit)
    else:
        sense = finding.sense.replace(" ", "_")
        most = round(float(finding.limit), 2)
        limit = text(f"common.finding.{sense}", language, limit=most, unit=finding.unit)
    if not with_watch:
        return limit.strip()
    way = "below" if finding.sense == "at least" else "above"
    watch = text(f"terminal.watch_{way}", language, watch=float(finding.watch or 0.0), unit=finding.unit)
    return f"{limit.strip()}, {watch}"


def change_line(advice: "Advice", language: Language) -> str:
    """Return one change that was tried."""
    now, then = (
        text("terminal.number", language, value=each) if isinstance(each, float) else f'"{each}"'
        for each in (advice.now, advice.then)
    )
    measured = f"{number(advice.measured, language, decimals=2)} {advice.finding.unit}".strip()
    return text(
        "terminal.change",
        language,
        what=advice.finding.said(language),
        option=advice.option,
        now=now,
        then=then,
        measured=measured,
    )


def plan_line(plan: "PrintPlan", price_per_kg: float | None, language: Language) -> str:
    """Return how a part is best printed: position, size, mass, supports, time, and cost if there is a price."""
    return ", ".join(_of_plan(plan, price_per_kg, language))


def _of_plan(plan: "PrintPlan", price_per_kg: float | None, language: Language) -> Iterator[str]:
    from print3d.forms.orthosis import part_name

    width, depth, height = plan.size_mm
    yield text(
        "terminal.plan.position",
        language,
        part=part_name(plan.part).said(language),
        position=plan.position(language),
        width=width,
        depth=depth,
        height=height,
        layers=plan.layers,
    )
    yield text("terminal.plan.mass", language, mass_g=plan.mass_g)
    if plan.supports.volume_mm3 > 0.0:
        yield text("terminal.plan.supports", language, mass_g=plan.support_mass_g)
    if plan.seconds is not None:
        hours, minutes = divmod(round(plan.seconds / 60.0), 60)
        key = "terminal.plan.hours" if hours else "terminal.plan.minutes"
        yield text(key, language, hours=hours, minutes=minutes)
    if price_per_kg is not None:
        yield text("terminal.plan.cost", language, cost=plan.cost(price_per_kg))
