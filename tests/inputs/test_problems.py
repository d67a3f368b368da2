"""Problems as data: what a page stands beside its field, said in any language, and the same after a file or another process."""

import json
import pickle
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from print3d.errors import InputError, Print3dError, ShapingError
from print3d.inputs.case_file import read_case
from print3d.inputs.problems import MISSING, MOST_SHOWN, OPEN, Problem, either, refusal, sayable_from
from print3d.kinds.registry import KINDS
from print3d.language.message import message
from tests.inputs.bad_cases import MISSING as MISSING_CASES
from tests.inputs.bad_cases import ONE_KEY, case_text
from tests.language.english import english_words

BAD = [(row[0], row[1]) for row in ONE_KEY] + [(row[0], row[1]) for row in MISSING_CASES]
NAMES = re.compile(r'"[^"]*"|bekannt sind hier .*')
"""Names and choices of a file stay as they are written there."""


def refused(folder: Path, edits: Mapping[str, str | None]) -> InputError:
    path = folder / "case.toml"
    path.write_text(case_text(edits), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_case(path, {name: kind.options for name, kind in KINDS.items()})
    return error.value


@pytest.mark.parametrize("edits", [row[1] for row in BAD], ids=[row[0] for row in BAD])
def test_a_bad_case_is_said_in_german(edits: Mapping[str, str | None], tmp_path: Path) -> None:
    error = refused(tmp_path, edits)
    english, german = (error.said(language).splitlines() for language in ("en", "de"))
    assert len(english) == len(german)
    for one, other, problem in zip(english, german, error.problems, strict=True):
        assert isinstance(problem, Problem)
        assert problem.key in other
        assert one != other
        assert english_words(NAMES.sub("", other.replace(str(tmp_path), ""))) == []


@pytest.mark.parametrize("edits", [row[1] for row in BAD], ids=[row[0] for row in BAD])
def test_a_problem_is_the_same_after_a_file_and_after_another_process(
    edits: Mapping[str, str | None], tmp_path: Path
) -> None:
    error = refused(tmp_path, edits)
    sent = pickle.loads(pickle.dumps(error))
    assert str(sent) == str(error)
    for problem in error.problems:
        kept = sayable_from(json.loads(json.dumps(problem.as_data(), allow_nan=False)))
        for language in ("en", "de"):
            assert kept.said(language) == problem.said(language)


@pytest.mark.parametrize(
    ("edits", "wanted"),
    [
        (
            {"orthosis.wall_mm": "25.4"},
            {"key": "orthosis.wall_mm", "found": 25.4, "least": 0.8, "most": 6, "unit": "mm"},
        ),
        (
            {"case.side": '"rigth"'},
            {"key": "case.side", "found": "rigth", "one_of": ["left", "right"], "unit": None},
        ),
        ({"case.code": None}, {"key": "case.code", "found": None, "is_missing": True}),
        (
            {"orthosis.rim_radius_mm": "1.5"},
            {"key": "orthosis.rim_radius_mm", "found": 1.5, "most": 1.0, "unit": "mm", "is_missing": False},
        ),
        ({"orthosis.wall_mm": "nan"}, {"key": "orthosis.wall_mm", "found": None, "shown": "nan"}),
        ({"prnt.material": '"pla"'}, {"key": "prnt", "found": None, "shown": "a table"}),
    ],
)
def test_a_problem_names_key_value_and_limits(
    edits: Mapping[str, str | None], wanted: Mapping[str, Any], tmp_path: Path
) -> None:
    data = refused(tmp_path, edits).as_data()[0]
    assert {name: data[name] for name in wanted} == wanted
    assert data["file"] == str(tmp_path / "case.toml")


def test_a_shape_that_cannot_be_made_names_the_key_to_change(make_case: Any) -> None:
    case = make_case({"kind": "figure_of_eight", "lever_mm": 24.0})
    with pytest.raises(ShapingError) as error:
        KINDS["figure_of_eight"].build(case)
    (problem,) = error.value.as_data()
    assert (problem["key"], problem["found"], problem["unit"]) == ("orthosis.lever_mm", 24.0, "mm")
    assert problem["least"] < problem["most"] < 24.0
    assert english_words(error.value.said("de")) == []


def test_an_option_is_said_as_it_is_typed() -> None:
    wanted = message("refusals.not_accepted")
    assert Problem("--best-by", "beauty", wanted).said() == "--best-by beauty: not accepted"
    assert Problem("--best-by", "", wanted).said() == '--best-by "": not accepted'
    assert Problem("--worn", 4.5, wanted).said("de") == "--worn 4.5: nicht zulässig"


def test_a_problem_without_a_value_or_a_key() -> None:
    wanted = message("refusals.not_accepted")
    assert Problem("wall_mm", MISSING, wanted).said() == "wall_mm is missing: not accepted"
    assert Problem("wall_mm", OPEN, wanted).said() == "wall_mm: not accepted"
    assert Problem("", OPEN, wanted, "a.toml").said() == "a.toml: not accepted"


def test_of_a_flood_the_first_are_kept_as_data() -> None:
    flood = [
        Problem(f"key_{number}", 1, message("refusals.not_accepted")) for number in range(MOST_SHOWN + 5)
    ]
    error: Print3dError = refusal(Path("a.toml"), flood)
    assert len(error.problems) == MOST_SHOWN + 1
    assert "5 weitere Fehler" in error.said("de").splitlines()[-1]


def test_alternatives_are_said_in_a_row() -> None:
    assert (
        message("refusals.give", what=either(["a", "b", "c"])).said("de") == "anzugeben ist a oder b oder c"
    )
    assert either(["a"]) == "a"
