"""From an injury to the orthoses that suit it, in order, or to whom to refer on."""

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import floor

from print3d.errors import InputError
from print3d.forms.protocols import Protocol
from print3d.guidance.models import STAGES, Injury, ProtocolFigure, Sign
from print3d.guidance.tables import Guidance, Suggestion
from print3d.inputs.cautions import FRESH_TENDON
from print3d.inputs.finger_words import finger_meant
from print3d.inputs.measured import FINGERS, FingerMeasured
from print3d.inputs.problems import NEAR_ENOUGH, Problem, in_words, unknown_name
from print3d.inputs.units import unit_of
from print3d.inputs.validation import validate
from print3d.kinds.registry import KINDS
from print3d.language.message import message

ROMAN = {
    str(number): name for number, name in enumerate(("I", "II", "III", "IV", "V", "VI", "VII", "VIII"), 1)
}
TENDONS = ("flexor", "extensor")
PASSIVE: Mapping[str, str] = {
    "pip_passive_extension_deficit_deg": "what the PIP lacks of straight when gently extended",
    "dip_passive_hyperextension_deg": "passive DIP hyperextension",
    "pip_max_flexion_deg": "greatest PIP flexion",
}
"""Measured angles that a suggestion may hang on, in words."""
FILLERS = ("zone", "tendon", "finger", "in", "the", "of")


@dataclass(frozen=True)
class Asked:
    """What is asked, in the trade's words.

    injury : such as "extensor III", "flexor zone 2", "mallet"
    signs : what else was found
    passive : measured angles by their key in a case file, degrees
    """

    injury: str
    stage: str = "acute"
    finger: str | None = None
    signs: tuple[str, ...] = ()
    passive: Mapping[str, float] = field(default_factory=dict)
    age_years: float | None = None


@dataclass(frozen=True)
class Angle:
    """One figure of a suggestion, for this patient: an angle, or how long it is worn.

    key : of the case file, or the figure's own name
    value, low, high : what to start from and the published range; None where there is none
    remark : how the value was fitted to the measured joint
    """

    key: str
    title: str
    unit: str
    value: float | None
    low: float | None
    high: float | None
    source: str
    mark: str
    remark: str = ""


@dataclass(frozen=True)
class Candidate:
    """One orthosis that suits; `orthosis` is the table of a case file."""

    suggestion: Suggestion
    orthosis: Mapping[str, str | float]
    angles: tuple[Angle, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class GuidanceAnswer:
    """The answer. Without candidates it says why not, and whom to ask."""

    name: str
    injury: Injury
    stage: str
    finger: str | None
    signs: tuple[str, ...]
    stops: bool
    refer_on: tuple[str, ...]
    says_first: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    left_out: tuple[str, ...]


def suggest(asked: Asked, guidance: Guidance) -> GuidanceAnswer:
    """Return the orthoses for an injury, in order of use.

    Raises InputError with every word that is not known, the nearest known one beside it.
    """
    asked = replace(asked, finger=finger_meant(asked.finger or "") or asked.finger)
    name, signs = _understood(asked, guidance)
    injury = guidance.injuries[name]
    found = [guidance.signs[each] for each in signs]
    stops = any(sign.stops for sign in found)
    refer_on = [*injury.refer_on, *(text for sign in found for text in sign.refer_on)]
    candidates, left_out = list[Candidate](), list[str]()
    for each in sorted(guidance.suggestions.values(), key=lambda each: each.head.order):
        if stops or not _is_for(each, name, asked.stage, signs):
            continue
        reason = _outside(each, asked.passive)
        if reason:
            left_out.append(f"{each.head.title}: {reason}")
        else:
            candidates.append(_candidate(each, asked.passive, guidance.protocols))
    if not candidates and not stops:
        refer_on.append(_nothing(injury, asked.stage, left_out))
    says_first = (FRESH_TENDON,) if injury.fresh_tendon and asked.stage == "acute" else ()
    return GuidanceAnswer(
        name, injury, asked.stage, asked.finger, signs, stops, tuple(refer_on), says_first, tuple(candidates), tuple(left_out)
    )  # fmt: skip


# --- understanding what is asked ------------------------------------------------------------------------------------


def _understood(asked: Asked, guidance: Guidance) -> tuple[str, tuple[str, ...]]:
    problems = list[Problem]()
    fingers = (*FINGERS, "thumb")
    injury = _injury(asked, guidance.injuries, problems)
    signs = [_named("sign", each, guidance.signs, problems) for each in asked.signs]
    if asked.stage not in STAGES:
        problems.append(unknown_name("stage", asked.stage, message("refusals.no_such.stage"), STAGES))
    if asked.finger is not None and asked.finger not in fingers:
        problems.append(unknown_name("finger", asked.finger, message("refusals.no_such.finger"), fingers))
    found = validate(FingerMeasured, dict(asked.passive)).problems
    problems += found
    known = [each for each in signs if each is not None]
    age = asked.age_years
    known += [
        name
        for name, sign in guidance.signs.items()
        if age is not None and sign.below_age_years is not None and age < sign.below_age_years and name not in known
    ]  # fmt: skip
    if injury is not None:
        problems += _misplaced(injury, known, guidance)
    if problems or injury is None:
        raise InputError(*(problem.of("suggest") for problem in problems))
    return injury, tuple(dict.fromkeys(known))


def _injury(asked: Asked, injuries: Mapping[str, Injury], problems: list[Problem]) -> str | None:
    words = [word for word in re.split(r"[\s,_-]+", asked.injury.lower()) if word not in FILLERS]
    if words and words[0] in TENDONS:
        name = _zone(words[0], " ".join(words[1:]), asked, injuries, problems)
    else:
        name = _named("injury", asked.injury, injuries, problems)
    if name is None or (asked.finger == "thumb") == name.endswith(" thumb"):
        return name
    tendon = name.split()[0]
    if asked.finger == "thumb" and tendon in TENDONS:
        return f"{tendon} thumb"
    if asked.finger is not None:
        problems.append(Problem("finger", asked.finger, message("refusals.suggest.not_with", injury=name)))
    return name


def _zone(
    tendon: str, zone: str, asked: Asked, injuries: Mapping[str, Injury], problems: list[Problem]
) -> str | None:
    zones = [name.split(" ", 1)[1] for name in injuries if name.startswith(f"{tendon} ")]
    wanted = "thumb" if asked.finger == "thumb" and not zone else ROMAN.get(zone, zone)
    match = next((each for each in zones if each.lower() == wanted.lower()), None)
    if match is None:
        way = "refusals.suggest.flexor_zones" if tendon == "flexor" else "refusals.suggest.extensor_zones"
        problems.append(Problem("zone", zone.upper(), message(way, zones=", ".join(zones), one_of=zones)))
        return None
    return f"{tendon} {match}"


def _named(
    key: str, word: str, shelf: Mapping[str, Injury] | Mapping[str, Sign], problems: list[Problem]
) -> str | None:
    """Return the entry that a word names, by its name or by one of its words."""
    names = {each.lower(): name for name, entry in shelf.items() for each in (name, *entry.words)}
    plain = " ".join(re.split(r"[\s,_-]+", word.lower().strip()))
    if plain in names:
        return names[plain]
    near = difflib.get_close_matches(plain, names, n=1, cutoff=NEAR_ENOUGH)
    meant = next((each for each in (*shelf, *near) if near and each.lower() == near[0]), "")
    listed = ", ".join(in_words(name) for name in shelf)
    what = message("refusals.no_such.injury" if key == "injury" else "refusals.no_such.sign")
    wanted = message("refusals.unknown", what=what, known=listed, one_of=list(shelf))
    if meant:
        wanted = message(
            "refusals.unknown_near", what=what, near=in_words(meant), known=listed, one_of=list(shelf)
        )
    problems.append(Problem(key, word, wanted))
    return None


def _misplaced(injury: str, signs: Sequence[str], guidance: Guidance) -> Iterator[Problem]:
    for name in signs:
        places = guidance.signs[name].injuries
        if places and injury not in places:
            yield Problem(
                "sign", name, message("refusals.suggest.said_of", injury=injury, places=", ".join(places))
            )


# --- choosing ---------------------------------------------------------------------------------------------------------


def _is_for(suggestion: Suggestion, injury: str, stage: str, signs: Iterable[str]) -> bool:
    head, there = suggestion.head, set(signs)
    return (
        injury in head.injuries
        and stage in head.stages
        and set(head.with_signs) <= there
        and not set(head.without_signs) & there
    )


def _outside(suggestion: Suggestion, passive: Mapping[str, float]) -> str:
    """Return why a measured joint rules this out, or an empty text."""
    for key, bound in suggestion.only_with.items():
        angle = passive.get(key)
        if angle is not None and not _within(angle, bound):
            return f"{bound.title} is {angle:g} degrees; {_suits(bound)}"
    return ""


def _within(angle: float, bound: ProtocolFigure) -> bool:
    return (bound.low is None or angle >= bound.low) and (bound.high is None or angle <= bound.high)


def _suits(bound: ProtocolFigure) -> str:
    words = [
        f"at least {bound.low:g}" if bound.low is not None else "",
        f"at most {bound.high:g}" if bound.high is not None else "",
    ]
    return f"{' and '.join(filter(None, words))} suits [{bound.source}; {bound.mark}]"


def _candidate(
    suggestion: Suggestion, passive: Mapping[str, float], protocols: Mapping[str, Protocol]
) -> Candidate:
    head = suggestion.head
    fields = KINDS[head.kind].options.model_fields
    angles = [_fitted(key, figure, passive) for key, figure in suggestion.figures.items()]
    orthosis: dict[str, str | float] = {"kind": head.kind, **suggestion.options}
    if head.protocol is not None:
        orthosis["protocol"] = head.protocol
        angles += _of_protocol(protocols[head.protocol])
    orthosis |= {
        angle.key: angle.value
        for angle in angles
        if angle.key in fields and angle.value is not None and angle.key in suggestion.figures
    }
    return Candidate(suggestion, orthosis, tuple(angles), (*_to_measure(suggestion, passive), *head.cautions))


def _fitted(key: str, figure: ProtocolFigure, passive: Mapping[str, float]) -> Angle:
    """Return a figure with its value kept within what the measured joint gives."""
    value, remark = figure.value, ""
    if value is not None and figure.least_of is not None:
        measured, name = passive.get(figure.least_of), PASSIVE[figure.least_of]
        if measured is None:
            remark = f"never below {name}: measure it, and set that angle"
        elif measured > value:
            value, remark = measured, f"{name}, as measured"
    if value is not None and figure.most_of is not None and figure.most_share is not None:
        measured, name = passive.get(figure.most_of), PASSIVE[figure.most_of]
        most = figure.most_share * (measured or 0.0)
        if value > most:
            value = float(floor(round(most, 2)))
            share = f"{figure.most_share:.0%} of {name}"
            remark = f"0 until {name} is measured" if measured is None else f"at most {share} of {measured:g}"
    return _angle(key, figure, value, remark)


def _angle(key: str, figure: ProtocolFigure, value: float | None, remark: str) -> Angle:
    unit = figure.unit or _unit(key)
    return Angle(key, figure.title, unit, value, figure.low, figure.high, figure.source, figure.mark, remark)


def _unit(key: str) -> str:
    unit = unit_of(key)
    return "" if unit is None else unit.said("en")


def _to_measure(suggestion: Suggestion, passive: Mapping[str, float]) -> Iterator[str]:
    for key, bound in suggestion.only_with.items():
        if key not in passive:
            yield f"Measure first {bound.title.rstrip(',')}, in degrees: {_suits(bound)}."


def _of_protocol(protocol: Protocol) -> Iterator[Angle]:
    """Yield the angles of a regimen, each with the regimen's source."""
    extension = protocol.wrist_extension_deg
    wrist = "extension" if extension else "flexion"
    rows: list[tuple[str, str, float | None]] = [
        ("mcp_flexion_deg", "MCP extension stopped at, flexion", protocol.mcp_flexion_deg),
        ("ip_flexion_deg", "PIP and DIP extension stopped at, flexion", protocol.ip_flexion_deg),
    ]
    if protocol.form == "forearm":
        rows.insert(
            0, (f"wrist_{wrist}_deg", f"wrist held, {wrist}", extension or protocol.wrist_flexion_deg)
        )
    if protocol.weeks:
        rows.append(("weeks", f"worn for weeks: {protocol.weeks}", None))
    for key, title, value in rows:
        yield Angle(key, title, _unit(key), value, None, None, protocol.source, protocol.mark)


def _nothing(injury: Injury, stage: str, left_out: Sequence[str]) -> str:
    if left_out:
        return f"The measured joint rules out what suits this injury otherwise: a hand therapist decides ({injury.title})."
    return f"None of the kinds here is for this injury when {stage}: a hand therapist or surgeon decides ({injury.title})."
