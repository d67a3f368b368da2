"""Read the guidance files.

Those of the same names in a kind's folder add entries; a clinic's own replace some or add more.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from print3d.forms.protocols import Protocol, read_protocols
from print3d.guidance.models import Injury, ProtocolFigure, Sign, StepRule, SuggestionHead
from print3d.inputs.libraries import Libraries
from print3d.inputs.problems import Problem, refusal, unknown_name
from print3d.inputs.table import Section
from print3d.inputs.toml_file import read_toml
from print3d.inputs.validation import validate
from print3d.kinds.measures import Measures, measures_of
from print3d.kinds.registry import KINDS
from print3d.language.message import message

SHIPPED = Path(__file__).parent
Table = TypeVar("Table", bound=Section)
Known = tuple[Mapping[str, Injury], Mapping[str, Sign], Mapping[str, Protocol]]
"""What a suggestion may name."""


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


def read_guidance(libraries: Libraries) -> Guidance:
    """Read what is shipped and what a clinic keeps.

    Raises InputError with every problem of the first file that has any.
    """
    own = libraries.guidance
    injuries = _read("injuries.toml", own, Injury)
    signs = _read("signs.toml", own, Sign)
    protocols = read_protocols(libraries.protocols)
    suggestions: dict[str, Suggestion] = {}
    for path in _paths("suggestions.toml", own):
        suggestions.update(_suggestions(path, (injuries, signs, protocols)))
    return Guidance(injuries, signs, suggestions, _measures(own), protocols)


def read_step_rules(libraries: Libraries) -> Mapping[str, StepRule]:
    """Read how kinds go on in steps. Raises InputError as `read_guidance` does."""
    return _read("series.toml", libraries.guidance, StepRule)


def _measures(own: Path | None) -> dict[str, Measures]:
    """What each kind needs measured: its own table, or the clinic's instead."""
    found = {name: kind.measures for name, kind in KINDS.items()}
    path = None if own is None else own / "measures.toml"
    if path is None or not path.exists():
        return found
    tables = _tables(path)
    problems = [
        unknown_name(name, name, message("refusals.no_such.kind"), KINDS)
        for name in tables
        if name not in KINDS
    ]
    for name, table in tables.items():
        found[name], unfit = measures_of(table)
        problems += [each.at(name) for each in unfit]
    if problems:
        raise refusal(path, problems)
    return found


def _paths(name: str, own: Path | None) -> Iterator[Path]:
    """Yield what is shipped, what kinds bring along, and what the clinic keeps.

    Later entries replace earlier ones of their name.
    """
    yield SHIPPED / name
    yield from (path for kind in KINDS.values() if (path := kind.home / name).exists())
    if own is not None and (own / name).exists():
        yield own / name


def _tables(path: Path) -> dict[str, dict[str, object]]:
    data = read_toml(path)
    loose = [
        Problem(name, value, message("refusals.guidance.is_table"))
        for name, value in data.items()
        if not isinstance(value, dict)
    ]
    if loose:
        raise refusal(path, loose)
    return data


def _read(name: str, own: Path | None, model: type[Table]) -> dict[str, Table]:
    found: dict[str, Table] = {}
    for path in _paths(name, own):
        problems = list[Problem]()
        for key, table in _tables(path).items():
            checked = _checked(model, table, key, problems)
            if checked is not None:
                found[key] = checked
        if problems:
            raise refusal(path, problems)
    return found


def _checked(
    model: type[Table], table: Mapping[str, object], key: str, problems: list[Problem]
) -> Table | None:
    result = validate(model, table)
    problems += [each.at(key) for each in result.problems]
    return result.table


def _suggestions(path: Path, known: Known) -> dict[str, Suggestion]:
    found, problems = dict[str, Suggestion](), list[Problem]()
    for name, table in _tables(path).items():
        head = {key: value for key, value in table.items() if key not in ("options", "figures", "only_with")}
        checked = _checked(SuggestionHead, head, name, problems)
        options = table.get("options", {})
        if not isinstance(options, dict):
            problems.append(
                Problem(
                    f"{name}.options",
                    options,
                    message(
                        "refusals.accepted_is", what=message("refusals.accepts.table", key=f"{name}.options")
                    ),
                )
            )
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
    table: Mapping[str, object], part: str, name: str, problems: list[Problem]
) -> dict[str, ProtocolFigure]:
    inner = table.get(part, {})
    if not isinstance(inner, dict) or not all(isinstance(each, dict) for each in inner.values()):
        problems.append(
            Problem(f"{name}.{part}", inner, message("refusals.guidance.tables", key=f"{name}.{part}"))
        )
        return {}
    checked = {
        key: _checked(ProtocolFigure, each, f"{name}.{part}.{key}", problems) for key, each in inner.items()
    }
    return {key: figure for key, figure in checked.items() if figure is not None}


def _unknown(suggestion: Suggestion, known: Known) -> Iterator[Problem]:
    """Yield what a suggestion names that is not there, and options that its kind does not take."""
    injuries, signs, protocols = known
    name, head = suggestion.name, suggestion.head
    if head.kind not in KINDS:
        yield unknown_name(f"{name}.kind", head.kind, message("refusals.no_such.kind"), KINDS)
        return
    for key, names, what, shelf in (
        ("injuries", head.injuries, message("refusals.no_such.injury"), injuries),
        ("with_signs", head.with_signs, message("refusals.no_such.sign"), signs),
        ("without_signs", head.without_signs, message("refusals.no_such.sign"), signs),
        (
            "protocol",
            (head.protocol,) if head.protocol else (),
            message("refusals.no_such.protocol"),
            protocols,
        ),
    ):
        yield from (unknown_name(f"{name}.{key}", each, what, shelf) for each in names if each not in shelf)
    values = {key: figure.value for key, figure in suggestion.figures.items() if figure.value is not None}
    fields = KINDS[head.kind].options.model_fields
    asked = {**suggestion.options, **{key: value for key, value in values.items() if key in fields}}
    result = validate(KINDS[head.kind].options, {"kind": head.kind, **asked})
    yield from (each.at(f"{name}.options") for each in result.problems)
