"""Findings are keys and numbers: their words can be changed in one language without anything else noticing."""

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from print3d import flow
from print3d.checks.finding import Finding, finding_as_data, finding_from
from print3d.checks.flare import check_flare
from print3d.checks.gap import check_gap
from print3d.checks.limits import limits_of_case
from print3d.checks.rims import check_rims
from print3d.checks.suite import run_suite
from print3d.cli.rows import row_of
from print3d.design.advice import Advice, changes_that_hold
from print3d.forms.orthosis import Orthosis
from print3d.inputs.materials import DATA, read_materials, read_printers
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, Template, catalogue
from print3d.language.message import as_it_stands
from tests.checks.made import made
from tests.conftest import CASES, in_ci, worked_cases
from tests.language.in_german import findings_of_body, from_elsewhere, marked, other_words

PACKAGE = Path(__file__).parents[2] / "print3d"
QUICK = ("mallet", "figure_of_eight", "relative_motion_flexion")
MakeCase = Callable[..., Any]


def findings_of(path: Path) -> list[Finding]:
    case = flow.read(path)
    return run_suite(KINDS[case.orthosis.kind].build(case), limits_of_case(case))


@pytest.fixture(scope="module")
def faulty(make_case: MakeCase) -> tuple[Any, Orthosis]:
    """A design with rims too sharp and ends too low."""
    case = make_case({"kind": "mallet", "rim_radius_mm": 0.35, "flare": {"height_mm": 0.2}})
    return case, KINDS["mallet"].build(case)


def measured_on(faulty: tuple[Any, Orthosis]) -> tuple[list[Finding], list[Advice]]:
    case, orthosis = faulty
    limits = limits_of_case(case)
    findings = [each for check in (check_rims, check_flare, check_gap) for each in check(orthosis, limits)]
    return findings, changes_that_hold(case, findings)


def all_but_english(found: tuple[list[Finding], list[Advice]]) -> Any:
    """Everything that comes of findings, without the English words."""
    findings, advice = found
    return (
        [finding_as_data(each) for each in findings],
        [finding_as_data(each, "de") for each in findings],
        [row_of(each, "de") for each in findings],
        [(repr(each.finding.row), each.option, each.now, each.then, each.measured) for each in advice],
    )


def keys_for_sentences() -> dict[str, Template]:
    return {
        key: key if isinstance(each, str) else (key,) * len(each) for key, each in catalogue("en").items()
    }


def test_nothing_but_english_sentences_depends_on_english_words(faulty: tuple[Any, Orthosis]) -> None:
    """Every English sentence is replaced by its key: advice, verdicts, German and the files stay as they were."""
    before = measured_on(faulty)
    assert {each.option for each in before[1]} == {"orthosis.rim_radius_mm", "orthosis.flare.height_mm"}
    with other_words("en", keys_for_sentences()):
        after = measured_on(faulty)
        assert [each.said("en") for each in after[0]] == [f"checks.{each.key}.what" for each in after[0]]
        assert json.dumps(all_but_english(after)) == json.dumps(all_but_english(before))


def test_an_advice_survives_another_wording(faulty: tuple[Any, Orthosis]) -> None:
    before = [(each.option, each.then) for each in measured_on(faulty)[1]]
    rounding = {
        key: each.replace("(radius)", "(rounding)") if isinstance(each, str) else each
        for key, each in catalogue("en").items()
    }
    assert rounding != catalogue("en")
    with other_words("en", rounding):
        findings, advice = measured_on(faulty)
        assert any("(rounding)" in each.said("en") for each in findings)
    assert [(each.option, each.then) for each in advice] == before


def test_text_that_is_not_the_catalogues_is_seen() -> None:
    found = made("rims.fold", 1.0, 0.8, leaves_mm=0.03)
    assert from_elsewhere([replace(found, source=found.what, how=())]) == []
    assert (
        len(from_elsewhere([replace(found, source=as_it_stands("as the neighbour's machine does"), how=())]))
        == 1
    )
    assert marked("{part}: wall {mm:.1f} mm") == "{part}\u27e6: wall \u27e7{mm:.1f}\u27e6 mm\u27e7"


@pytest.mark.parametrize(
    "path", worked_cases(left_to_ci=tuple({each.stem for each in CASES.glob("*.toml")} - set(QUICK)))
)
def test_all_german_about_a_worked_case_is_the_german_catalogues(path: Path) -> None:
    findings = findings_of(path)
    assert from_elsewhere(findings) == []
    for each in findings:
        assert finding_from(json.loads(json.dumps(finding_as_data(each)))) == each
        assert all(each.said(language) != each.key for language in LANGUAGES)


@pytest.mark.parametrize("numbers", [range(3), in_ci(range(3, 60))], ids=["3", "60"])
def test_all_german_about_random_bodies_is_the_german_catalogues(numbers: range) -> None:
    findings = [each for number in numbers for each in findings_of_body(number)]
    assert findings
    assert from_elsewhere(findings) == []


@pytest.mark.parametrize("name", read_materials())
def test_all_german_about_a_material_is_the_german_catalogues(make_case: MakeCase, name: str) -> None:
    processes = read_materials()[name].processes
    for printer in (key for key, printer in read_printers().items() if printer.process in processes):
        limits = limits_of_case(make_case({"kind": "mallet"}, print={"material": name, "printer": printer}))
        sources = [each.source for each in vars(limits).values() if hasattr(each, "source")]
        sources += [limits.strength.stress_mpa.source, limits.strength.modulus_mpa.source]
        found = made("rims.fold", 1.0, 0.8, leaves_mm=0.03)
        assert from_elsewhere([replace(found, source=each, how=()) for each in sources if each]) == []


def test_a_clinics_own_source_stays_as_it_is_written() -> None:
    figure = read_printers()["resin"].min_wall_mm
    own = figure.model_copy(update={"source": "our own printer, tried in May"})
    assert own.origin.said("de") == own.origin.said("en") == "our own printer, tried in May"
    assert figure.origin.said("de").startswith("aus dem Ged\u00e4chtnis")


def source_of_program() -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted(PACKAGE.rglob("*.py")))


def test_no_source_and_no_figure_is_without_use() -> None:
    program, data = (
        source_of_program(),
        "".join(path.read_text(encoding="utf-8") for path in DATA.glob("*.toml")),
    )
    for key in catalogue("en"):
        topic, _, name = key.partition(".")
        if topic == "figures":
            assert f'source = "{key}"' in data, key
        elif topic == "sources":
            assert f'"{key}"' in program, key


def test_every_message_of_the_program_has_words() -> None:
    keys = set(re.findall(r'\bmessage\(\s*"([a-z0-9_]+(?:\.[a-z0-9_-]+)+)"', source_of_program()))
    assert len(keys) > 100
    assert keys - catalogue("en").keys() == set()


def test_no_sentence_is_read_back() -> None:
    assert not re.findall(r"in finding\.what|\.what\.(?:ends|starts|split)|\.what ==", source_of_program())
