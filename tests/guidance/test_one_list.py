"""What the form dots, what a started case asks as 0 and what a kind's table calls needed are one list, in one order, by one number."""

import re
from contextlib import suppress
from functools import cache
from pathlib import Path

import pytest

from print3d.errors import InputError
from print3d.guidance.started_case import Head, started_case
from print3d.guidance.suggest import Asked, Candidate, GuidanceAnswer, suggest
from print3d.guidance.tables import read_guidance
from print3d.inputs.libraries import Libraries
from print3d.kinds.measures import Measure, in_form_order
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES
from print3d.output.paper.measuring_sheet import IMPORTANT, NEEDED, mark_of, wanted_for, write_measuring_form
from tests.output.paper.conftest import Pdf

GUIDANCE = read_guidance(Libraries())
LINE = re.compile(r"^(# )?(\w+) = 0  # (\d+): ", re.M)
ANGLES = {"pip_passive_extension_deficit_deg": 35.0, "dip_passive_hyperextension_deg": 12.0}


@cache
def candidates() -> dict[str, tuple[GuidanceAnswer, Candidate]]:
    """Return every orthosis that is ever suggested, by the name of its suggestion."""
    found: dict[str, tuple[GuidanceAnswer, Candidate]] = {}
    for injury in GUIDANCE.injuries:
        for stage in ("acute", "chronic"):
            for signs in ((), *((sign,) for sign in GUIDANCE.signs)):
                for passive in ({}, ANGLES):
                    with suppress(InputError):  # signs go with some injuries alone
                        answer = suggest(Asked(injury, stage, "middle", signs, passive), GUIDANCE)
                        found |= {each.suggestion.name: (answer, each) for each in answer.candidates}
    return found


def started(name: str) -> str:
    answer, candidate = candidates()[name]
    return started_case(answer, candidate, Head("PY-090", "left", "middle"), {}, GUIDANCE)


def is_over_the_wrist(name: str) -> bool:
    protocol = GUIDANCE.suggestions[name].head.protocol
    return protocol is not None and GUIDANCE.protocols[protocol].form == "forearm"


def asked(name: str) -> list[tuple[int, Measure]]:
    """Return the numbered measures of a suggestion's kind, those of the forearm left out where it does not reach so far."""
    numbered = enumerate(in_form_order(KINDS[GUIDANCE.suggestions[name].head.kind].measures), start=1)
    return [(n, each) for n, each in numbered if is_over_the_wrist(name) or not each.is_only_over_the_wrist]


def test_every_suggestion_is_reached_and_every_kind_and_form_among_them() -> None:
    assert candidates().keys() == GUIDANCE.suggestions.keys()
    assert {(each.head.kind, is_over_the_wrist(name)) for name, each in GUIDANCE.suggestions.items()} == {
        *((kind, False) for kind in KINDS),
        ("dorsal_blocking", True),
    }


@pytest.mark.parametrize("name", GUIDANCE.suggestions)
def test_a_started_case_asks_what_the_form_dots_in_its_order_by_its_numbers(name: str) -> None:
    own = re.split(r"\[measured\.(?!middle)", started(name))[0]
    lines = [(int(number), key, choice == "") for choice, key, number in LINE.findall(own)]
    assert lines == [(n, each.key, each.is_needed) for n, each in asked(name)]
    wanted = wanted_for(KINDS[GUIDANCE.suggestions[name].head.kind])
    dots = {NEEDED, f"({NEEDED})"} if is_over_the_wrist(name) else {NEEDED}
    assert [key for key, mark in wanted.marks.items() if mark in dots] == [
        key for _, key, zero in lines if zero
    ]
    assert [*wanted.marks] == [each.key for each in in_form_order(wanted.measures)]


@pytest.mark.parametrize(
    "name", [name for name, each in GUIDANCE.suggestions.items() if each.head.kind == "relative_motion"]
)
def test_a_yoke_asks_the_same_of_each_finger_that_it_takes(name: str) -> None:
    needed = [(n, each.key) for n, each in asked(name) if each.is_needed and not each.is_of_hand]
    tables = re.findall(r"^\[measured\.(\w+)\]\n((?:.+\n)+)", started(name), re.M)
    assert {"index", "middle", "ring"} <= {finger for finger, _ in tables}
    for _, lines in tables:
        assert [(int(number), key) for choice, key, number in LINE.findall(lines) if not choice] == needed


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", KINDS)
def test_the_form_shows_number_sign_and_key_and_says_what_the_signs_mean(
    kind: str, language, tmp_path: Path
) -> None:
    write_measuring_form(tmp_path / "form.pdf", kind, language)
    said = Pdf(tmp_path / "form.pdf").text()
    for number, each in enumerate(in_form_order(KINDS[kind].measures), start=1):
        assert f"{number} {mark_of(each)}".rstrip() in said
        assert each.key in said
    signs = {mark_of(each) for each in KINDS[kind].measures}
    for sign in (NEEDED, IMPORTANT, f"({NEEDED})"):
        assert (f"{sign} " in said.replace(f"({sign}) ", "")) or sign not in signs
