"""The report as text: what it must say, in which order, in which language, and what it must never ask for."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from pydantic import BaseModel

from print3d.design.advice import Advice
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES, catalogue, lines
from print3d.language.message import as_it_stands
from print3d.limb.norms import table
from print3d.limb.placing import finger_percentile, hand_percentile
from print3d.output.measures import given_rows, limb_rows
from print3d.output.page.html import Html, tag
from print3d.output.page.options_in_words import option_name, option_value
from print3d.output.page.report import report_page
from print3d.output.page.report_findings import by_urgency, groups
from print3d.output.pictures.of_case import pictures_of
from tests.checks.made import made, pressed
from tests.conftest import in_ci
from tests.language.english import english_words
from tests.output.reports import SMALL, page, page_of, visible_text
from tests.shaped import checked

LARGEST_BYTES = 3_000_000


@pytest.mark.parametrize("name", [SMALL[0], *map(in_ci, SMALL[1:])])
def test_every_finding_stands_there_with_sign_number_limit_and_source(name: str) -> None:
    html, built = page(name), checked(name)
    words = visible_text(html)
    assert len(re.findall(r'<td[^>]*class="sign"', html)) == len(built.findings)
    watched = sum(finding.is_watched for finding in built.findings)
    assert all(finding.holds for finding in built.findings)
    signs = [visible_text(cell).strip() for cell in re.findall(r'<td[^>]*class="sign"[^>]*>(.*?)</td>', html)]
    assert signs.count("+ holds") == len(built.findings) - watched
    assert signs.count("! holds, to be watched") == watched
    for finding in built.findings:
        assert finding.said("en") in words.replace("&#x27;", "'").replace("&quot;", '"')
    for source in {finding.source.said("en") for finding in built.findings}:
        assert source in words.replace("&#x27;", "'").replace("&quot;", '"')
    for caution in lines("cautions.all", "en"):
        assert caution in words.replace("&#x27;", "'")


def test_a_failing_number_stands_first_in_words() -> None:
    built = checked("figure_of_eight")
    bad = made("rims.edge", 0.11, 0.5, source="planted source", where=(1.0, 2.0, 3.0))
    planted = "volar PIP orthosis: sharpest skin-side edge (radius)"
    html = page_of(built, findings=(*built.findings, bad))
    words = visible_text(html)
    assert f"x 1 of {len(built.findings) + 1} checks fail" in words
    assert f"x fails {planted}: 0.11 mm (at least 0.5 mm)" in words
    assert html.index(planted) < html.index('id="live"')
    assert list(groups([*built.findings, bad]))[0] == "rims"
    assert by_urgency([*built.findings, bad])[0] is bad
    assert json.loads(
        re.findall(r'data-place="([^"]+)" data-what="' + re.escape(planted) + '"', html)[0]
    ) == [
        1.0,
        2.0,
        3.0,
    ]  # as the finding has it


KINDS_FIRST = {
    "figure_of_eight": ("Stops PIP extension at 10°", "Leaves free PIP 10 to 105°", "Straps none, it holds by its shape", "To print about"),
    "mallet_little_small_woman": ("Holds DIP", "Leaves free PIP 0 to 100°", "wrapped around To print about"),
    "relative_motion_flexion": ("more flexed than its neighbours", "Straps none, it holds by its shape", "To print about"),
}  # fmt: skip


@pytest.mark.parametrize("name", [SMALL[0], *map(in_ci, SMALL[1:])])
def test_what_is_held_and_free_stands_before_the_cautions(name: str) -> None:
    words = visible_text(page(name))
    before = words[: words.index("Cautions")]
    assert [each for each in KINDS_FIRST[name] if each not in before] == []


def test_what_to_change_stands_first_and_what_is_watched_only_without() -> None:
    built = checked("figure_of_eight")
    watched, bad = pressed(5.0, watch=4.0), made("wall.thinnest", 1.1, 1.5)
    change = Advice(bad, "orthosis.wall_mm", 1.2, 1.6, 1.52)
    words = visible_text(page_of(built, findings=(*built.findings, watched, bad), advice=(change,)))
    before = words[: words.index("Cautions")]
    assert (
        "To change Wall thickness from 1.2 mm to 1.6 mm, for volar PIP orthosis: thinnest wall: 1.52 mm"
        in before
    )
    assert "To watch" not in before
    assert f"Fails {bad.said('en')}: 1.10 mm" in visible_text(page_of(built, findings=(*built.findings, bad)))
    shown = visible_text(page_of(built, findings=(*built.findings, watched)))
    assert f"{watched.said('en')}: 5.00 kPa" in shown[shown.index("To watch ") : shown.index("Cautions")]


def test_only_what_simply_holds_is_folded() -> None:
    built = checked("figure_of_eight")
    findings = (*built.findings, pressed(5.0, watch=4.0), made("wall.thinnest", 1.1, 1.5))
    html = page_of(built, findings=findings)
    groups_of_page = re.findall(
        r"<details class=\"group\"( open)?><summary><h3>[^<]*<span class=\"count (\w+)\"", html
    )
    assert len(groups_of_page) == len(groups(findings))
    assert {(state, bool(opened)) for opened, state in groups_of_page} == {
        ("holds", False),
        ("watch", True),
        ("fails", True),
    }


def test_nothing_is_fetched_from_anywhere() -> None:
    html = page("figure_of_eight")
    assert "default-src &#x27;none&#x27;" in html
    assert not re.findall(r'(?:src|href)="(?!data:|#)[^"]*"', html)
    assert "@import" not in html
    assert "url(" not in html.split("<script")[0]


def test_words_of_a_case_are_text_and_never_page() -> None:
    built = checked("figure_of_eight")
    evil = '<script>alert(1)</script> & "quoted"'
    case = replace(built.case, header=built.case.header.model_copy(update={"note": evil}))
    html = page_of(built, case=case, remarks=(as_it_stands(evil),))
    assert "alert(1)</script>" not in html
    assert html.count("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;quoted&quot;") == 2
    assert html.count("<script") == html.count("</script>") == 4
    assert tag("p", "a < b", Html("<b>c</b>"), title='"') == '<p title="&quot;">a &lt; b<b>c</b></p>'


def test_the_same_case_gives_the_same_page() -> None:
    assert page_of(checked("figure_of_eight")) == page("figure_of_eight")


def test_german_pages_are_german() -> None:
    built = checked("figure_of_eight")
    case = replace(built.case, header=built.case.header.model_copy(update={"language": "de"}))
    html = page_of(built, case=case)
    words = visible_text(html)
    assert '<html lang="de">' in html
    for german in (
        "Befunde",
        "Wandstärke",
        "Abstand zur Haut",
        "Nicht gemessen, geschätzt",
        "Zeigefinger",
        "mindestens 2,35 mm",
    ):
        assert german in words
    for english in ("Findings", "Wall thickness", "Not measured", "Percentile", "wanted"):
        assert english not in words


def test_a_child_is_told_its_age_and_has_few_percentiles() -> None:
    built = checked("figure_of_eight")
    measured = built.case.measured.model_copy(update={"age_years": 7.0, "hand_length_mm": 137.0})
    case = replace(built.case, measured=measured)
    words = visible_text(page_of(built, case=case))
    assert "7 years" in words
    assert "A child: only hand length has a percentile" in words
    assert [row.key for row in given_rows(case) if row.percentile is not None] == ["hand_length_mm"]


def test_measured_and_estimated_share_no_dimension() -> None:
    built = checked("relative_motion_flexion")
    given, limb = given_rows(built.case), limb_rows(built.case, built.modelled)
    taped = {(row.finger, row.key) for row in limb if row.sd is None}
    assert taped
    assert taped <= {(row.finger, row.key) for row in given}
    assert all(row.sd > 0 and row.method for row in limb if row.sd is not None)


def test_percentiles_are_those_of_the_norms() -> None:
    """The published percentiles of the survey give themselves; a finger's rise from hardly anybody to nearly everybody."""
    survey = table("survey")
    published = survey["woman"]["percentiles"][survey["keys"].index("hand_length_mm")]
    for level, value in zip(survey["percentile_levels"], published, strict=True):
        assert hand_percentile("hand_length_mm", value, {}, "woman") == pytest.approx(level, abs=0.01)
    assert hand_percentile("forearm_girth_at_50_mm", 200.0, {}, "woman") is None
    for key in ("pip_girth_mm", "web_crease_to_pip_crease_mm", "middle_mm"):
        places = [
            finger_percentile("ring", key, float(value), {}, "man") for value in np.linspace(10.0, 90.0, 60)
        ]
        assert (np.diff(places) >= 0).all()
        assert places[0] < 5.0
        assert places[-1] > 95.0
    assert finger_percentile("ring", "pip_girth_mm", 60.0, {"age_years": 6.0}, "man") is None
    child = {"age_years": 6.0, "hand_length_mm": 130.0}
    assert 1.0 < (hand_percentile("hand_length_mm", 130.0, child, None) or 0.0) < 99.0


def test_a_page_with_all_its_pictures_is_small_enough() -> None:
    built = checked("relative_motion_flexion")
    whole = report_page(built, pictures_of(built))
    assert set(pictures_of(built)) == {"views", "pressure", "wall", "gap", "stress", "free_end"}
    assert whole.count('src="data:image/webp;base64,') == 6
    assert 700_000 < len(whole.encode()) < LARGEST_BYTES


def test_what_is_watched_has_its_own_sign_and_what_fails_its_change() -> None:
    built = checked("figure_of_eight")
    watched = pressed(5.0, watch=4.0)
    html = page_of(built, findings=(*built.findings, watched))
    words = visible_text(html)
    count = 1 + sum(finding.is_watched for finding in built.findings)
    assert f"! All {len(built.findings) + 1} checks hold, {count} to be watched" in words
    assert f"! holds, to be watched {watched.said('en')}: 5.00 kPa (at most 10 kPa)" in words
    bad = made("wall.thinnest", 1.1, 1.5)
    change = Advice(bad, "orthosis.wall_mm", 1.2, 1.6, 1.52)
    both = [*built.findings, watched, bad]
    first, *others = by_urgency(both)
    assert first is bad
    assert watched in others[:count]
    assert all(finding.is_watched for finding in others[:count])
    words = visible_text(page_of(built, findings=tuple(both), advice=(change,)))
    assert "Wall thickness (orthosis.wall_mm) from 1.2 mm to 1.6 mm" in words
    kept = visible_text(
        page_of(built, findings=(*built.findings, replace(bad, measured=2.0)), advice=(change,))
    )
    assert "What to change" not in kept


def test_every_option_of_every_kind_has_words() -> None:
    for kind in KINDS.values():
        for key, choices in _options(kind.options):
            for language in LANGUAGES:
                assert option_name(key, language)
                for choice in choices:
                    assert option_value(key, choice, language)
                    assert f"options.value.{choice}" in catalogue(language) or key == "kind", (key, choice)


def _options(model: type[BaseModel], before: str = "") -> Iterator[tuple[str, tuple[str, ...]]]:
    """Dotted keys of a model with the words that each may be set to."""
    for name, field in model.model_fields.items():
        inside = [
            each
            for each in (field.annotation, *get_args(field.annotation))
            if isinstance(each, type) and issubclass(each, BaseModel)
        ]
        if inside:
            yield from _options(inside[0], f"{before}{name}.")
        else:
            yield (
                f"{before}{name}",
                tuple(each for each in get_args(field.annotation) if isinstance(each, str)),
            )


def test_the_print_plan_stands_there() -> None:
    built = checked("figure_of_eight")
    words = visible_text(page_of(built))
    (plan,) = built.plans
    assert plan.position() in words
    assert f"{plan.mass_g:.1f} g" in words
    assert f"{plan.layers} layers" in words


def test_a_german_page_says_no_english_finding() -> None:
    """Words that only English texts have; titles stay as they were published, what the clinic notes as it was written."""
    built = checked("mallet_little_small_woman")
    head = built.case.header.model_copy(update={"language": "de", "note": "Notiz"})
    german = replace(built, case=replace(built.case, header=head))
    words = visible_text(page_of(german))
    assert english_words(words) == []
