"""What is said of a built case: for people, and for programs."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from print3d.cli.rows import change_line, plan_line, print_rows, summary
from print3d.cli.runner import CaseOutcome
from print3d.inputs.cautions import heat_caution
from print3d.language.catalogue import Language, text

if TYPE_CHECKING:
    from print3d.built import Built, Estimates


def outcome_of(path: Path, built: "Built", files: Sequence[Path] = (), *, verbose: bool) -> CaseOutcome:
    """Return what became of a checked case; `verbose`: with every finding, estimate and file."""
    language = built.case.header.language

    def show() -> None:
        _show(path, built, files, verbose=verbose)

    return CaseOutcome(built.holds, language, _data(built, files), show)


def _show(path: Path, built: "Built", files: Sequence[Path], *, verbose: bool) -> None:
    case, language = built.case, built.case.header.language
    print(f"{path}: {summary(built.findings, language)}")
    for topic, said in {"measure_again": built.warnings, "look_twice": built.remarks}.items():
        for what in said:
            _say(topic, language, what=what.said(language))
    _show_estimates(built.estimates, language, verbose=verbose)
    if case.override is not None:
        limits, reason = ", ".join(case.override.allow), case.override.reason
        _say("override", language, limits=limits, reason=reason)
    print_rows(built.findings, language, verbose=verbose)
    for advice in built.advice:
        print(f"  {change_line(advice, language)}")
    for plan in built.plans:
        _say("print", language, plan=plan_line(plan, case.print.price_per_kg, language))
    _say("heat", language, caution=_heat(built))
    show_files(files, language, verbose=verbose)


def show_files(files: Sequence[Path], language: Language, *, verbose: bool) -> None:
    """Print where files were written: each, or their folder and how many they are."""
    if verbose:
        for file in files:
            _say("wrote", language, file=file)
    elif files:
        _say("wrote_files", language, folder=files[0].parent, count=len(files))


def _show_estimates(estimates: "Estimates", language: Language, *, verbose: bool) -> None:
    """Print what was not measured: all of it, or how much, and how little is known of the least known."""
    from print3d.output.estimates import together

    if verbose:
        for what in together(estimates):
            _say("not_measured", language, what=what.said(language))
        return
    sds = [each.sd for found in estimates.values() for each in found.values()]
    if sds:
        _say("estimated", language, count=len(sds), sd_mm=max(sds))


def _say(topic: str, language: Language, **values: object) -> None:
    print(f"  {text(f'terminal.{topic}', language, **values)}")


def _heat(built: "Built") -> str:
    return heat_caution(built.case.material, built.case.material_name, built.case.header.language)


def _data(built: "Built", files: Sequence[Path]) -> dict[str, object]:
    from print3d.checks.finding import finding_as_data
    from print3d.output.estimates import one_by_one
    from print3d.output.findings_json import advice_as_data, plans_as_data

    case, language = built.case, built.case.header.language
    return {
        "code": case.header.code,
        "holds": built.holds,
        "watched": len(built.watched),
        "warnings": [each.said(language) for each in built.warnings],
        "remarks": [each.said(language) for each in built.remarks],
        "estimates": [each.said(language) for each in one_by_one(built.estimates)],
        "override": None if case.override is None else case.override.model_dump(mode="json"),
        "findings": [finding_as_data(finding, language) for finding in built.findings],
        "advice": advice_as_data(built),
        "print": plans_as_data(built),
        "heat": _heat(built),
        "files": [str(file) for file in files],
    }
