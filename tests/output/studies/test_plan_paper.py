"""The plan of a series on paper: every angle, room to write, signs, both languages, nothing cut."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from print3d.guidance.tables import read_step_rules
from print3d.inputs.libraries import Libraries
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, catalogue, lines, number, text
from print3d.language.message import as_it_stands, entry_of_table, message
from print3d.output.studies.plan_paper import write_plan_paper
from print3d.output.studies.plan_sheet import plan_text
from print3d.studies.series import StepOutcome
from print3d.studies.series_plan import Request, SeriesPlan, read_plan
from tests.checks.made import made, pressed
from tests.conftest import CASES
from tests.language.english import english_words
from tests.output.paper.conftest import Pdf
from tests.output.paper.test_paper import faults

OPTIONS = {name: kind.options for name, kind in KINDS.items()}
FLAGGED = Request(
    remeasured={"pip_passive_extension_deficit_deg": 37.0, "pip_girth_mm": 61.0}, worn_deg=38.0, step_deg=12.0
)
LOST = Request(remeasured={"pip_passive_extension_deficit_deg": 48.0, "pip_girth_mm": 68.0}, worn_deg=37.5)
JUMP = Request(remeasured={"pip_passive_extension_deficit_deg": 10.0}, worn_deg=37.5)
ONE = Request(remeasured={"pip_passive_extension_deficit_deg": 0.0}, worn_deg=7.5)
REVERSE = "figure_of_eight_reverse"
PRESSED = pressed()
THIN = made("wall.thinnest", 0.5, 0.8)
FREE = made("motion.free", 70.0, 80.0, "deg", joint=message("common.joint.dip"))


def planned(language: str, request: Request = FLAGGED, name: str = "pip_extension_series") -> SeriesPlan:
    plan = read_plan(CASES / f"{name}.toml", OPTIONS, request)
    head = plan.case.header.model_copy(update={"language": language})
    return replace(plan, case=replace(plan.case, header=head))


def mixed(plan: SeriesPlan) -> list[StepOutcome]:
    """One that fails and is to be watched, one that is not built, one built otherwise; the rest hold."""
    first = StepOutcome(
        "volar",
        True,
        (THIN, PRESSED),
    )
    remark = message("series.outcome.form", shape=message("common.form.dorsal"))
    why = message("series.outcome.fails", failing=[FREE.brief])
    differs = message("series.outcome.as_asked", remarks=remark, why=why)
    held = pressed(watch=None)
    other = StepOutcome("dorsal", True, (held,), message=differs)
    rest = [StepOutcome("volar", True, (held,)) for _ in plan.steps[3:]]
    return [first, StepOutcome(message=as_it_stands("the shell folds over itself")), other, *rest]


def text_of(plan: SeriesPlan, outcomes: list[StepOutcome], folder: Path) -> str:
    write_plan_paper(folder / "plan.pdf", plan, outcomes)
    assert not faults(folder / "plan.pdf")
    return Pdf(folder / "plan.pdf").text()


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_orthosis_of_the_plan_stands_on_paper(tmp_path: Path, language) -> None:
    plan = planned(language)
    words = text_of(plan, mixed(plan), tmp_path)
    assert len(plan.steps) == 5
    for step in plan.steps:
        angle = number(step.gives_deg, language, decimals=0 if step.gives_deg.is_integer() else 1)
        assert text("series.gives_extension", language, angle=step.gives_deg) in words
        assert f"{step.number} {angle}°" in words
    assert all(caution in words for caution in lines("cautions.all", language))
    assert f"--worn {plan.steps[0].angle_deg:g}" in words


SAID = {
    "en": ("does not hold: volar PIP orthosis: thinnest wall", "to be watched on the skin: PIP at rest", "Large step", "No gain",
           "3 mm less", "the shell folds over itself", "dorsal form; as asked"),
    "de": ("nicht bestanden: palmare PIP-Orthese: dünnste Wand", "auf der Haut zu beobachten: PIP in Ruhe, Grundglied", "Großer Schritt: Schritte von 12 Grad: höchstens 10 [1, aus dem Gedächtnis]",
           "Kein Gewinn", "3 mm weniger", "konnte nicht gebaut werden", "Form dorsal; wie verlangt: nicht bestanden"),
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_must_be_looked_at_is_said_in_the_language(tmp_path: Path, language) -> None:
    plan = planned(language)
    words = text_of(plan, mixed(plan), tmp_path)
    for sentence in SAID[language]:
        assert sentence in words
    assert text("series.all_hold", language) not in words


@pytest.mark.parametrize("request_", [FLAGGED, LOST, JUMP, ONE])
def test_every_flag_can_be_said(request_: Request) -> None:
    plan = planned("de", request_)
    assert plan.flags
    flagged = [each.citing("5 [1]").said("de") for each in plan.flags]
    assert [words for each in flagged for words in english_words(each)] == []
    assert english_words(entry_of_table(plan.rule.title).said("de")) == []


def test_every_source_of_a_series_can_be_said() -> None:
    rules = read_step_rules(Libraries())
    figures = [
        getattr(rule, name)
        for rule in rules.values()
        for name in vars(rule)
        if name.endswith(("deg", "days", "hours"))
    ]
    sources = [figure.source for figure in figures if figure is not None]
    assert len(sources) == 11
    assert set(sources) <= catalogue("de").keys()
    assert [words for each in sources for words in english_words(text(each, "de"))] == []


def test_the_plan_to_read_on_a_screen_speaks_the_language_too() -> None:
    """All of it but a refusal that was made up in English."""
    for request in (FLAGGED, LOST, JUMP, ONE):
        plan = planned("de", request)
        outcomes = mixed(plan) if len(plan.steps) > 2 else [StepOutcome() for _ in plan.steps]
        words = "\n".join(plan_text(plan, outcomes))
        command = re.compile(r"print3d series.*?--worn [\d.]+")
        words = " ".join(words.split())
        bare = words.replace("the shell folds over itself", "")
        assert command.search(bare)
        assert english_words(command.sub("", bare)) == []
        assert all(caution in words for caution in lines("cautions.all", "de"))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_series_towards_flexion_and_one_not_built_yet(tmp_path: Path, language) -> None:
    plan = planned(language, Request(goal_deg=45.0), REVERSE)
    words = text_of(plan, [StepOutcome() for _ in plan.steps], tmp_path)
    assert text("series.gives_flexion", language, angle=45.0) in words
    assert text("series.on_flexion", language, first=1) in words
    assert text("series.notes_head", language) not in words
    assert text("series.all_hold", language) not in words


def test_a_long_series_goes_on_over_pages_and_the_bytes_are_the_same(tmp_path: Path) -> None:
    plan = planned("de", Request(step_deg=2.0))
    outcomes = [StepOutcome("volar", True, (PRESSED,)) for _ in plan.steps]
    assert len(plan.steps) > 20
    for name in ("a", "b"):
        write_plan_paper(tmp_path / f"{name}.pdf", plan, outcomes)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    assert not faults(tmp_path / "a.pdf")
    words = Pdf(tmp_path / "a.pdf").text()
    assert words.count("zu beobachten: PIP in Ruhe") == 1  # the same at every step is said once
    assert "Orthese 1, 2, 3, " in words
    assert len(Pdf(tmp_path / "a.pdf").document) > 2
