"""What is said of a built case: for people, and for programs."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from print3d.cli.rows import change_line, plan_line, print_rows, summary
from print3d.cli.runner import CaseOutcome
from print3d.inputs.cautions import heat_caution
from print3d.language.catalogue import Language, text

if TYPE_CHECKING:
    from print3d.built import Built


def outcome_of(path: Path, built: "Built", files: Sequence[Path] = ()) -> CaseOutcome:
    """Return what became of a checked case."""
    language = built.case.header.language
    return CaseOutcome(built.holds, language, _data(built, files), lambda: _show(path, built, files))


def _show(path: Path, built: "Built", files: Sequence[Path]) -> None:
    from print3d.output.estimates import together

    case, language = built.case, built.case.header.language
    print(f"{path}: {summary(built.findings, language)}")
    notes = {
        "measure_again": built.warnings,
        "look_twice": built.remarks,
        "not_measured": together(built.estimates),
    }
    for topic, said in notes.items():
        for what in said:
            _say(topic, language, what=what.said(language))
    if case.override is not None:
        limits, reason = ", ".join(case.override.allow), case.override.reason
        _say("override", language, limits=limits, reason=reason)
    print_rows(built.findings, language)
    for advice in built.advice:
        print(f"  {change_line(advice, language)}")
    for plan in built.plans:
        _say("print", language, plan=plan_line(plan, case.print.price_per_kg, language))
    _say("heat", language, caution=_heat(built))
    for file in files:
        _say("wrote", language, file=file)


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
