"""Start a case file from a suggestion: everything but the measures.

Those stand there as 0 and are refused until filled in.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from pydantic.fields import FieldInfo

from print3d.guidance.suggest import Candidate, GuidanceAnswer
from print3d.guidance.tables import Guidance
from print3d.inputs.measured import FingerMeasured, Measured
from print3d.inputs.toml_text import toml_value
from print3d.kinds.measures import Measures

PRINT = {"material": "petg", "printer": "extrusion"}


@dataclass(frozen=True)
class Head:
    """Who: the code of the case, the side and the finger."""

    code: str
    side: str
    finger: str


def started_case(
    advice: GuidanceAnswer, candidate: Candidate, head: Head, passive: Mapping[str, float], guidance: Guidance
) -> str:
    """Return the text of a case file that is complete as soon as every 0 in [measured] is filled in."""
    measures = guidance.measures[candidate.suggestion.head.kind]
    lines = [
        f"# {candidate.suggestion.head.title}, for {advice.name}, {advice.stage}.",
        "# Measure, and write the number over each 0. Lines that begin with # may stay out; then the number is estimated.",
        *(f"# {text}" for text in advice.says_first),
        "[case]",
        *_keys(vars(head)),
        f"note = {toml_value(advice.injury.title + ', ' + advice.stage)}",
        "",
        *_measured(measures, _is_over_the_wrist(candidate, guidance), head.finger, passive),
        "[orthosis]",
        *_keys(candidate.orthosis),
        "",
        "[print]",
        *_keys(PRINT),
    ]
    return "\n".join(lines) + "\n"


def _is_over_the_wrist(candidate: Candidate, guidance: Guidance) -> bool:
    protocol = candidate.suggestion.head.protocol
    return protocol is not None and guidance.protocols[protocol].form == "forearm"


def _measured(
    measures: Measures, is_over_the_wrist: bool, finger: str, passive: Mapping[str, float]
) -> Iterator[str]:
    asked = [each for each in measures if is_over_the_wrist or not each.is_only_over_the_wrist]
    wanted = {each.key: "0" for each in asked if each.is_needed}
    wanted |= {key: f"{value:g}" for key, value in passive.items()}
    better = [each.key for each in asked if each.key not in wanted]
    for table, model in (("measured", Measured), (f"measured.{finger}", FingerMeasured)):
        fields: Mapping[str, FieldInfo] = model.model_fields
        yield f"[{table}]"
        if table == "measured":
            yield '# sex = "woman"  # or "man"; helps to estimate what was not measured'
        yield from (
            f"{key} = {value}  # {fields[key].description}" for key, value in wanted.items() if key in fields
        )
        yield from (f"# {key} = 0  # {fields[key].description}" for key in _only(better, fields))
        yield ""


def _only(keys: Iterable[str], fields: Iterable[str]) -> Iterator[str]:
    return (key for key in keys if key in fields)


def _keys(table: Mapping[str, object]) -> Iterator[str]:
    return (f"{key} = {toml_value(value)}" for key, value in table.items())
