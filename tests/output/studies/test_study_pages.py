"""Pages of studies in German: no English word is left, neither on the page nor inside its charts."""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from print3d import __version__, flow
from print3d.built import shape_case
from print3d.checks.limits import loosest_of
from print3d.language.catalogue import LANGUAGES, catalogue
from print3d.limb.uncertainty import Source, spreads_of_case
from print3d.output.studies import compare_files, difference, plots, sensitivity_files, sensitivity_plots
from print3d.output.studies.words import key_name, value_name, variant_title
from print3d.studies.compare import Comparison, compare
from print3d.studies.outcome import FIGURES
from print3d.studies.run import Run
from print3d.studies.sensitivity import StudyPlan, study
from print3d.studies.store import Store
from print3d.studies.variants import Variant
from print3d.workers import Workers
from tests.conftest import CASES
from tests.language.english import english_words
from tests.output.reports import visible_text
from tests.studies.test_compare import fit_check, variants

ONE = Workers(n_workers=1)
SAID_BY_THE_PROGRAM = re.compile(r'<span lang="en">.*?</span>')


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every text that is drawn into a chart."""
    found: list[str] = []

    def noted(sheet: Any, language: Any) -> bytes:
        from matplotlib.text import Text

        content = plots_as_png(sheet, language)
        found.extend(each.get_text() for each in sheet.findobj(Text))
        return content

    plots_as_png = plots.as_png
    for module in (plots, difference, sensitivity_plots):
        monkeypatch.setattr(module, "as_png", noted)
    return found


def german(case: Any) -> Any:
    return replace(case, header=case.header.model_copy(update={"language": "de"}))


def german_variants(*varied: str) -> list[Variant]:
    asked = variants(*varied)
    return [each if each.case is None else replace(each, case=german(each.case)) for each in asked]


@pytest.fixture(scope="module")
def comparison(tmp_path_factory: pytest.TempPathFactory) -> Comparison:
    asked = german_variants("form=volar,dorsal", "wall_mm=1.4,2", "rim_radius_mm=0.9")
    return compare(asked, fit_check, Run(Store(tmp_path_factory.mktemp("kept")), ONE))


def test_english_words_are_found() -> None:
    """Planted."""
    assert english_words("Die dünnste wall der Orthese")
    assert not english_words("Die dünnste Wand der Orthese")


@pytest.mark.slow(in_ci=True)
def test_a_german_page_of_variants_has_no_english_word(comparison: Comparison, drawn: list[str]) -> None:
    files = compare_files.files_of(comparison, shape_case)
    html = files.contents["compare.html"].decode()
    assert '<html lang="de">' in html
    words = visible_text(SAID_BY_THE_PROGRAM.sub("", html))
    labels = " ".join(re.findall(r'(?:aria-label|alt|title)="([^"]*)"', html))
    assert english_words(words) == english_words(labels) == []
    assert "Lage der Schale" in words
    assert "2 mm" in words
    assert "nicht baubar" in words
    said = " / ".join(drawn)
    assert len(drawn) > 60
    assert english_words(said) == []
    assert not re.search(r"\d\.\d", said)
    assert re.search(r"\d,\d", said)


def test_programs_read_the_same_whatever_the_language(comparison: Comparison) -> None:
    rows = tuple(
        replace(row, variant=replace(row.variant, case=None if row.variant.case is None else english(row.variant.case)))
        for row in comparison.rows
    )  # fmt: skip
    english_one = replace(comparison, rows=rows)
    assert english_one.language == "en"
    assert comparison.language == "de"
    assert compare_files.as_csv(english_one) == compare_files.as_csv(comparison)
    assert compare_files.as_data(english_one) == compare_files.as_data(comparison)


def english(case: Any) -> Any:
    return replace(case, header=case.header.model_copy(update={"language": "en"}))


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize(("name", "tried"), [("mallet", (0.0, 0.4)), ("figure_of_eight", ())])
def test_a_german_page_of_a_fit_has_no_english_word(
    name: str, tried: tuple[float, ...], tmp_path: Path, drawn: list[str]
) -> None:
    case = german(flow.read(CASES / f"{name}.toml"))
    plan = StudyPlan(spreads_of_case(case), loosest_of(case.orthosis.clearance_mm, None), 4, 2, 7, tried)
    found = study(case, plan, Run(Store(tmp_path), ONE))
    files = sensitivity_files.files_of(found)
    html = files.contents["sensitivity.html"].decode()
    assert '<html lang="de">' in html
    words = visible_text(html)
    assert english_words(words) == []
    assert "Wie sicher" in words
    assert "SD 1,0 mm" in words
    assert not re.search(r"\d\.\d", words.replace(f"print3d {__version__}", ""))
    said = " / ".join(drawn)
    assert len(drawn) > 30
    assert english_words(said) == []
    assert not re.search(r"\d\.\d", said)
    in_english = replace(found, case=english(case))
    for table in (
        sensitivity_files.findings_csv,
        sensitivity_files.draws_csv,
        sensitivity_files.clearances_csv,
    ):
        assert table(in_english) == table(found)
    assert sensitivity_files.as_data(in_english) == sensitivity_files.as_data(found)


@pytest.mark.parametrize("language", LANGUAGES)
def test_everything_a_study_names_has_words(language: Any) -> None:
    for each in FIGURES:
        assert f"studies.figure.{each.name}" in catalogue(language)
        assert f"studies.order.{each.name}" in catalogue(language)
    for source in (
        Source("dip_girth_mm", "tape", 1.0),
        Source("mcp", "joint centre", 1.0),
        Source("print", "print", 1.0),
    ):
        assert source.words(language)
        assert source.words_of_origin(language)


def test_keys_and_values_are_said_where_there_are_words() -> None:
    assert key_name("orthosis.wall_mm", "de") == "Wandstärke (wall_mm)"
    assert key_name("case.note", "de") == "case.note"
    assert value_name("orthosis.wall_mm", 2.5, "de") == "2,5 mm"
    assert value_name("orthosis.fingers", ["index"], "de") == '["index"]'
    assert value_name("print.material", "petg", "de") == "PETG"
    (alone,) = variants()
    assert variant_title(alone, "de") == "wie in der Falldatei"
