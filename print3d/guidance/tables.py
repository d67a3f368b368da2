"""Read the guidance files; those of the same names in a kind's folder add entries, a clinic's own replace some or add more."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from print3d.forms.protocols import Protocol, read_protocols
from print3d.guidance.models import Injury, ProtocolFigure, Sign, StepRule, SuggestionHead
from print3d.inputs.problems import Problem, refusal, unknown_name
from print3d.inputs.table import Section
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import validate
from print3d.kinds.measures import Measures, measure_problems, measures_of
from print3d.kinds.registry import KINDS

SHIPPED = Path(__file__).parent
FOLDER = "guidance"
Table = TypeVar("Table", bound=Section)


@dataclass(frozen=True)
class Suggestion:
    """One orthosis for some injuries.

    options : keys of [orthosis] in a started case that are no figures
    figures : by name; those that are keys of the kind go into a started case too
    only_with : measured angle -> the range in which this is suggested
    """

    name: str
    head: SuggestionHead
    options: Mapping[str, str]
    figures: Mapping[str, ProtocolFigure]
    only_with: Mapping[str, ProtocolFigure]


@dataclass(frozen=True)
class Guidance:
    """All files together."""

    injuries: Mapping[str, Injury]
    signs: Mapping[str, Sign]
    suggestions: Mapping[str, Suggestion]
    measures: Mapping[str, Measures]
    protocols: Mapping[str, Protocol]


def read_guidance(shelf: Path) -> Guidance:
    """Read what is shipped and what a clinic keeps in `shelf`/guidance and `shelf`/protocols.

    Raises InputError with every problem of the first file that has any.
    """
    injuries = _read("injuries.toml", shelf, Injury)
    signs = _read("signs.toml", shelf, Sign)
    protocols = read_protocols(shelf / "cases" / "any.toml")
    suggestions: dict[str, Suggestion] = {}
    for path in _paths("suggestions.toml", shelf):
        suggestions.update(_suggestions(path, (injuries, signs, protocols)))
    return Guidance(injuries, signs, suggestions, _measures(shelf), protocols)


def read_step_rules(shelf: Path) -> Mapping[str, StepRule]:
    """Read how kinds go on in steps. Raises InputError as `read_guidance` does."""
    return _read("series.toml", shelf, StepRule)


def _measures(shelf: Path) -> dict[str, Measures]:
    """What each kind needs measured: its own table, or the clinic's instead."""
    found = {name: kind.measures for name, kind in KINDS.items()}
    path = shelf / FOLDER / "measures.toml"
    if not path.exists():
        return found
    tables = _tables(path)
    problems = [unknown_name(name, name, "kind of orthosis", KINDS) for name in tables if name not in KINDS]
    for name, table in tables.items():
        problems += [replace(each, key=f"{name}.{each.key}") for each in measure_problems(table)]
    if problems:
        raise refusal(path, problems)
    return found | {name: measures_of(table) for name, table in tables.items()}


def _paths(name: str, shelf: Path) -> Iterator[Path]:
    """Yield what is shipped, what kinds bring along, and what the clinic keeps; later entries replace earlier ones of their name."""
    yield SHIPPED / name
    yield from (path for kind in KINDS.values() if (path := kind.home / name).exists())
    own = shelf / FOLDER / name
    if own.exists():
        yield own


def _tables(path: Path) -> dict[str, dict[str, Any]]:
    data = read_toml(path)
    loose = [
        Problem(name, value, "each entry is a table [its_name]")
        for name, value in data.items()
        if not isinstance(value, dict)
    ]
    if loose:
        raise refusal(path, loose)
    return data


def _read(name: str, shelf: Path, model: type[Table]) -> dict[str, Table]:
    found: dict[str, Table] = {}
    for path in _paths(name, shelf):
        problems = list[Problem]()
        for key, table in _tables(path).items():
            checked = _checked(model, table, key, problems)
            if checked is not None:
                found[key] = checked
        if problems:
            raise refusal(path, problems)
    return found


def _checked(model: type[Table], table: Mapping[str, Any], key: str, problems: list[Problem]) -> Table | None:
    result = validate(model, table)
    problems += [Problem(f"{key}.{each.key}", each.found, each.wanted) for each in result.problems]
    return result.table


def _suggestions(path: Path, known: tuple[Mapping[str, Any], ...]) -> dict[str, Suggestion]:
    found, problems = dict[str, Suggestion](), list[Problem]()
    for name, table in _tables(path).items():
        head = {key: value for key, value in table.items() if key not in ("options", "figures", "only_with")}
        checked = _checked(SuggestionHead, head, name, problems)
        options = table.get("options", {})
        if not isinstance(options, dict):
            problems.append(Problem(f"{name}.options", options, f"a table [{name}.options] is accepted"))
            continue
        figures, only_with = (_figures(table, part, name, problems) for part in ("figures", "only_with"))
        if checked is None:
            continue
        suggestion = Suggestion(name, checked, options, figures, only_with)
        problems += _unknown(suggestion, known)
        found[name] = suggestion
    if problems:
        raise refusal(path, problems)
    return found


def _figures(
    table: Mapping[str, Any], part: str, name: str, problems: list[Problem]
) -> dict[str, ProtocolFigure]:
    inner = table.get(part, {})
    if not isinstance(inner, dict) or not all(isinstance(each, dict) for each in inner.values()):
        problems.append(Problem(f"{name}.{part}", inner, f"tables [{name}.{part}.its_key] are accepted"))
        return {}
    checked = {
        key: _checked(ProtocolFigure, each, f"{name}.{part}.{key}", problems) for key, each in inner.items()
    }
    return {key: figure for key, figure in checked.items() if figure is not None}


def _unknown(suggestion: Suggestion, known: tuple[Mapping[str, Any], ...]) -> Iterator[Problem]:
    """Yield what a suggestion names that is not there, and options that its kind does not take."""
    injuries, signs, protocols = known
    name, head = suggestion.name, suggestion.head
    if head.kind not in KINDS:
        yield unknown_name(f"{name}.kind", head.kind, "kind of orthosis", KINDS)
        return
    for key, names, what, shelf in (
        ("injuries", head.injuries, "injury", injuries),
        ("with_signs", head.with_signs, "sign", signs),
        ("without_signs", head.without_signs, "sign", signs),
        ("protocol", (head.protocol,) if head.protocol else (), "regimen", protocols),
    ):
        yield from (unknown_name(f"{name}.{key}", each, what, shelf) for each in names if each not in shelf)
    values = {key: figure.value for key, figure in suggestion.figures.items() if figure.value is not None}
    fields = KINDS[head.kind].options.model_fields
    asked = {**suggestion.options, **{key: value for key, value in values.items() if key in fields}}
    result = validate(KINDS[head.kind].options, {"kind": head.kind, **asked})
    yield from (Problem(f"{name}.options.{each.key}", each.found, each.wanted) for each in result.problems)
