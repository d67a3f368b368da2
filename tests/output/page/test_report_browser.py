"""The report opened from a file in a real browser: no request, values under the pointer, keyboard, accessibility, no 3D."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from print3d.design.advice import Advice
from print3d.output.pictures.of_case import pictures_of, scene_of
from tests.checks.made import made, pressed
from tests.output.browser import ARGUMENTS, CHROMIUM, WIDTHS, assert_accessible, marks, opened
from tests.output.reports import page, page_of
from tests.shaped import checked

CASE = "figure_of_eight"
pytestmark = marks


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(page(CASE), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def live(browser: Any, file: Path) -> Iterator[Any]:
    tab, wrong = opened(browser, file)
    tab.wait_for_selector("html[data-viewer=ready]", state="attached")
    yield tab
    assert not wrong
    tab.close()


def test_the_value_under_the_pointer_is_said(live: Any) -> None:
    """The wall asked for is 2.4 mm and the clearance 0.2 mm; the map has values of both at the part."""
    live.locator("#stage").scroll_into_view_if_needed()
    box = live.locator("#stage").bounding_box()
    said = set()
    for share in (0.3, 0.36, 0.42, 0.48, 0.54, 0.6, 0.66):
        live.mouse.move(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])
        said.add(live.inner_text("#value"))
    told = [each for each in said if "mm" in each]
    assert told
    assert all("figure-of-eight ring" in each and "gap to the skin" in each for each in told)
    assert any("wall thickness 2.4" in each for each in told)


def test_everything_works_by_keyboard(live: Any) -> None:
    live.focus("#stage")
    assert live.evaluate("getComputedStyle(document.querySelector('.cross')).display") == "block"
    before = live.evaluate(
        "document.querySelector('#mm-bar').style.width + document.querySelector('#mm-bar').textContent"
    )
    live.keyboard.press("+")
    live.keyboard.press("ArrowLeft")
    after = live.evaluate(
        "document.querySelector('#mm-bar').style.width + document.querySelector('#mm-bar').textContent"
    )
    assert before != after
    live.focus("#joint-pip")
    live.keyboard.press("End")
    assert "105°" in live.inner_text("output[for=joint-pip]")
    live.focus("#joints-reset")
    live.keyboard.press("Enter")
    assert live.input_value("#joint-pip") != "105"
    folded = "details.group:not([open]):has(button.place) > summary"
    place = live.locator(folded).first.locator("xpath=..").locator("button.place").first.element_handle()
    assert not place.is_visible()
    live.focus(folded)
    live.keyboard.press("Enter")
    assert place.is_visible()
    place.focus()
    live.keyboard.press("Enter")
    assert live.inner_text("#value").startswith("Marked: ")
    assert live.evaluate("document.activeElement.id") == "stage"


def test_a_map_shows_its_own_colours(live: Any) -> None:
    """A clearance of 0.2 mm is indigo on a scale from 0 to 1 mm. Such pixels stand in the picture, and none of them once the map is off (guards the shader's hook)."""
    count = """() => {
        const canvas = document.querySelector('#stage canvas');
        const flat = document.createElement('canvas');
        [flat.width, flat.height] = [canvas.width, canvas.height];
        const pen = flat.getContext('2d');
        pen.drawImage(canvas, 0, 0);
        const data = pen.getImageData(0, 0, flat.width, flat.height).data;
        let indigo = 0;
        for (let k = 0; k < data.length; k += 4) indigo += data[k + 2] > 90 && Math.abs(data[k] - data[k + 1]) < 25 && data[k + 2] - data[k + 1] > 40;
        return indigo;
    }"""  # fmt: skip
    live.check("input[name=map][value=gap]")
    live.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    with_map = live.evaluate(count)
    live.check("input[name=map][value='']")
    live.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert with_map > 2000
    assert live.evaluate(count) < 0.02 * with_map
    assert not live.is_visible("[data-scale=gap]")


def test_the_pressure_is_read_on_the_skin(live: Any) -> None:
    """Under its map the skin is pointed at, through the orthosis; nowhere does it say more than the scale has."""
    assert live.locator("input[name=map]").nth(1).get_attribute("value") == "pressure"
    live.check("input[name=map][value=pressure]")
    live.locator("#stage").scroll_into_view_if_needed()
    box, said = live.locator("#stage").bounding_box(), set()
    for share in np.linspace(0.1, 0.9, 30):
        live.mouse.move(box["x"] + share * box["width"], box["y"] + 0.5 * box["height"])
        said.add(live.inner_text("#value"))
    told = [
        float(each.split()[-2])
        for each in said
        if each.startswith("skin: pressure on the skin") and "kPa" in each
    ]
    assert told
    assert 0.0 <= min(told) <= max(told) <= scene_of(checked(CASE)).scales["pressure"].high
    assert live.is_visible("[data-scale=pressure]")
    live.check("input[name=map][value='']")


@pytest.fixture(scope="module")
def failing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page in German, with two checks that fail, a change that would help one, and a number to be watched."""
    built, bad = checked(CASE), made("wall.thinnest", 1.1, 1.5)
    case = replace(built.case, header=built.case.header.model_copy(update={"language": "de"}))
    findings = (*built.findings, bad, made("rims.edge", 0.11, 0.5), pressed(5.0, watch=4.0))
    change = Advice(bad, "orthosis.wall_mm", 1.2, 1.6, 1.52)
    path = tmp_path_factory.mktemp("failing") / "report.html"
    path.write_text(page_of(built, case=case, findings=findings, advice=(change,)), encoding="utf-8")
    return path


@pytest.mark.parametrize(("width", "height"), [(1280, 900), (390, 844)])
@pytest.mark.parametrize("which", ["file", "failing"])
def test_the_first_screen_says_what_matters(
    browser: Any, which: str, width: int, height: int, request: pytest.FixtureRequest
) -> None:
    tab, wrong = opened(browser, request.getfixturevalue(which), width)
    tab.set_viewport_size({"width": width, "height": height})
    tab.wait_for_selector("html[data-viewer=ready]", state="attached")
    shown = {each: tab.locator(each).bounding_box() for each in (".verdict", ".glance", "#stage")}
    for name, box in shown.items():
        assert 0 <= box["y"] < box["y"] + box["height"] <= height, name
    assert tab.locator(".cautions").bounding_box()["y"] > shown[".glance"]["y"]
    assert tab.is_visible("h1")
    assert tab.input_value("#limb-opacity") == "100"
    assert tab.is_checked("input[name=map][value='']")
    assert not wrong
    tab.close()


@pytest.mark.slow(in_ci=True)
@pytest.mark.parametrize("width", WIDTHS)
def test_no_accessibility_rule_is_broken(browser: Any, file: Path, width: int) -> None:
    assert_accessible(browser, file, width)


def test_without_3d_the_page_reads_and_nothing_breaks(driver: Any, file: Path) -> None:
    browser = driver.chromium.launch(executable_path=CHROMIUM, args=[*ARGUMENTS, "--disable-3d-apis"])
    tab, wrong = opened(browser, file)
    tab.wait_for_load_state()
    assert tab.is_visible("#no-live")
    assert not tab.is_visible("#live-3d")
    assert tab.is_visible("figure img >> nth=0")
    assert tab.locator("td.sign").count() == len(checked(CASE).findings)
    assert not wrong
    browser.close()


def test_on_paper_there_are_words_and_pictures_and_no_controls(live: Any) -> None:
    live.emulate_media(media="print")
    assert not live.is_visible("#live-3d")
    assert not live.is_visible("button >> nth=0")
    assert live.is_visible("td.sign >> nth=0")
    assert live.is_visible("figure img >> nth=0")
    live.emulate_media(media="screen")


def test_two_views_stand_alike_and_share_a_difference_map(browser: Any, file: Path) -> None:
    """What a page that compares variants does, as viewer/README.md says."""
    tab, wrong = opened(browser, file)
    tab.wait_for_selector("html[data-viewer=ready]", state="attached")
    found = tab.evaluate("""async () => {
        const text = document.querySelector('script.scene').textContent;
        const views = [];
        for (let k = 0; k < 2; k++) {
            const place = document.createElement('div');
            place.style = 'width:300px;height:200px';
            document.body.append(place);
            views.push(new print3dViewer.Viewer(place, await print3dViewer.decode(text), ['#000000', '#ffffff']));
        }
        print3dViewer.link(views);
        views[1].look('dorsal');
        const part = views[0].data.bodies.find((body) => body.role === 'part');
        views[0].addField(part.name, 'difference', new Float32Array(part.points.length / 3).fill(0.25), { low: 0, high: 1 });
        views[0].show('difference');
        const standing = views.map((view) => view.standing());
        const value = Object.values(part.fields.difference.slice(0, 2));
        views[0].joint('pip', 90);
        views.forEach((view) => view.dispose());
        return { standing, value, left: document.querySelectorAll('canvas').length };
    }""")
    first, second = found["standing"]
    for key in ("position", "target", "up"):
        assert first[key] == pytest.approx(second[key], abs=1e-6)
    assert first["mmPerPixel"] == pytest.approx(second["mmPerPixel"], rel=1e-6)
    assert found["value"] == [0.25, 0.25]
    assert found["left"] == 1
    assert not wrong
    tab.close()


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(path.stem for path in Path("params/cases").glob("*.toml")))
def test_every_worked_case_opens(browser: Any, name: str, tmp_path: Path) -> None:
    from print3d.output.page.report import report_page

    whole = report_page(checked(name), pictures_of(checked(name)))
    assert len(whole.encode()) < 3_000_000
    path = tmp_path / "report.html"
    path.write_text(whole, encoding="utf-8")
    tab, wrong = opened(browser, path)
    tab.wait_for_selector("html[data-viewer=ready]", state="attached")
    for slider in tab.query_selector_all("input[data-joint]"):
        tab.evaluate("each => { each.value = each.max; each.dispatchEvent(new Event('input')); }", slider)
    assert not wrong
    tab.close()
