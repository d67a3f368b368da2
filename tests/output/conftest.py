"""A body that every export can be tried with."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import trimesh

from print3d.geometry.mesh import Mesh
from tests.output.browser import ARGUMENTS, CHROMIUM

RING_MM, TUBE_MM = 10.0, 2.0


@pytest.fixture(scope="session")
def ring() -> Mesh:
    """A torus around z, 24 mm wide and 4 mm high."""
    body = trimesh.creation.torus(RING_MM, TUBE_MM, major_sections=64, minor_sections=24)
    return Mesh(np.asarray(body.vertices, dtype=float), np.asarray(body.faces, dtype=np.int64))


@pytest.fixture(scope="module")
def driver() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as started:
        yield started


@pytest.fixture(scope="module")
def browser(driver: Any) -> Iterator[Any]:
    opened = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
    yield opened
    opened.close()
