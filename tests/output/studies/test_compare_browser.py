"""The page of variants in a real browser: linked views, one map and one scale, the difference, no 3D, accessibility."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from print3d.built import shape_case
from print3d.geometry.nearest import Surface
from print3d.kinds.registry import KINDS
from print3d.output.studies.compare_files import files_of, shown_rows
from print3d.output.studies.compare_live import variant_scenes
from print3d.studies.compare import ComparedVariant, Comparison
from print3d.studies.outcome import Outcome
from print3d.studies.variants import read_variants, read_vary
from tests.conftest import CASES
from tests.output.browser import ARGUMENTS, CHROMIUM, WIDTHS, assert_accessible, marks, opened

pytestmark = [*marks, pytest.mark.slow(in_ci=True)]  # the report's tests open the same viewer
WALLS = (2.0, 2.4)
LARGEST_BYTES = 3_000_000


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    """Two walls, not measured: the page shows shapes."""
    kinds = {name: kind.options for name, kind in KINDS.items()}
    vary = [read_vary(f"wall_mm={WALLS[0]},{WALLS[1]}")]
    variants = read_variants([CASES / "pip_extension.toml"], vary, kinds, paired=False)
    rows = [ComparedVariant(number, each, Outcome(findings=())) for number, each in enumerate(variants, 1)]
    return Comparison(tuple(rows), "margin")


@pytest.fixture(scope="module")
def file(comparison: Comparison, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("compare") / "compare.html"
    files = files_of(comparison, shape_case)
    path.write_bytes(files.contents["compare.html"])
    assert path.stat().st_size < LARGEST_BYTES
    return path


@pytest.fixture(scope="module")
def live(browser: Any, file: Path) -> Any:
    tab, wrong = opened(browser, file)
    tab.wait_for_selector("html[data-viewer=ready]", state="attached")
    yield tab
    assert not wrong
    tab.close()


def test_views_turn_together_and_tell_the_difference(live: Any) -> None:
    """A wall thicker by 0.4 mm on the same skin stands out by 0.4 mm on its outside."""
    live.check("input[name=map][value=difference]")
    live.click("button[data-look=volar]")
    live.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    bars = live.locator(".mm-bar")
    assert bars.nth(0).inner_text() == bars.nth(1).inner_text() != ""
    said = []
    for number in (0, 1):
        box = live.locator(".stage").nth(number).bounding_box()
        live.locator(".stage").nth(number).scroll_into_view_if_needed()
        box = live.locator(".stage").nth(number).bounding_box()
        for share in (0.42, 0.5, 0.58):
            live.mouse.move(box["x"] + share * box["width"], box["y"] + 0.55 * box["height"])
            said.append((number, live.locator(".value").nth(number).inner_text()))
    assert any("difference to the other variant -0.4" in words for number, words in said if number == 0)
    assert any("difference to the other variant 0.4" in words for number, words in said if number == 1)
    assert live.is_visible("[data-scale=difference]")
    assert not live.is_visible("[data-scale=wall]")
    assert not live.is_visible("#still img >> nth=0")


@pytest.mark.parametrize("width", WIDTHS)
def test_no_accessibility_rule_is_broken(browser: Any, file: Path, width: int) -> None:
    assert_accessible(browser, file, width)


def test_without_3d_and_on_paper_there_are_pictures(driver: Any, live: Any, file: Path) -> None:
    live.emulate_media(media="print")
    assert not live.is_visible("#live-3d")
    live.emulate_media(media="screen")
    plain = driver.chromium.launch(executable_path=CHROMIUM, args=[*ARGUMENTS, "--disable-3d-apis"])
    tab, wrong = opened(plain, file)
    tab.wait_for_load_state()
    assert not tab.is_visible("#live-3d")
    assert tab.locator("#still img").count() == len(WALLS)
    assert tab.is_visible("#still img >> nth=0")
    assert not wrong
    plain.close()


def test_differences_are_distances_to_the_other_variant(comparison: Comparison) -> None:
    """One scale for all, even about nought; on the outside of a thicker wall the difference is what the walls differ by."""
    variants = [shape_case(case) for _, case in shown_rows(comparison)]
    scenes = variant_scenes(variants)
    assert scenes[0].scales == scenes[1].scales
    scale = scenes[0].scales["difference"]
    assert scale.low == -scale.high
    for scene, other, sign in zip(scenes, variants[::-1], (-1.0, 1.0), strict=True):
        (body,) = scene.of_role("part")
        assert not scene.hinges
        surface = Surface(next(iter(other.meshes.values())))
        difference = body.fields["difference"]
        assert difference == pytest.approx(surface.signed(body.mesh.vertices), abs=1e-9)
        assert np.abs(difference).max() == pytest.approx(WALLS[1] - WALLS[0], abs=0.1)
        assert np.percentile(sign * difference, 90) == pytest.approx(WALLS[1] - WALLS[0], abs=0.03)
