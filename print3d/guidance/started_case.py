"""Start a case file from a suggestion: everything but the measures.

Those stand there as 0 and are refused until filled in.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from print3d.guidance.suggest import Candidate, GuidanceAnswer
from print3d.guidance.tables import Guidance
from print3d.inputs.measured import FingerMeasured, FingerName, Measured
from print3d.inputs.table import Section
from print3d.inputs.toml_text import toml_value
from print3d.kinds.measures import Measure, in_form_order
from print3d.kinds.registry import KINDS

SEX = '# sex = "woman"  # or "man"; helps to estimate what was not measured'
PRINT = {"material": "petg", "printer": "extrusion"}


@dataclass(frozen=True)
class Head:
    """Who: the code of the case, the side and the finger."""

    code: str
    side: str
    finger: FingerName


def started_case(
    advice: GuidanceAnswer, candidate: Candidate, head: Head, passive: Mapping[str, float], guidance: Guidance
) -> str:
    """Return the text of a case file that is complete as soon as every 0 in [measured] is filled in."""
    kind = candidate.suggestion.head.kind
    options = KINDS[kind].options.model_validate(dict(candidate.orthosis))
    numbered = [
        each
        for each in enumerate(in_form_order(guidance.measures[kind]), start=1)
        if _is_over_the_wrist(candidate, guidance) or not each[1].is_only_over_the_wrist
    ]
    lines = [
        f"# {candidate.suggestion.head.title}, for {advice.name}, {advice.stage}.",
        "# Measure, and write the number over each 0. Lines that begin with # may stay out; then the number is estimated.",
        "# The number behind each # is that of the measuring form.",
        *(f"# {text}" for text in advice.says_first),
        "[case]",
        *_keys(vars(head)),
        *_protected(advice.stage, candidate.suggestion.head.kind, passive),
        f"note = {toml_value(advice.injury.title + ', ' + advice.stage)}",
        "",
        *_measured(numbered, head, options.fingers_around(head.finger), passive),
        "[orthosis]",
        *_keys(candidate.orthosis),
        "",
        "[print]",
        *_keys(PRINT),
    ]
    return "\n".join(lines) + "\n"


def _protected(stage: str, kind: str, passive: Mapping[str, float]) -> Iterator[str]:
    """Yield whether the wearer never takes it off alone, where the kind leaves that to the case.

    A fresh injury is protected, and a late one once it comes straight: from there on it is treated like a fresh one. While a contracture
    is stretched the orthosis comes off for exercises.
    """
    if KINDS[kind].options.protects == "by_case":
        is_stretched = stage == "chronic" and passive.get("pip_passive_extension_deficit_deg", 0.0) > 0.0
        yield f"protected = {toml_value(not is_stretched)}  # true: never off but in therapy; false: the wearer may take it off"


def _is_over_the_wrist(candidate: Candidate, guidance: Guidance) -> bool:
    protocol = candidate.suggestion.head.protocol
    return protocol is not None and guidance.protocols[protocol].form == "forearm"


def _measured(
    numbered: Sequence[tuple[int, Measure]],
    head: Head,
    fingers: Sequence[FingerName],
    passive: Mapping[str, float],
) -> Iterator[str]:
    """Yield the tables of the measures in the form's order, each line with its number on the form.

    numbered : measures that are asked for
    fingers : that the orthosis is shaped by; those beside the case's own are asked for what is needed
    """
    of_hand = [_line(number, each, Measured) for number, each in numbered if each.is_of_hand]
    of_finger = [(number, each) for number, each in numbered if not each.is_of_hand]
    own = [_line(number, each, FingerMeasured, passive) for number, each in of_finger]
    needed = [_line(number, each, FingerMeasured) for number, each in of_finger if each.is_needed]
    known = {each.key for _, each in numbered}
    own += [f"{key} = {value:g}" for key, value in passive.items() if key not in known]
    tables = [("measured", [SEX, *of_hand]), (f"measured.{head.finger}", own)]
    tables += [(f"measured.{name}", needed) for name in fingers if name != head.finger]
    for name, lines in tables if numbered[0][1].is_of_hand else [*tables[1:], tables[0]]:
        yield from (f"[{name}]", *lines, "")


def _line(
    number: int, measure: Measure, table: type[Section], passive: Mapping[str, float] | None = None
) -> str:
    """Return the line of a measure, left to choice where it is not needed."""
    key, known = measure.key, passive or {}
    value = f"{known[key]:g}" if key in known else "0"
    choice = "" if measure.is_needed or key in known else "# "
    return f"{choice}{key} = {value}  # {number}: {table.model_fields[key].description}"


def _keys(table: Mapping[str, object]) -> Iterator[str]:
    return (f"{key} = {toml_value(value)}" for key, value in table.items())
