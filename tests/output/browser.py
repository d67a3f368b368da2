"""A real browser without a network, for tests of pages that are opened from a file."""

import shutil
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
marks = [
    pytest.mark.skipif(CHROMIUM is None, reason="there is no Chromium on this machine"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]
ARGUMENTS = ["--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync", "--enable-unsafe-swiftshader"]  # fmt: skip
WAIT_MS = 60_000
WIDTHS = (1000, 390)
"""A desk and a telephone."""


def opened(browser: Any, file: Path, width: int = 1000, *, bypass_csp: bool = False) -> tuple[Any, list[str]]:
    """A page with the report, and everything that goes wrong in it."""
    tab = browser.new_page(viewport={"width": width, "height": 700}, bypass_csp=bypass_csp)
    tab.set_default_timeout(WAIT_MS)
    wrong: list[str] = []
    tab.on(
        "request",
        lambda each: wrong.append(each.url) if not each.url.startswith(("data:", file.as_uri())) else None,
    )
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.on("console", lambda each: wrong.append(each.text) if each.type == "error" else None)
    tab.goto(file.as_uri())
    return tab, wrong


def rules_broken(tab: Any) -> list[tuple[str, str]]:
    """Accessibility rules that a page breaks, each with the first place."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed")
    return [(each["id"], each["nodes"][0]["html"]) for each in axe.Axe().run(tab).response["violations"]]


def assert_accessible(browser: Any, file: Path, width: int) -> None:
    """No accessibility rule is broken at a width, nothing lies beyond it, and a heading made pale would be seen."""
    tab, wrong = opened(browser, file, width, bypass_csp=True)
    tab.wait_for_selector("html[data-viewer=ready]", state="attached")
    assert rules_broken(tab) == []
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert not wrong
    tab.evaluate("document.querySelector('h1').style.color = '#dddddd'")  # a planted fault
    assert [rule for rule, _ in rules_broken(tab)] == ["color-contrast"]
    tab.close()
