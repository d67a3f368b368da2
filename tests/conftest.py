"""What many tests share: a finger, a case, and plain questions about meshes."""

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from print3d.geometry.mesh import Mesh
from print3d.inputs.case import Case
from print3d.inputs.case_file import case_from_data
from print3d.kinds.registry import KINDS
from print3d.limb.estimates import estimate_finger, estimate_hand
from print3d.limb.finger import FingerLimb, build_finger
from tests.taped import taped

if "CI" in os.environ and find_spec("hypothesis") is not None:  # tests of the wheel alone run without it
    from hypothesis import settings

    settings.register_profile("ci", derandomize=True)  # a landing does not hang on the luck of the draw
    settings.load_profile("ci")


def pytest_configure(config: pytest.Config) -> None:
    """Register the mark here, so that tests of the wheel, which run without pyproject.toml, know it too."""
    slow = "left out by the default command; CI runs those of a minute at most, in_ci=True, the others are long sweeps and full builds"
    config.addinivalue_line("markers", f"slow(in_ci): {slow}")


CASES = Path(__file__).parents[1] / "params" / "cases"


LARGE = ("dorsal_blocking", "dorsal_blocking_child", "dorsal_blocking_left", "dorsal_blocking_two_parts")
"""Worked cases that take half a minute each where every file is made; the short one stands for them in quick tests."""


AGAIN = (
    "mallet_little_small_woman", "mallet_with_pip_block_two_piece", "pip_extension_large_middle", "pip_extension_left_index",
    "pip_extension_series", "relative_motion_flexion",
)  # fmt: skip
"""Worked cases of a kind that another one shows as well: left to CI."""


def in_ci(*values: object) -> Any:
    """Return a set of parameters that the default command leaves to CI."""
    return pytest.param(*values, marks=pytest.mark.slow(in_ci=True))


def worked_cases(large: Sequence[str] = LARGE, left_to_ci: Sequence[str] = AGAIN) -> list[Any]:
    """Return the path of every worked case for a parametrised test, the large ones as slow, others left to CI."""

    def marks(name: str) -> list[Any]:
        if name in large:
            return [pytest.mark.slow]
        return [pytest.mark.slow(in_ci=True)] if name in left_to_ci else []

    return [pytest.param(path, id=path.stem, marks=marks(path.stem)) for path in sorted(CASES.glob("*.toml"))]


def is_closed(mesh: Mesh) -> bool:
    """Every directed edge once, and its opposite once."""
    faces, n = mesh.faces, len(mesh.vertices)
    edges = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    forward, backward = edges[:, 0] * n + edges[:, 1], edges[:, 1] * n + edges[:, 0]
    return len(np.unique(forward)) == len(forward) and np.array_equal(np.sort(forward), np.sort(backward))


def genus(mesh: Mesh) -> int:
    """Genus of a closed single body, by Euler's formula V - E + F = 2 - 2 g."""
    euler = len(np.unique(mesh.faces)) - len(mesh.faces) * 3 // 2 + len(mesh.faces)
    return (2 - euler) // 2


@contextmanager
def in_time(seconds: int) -> Iterator[None]:
    """Fail a test that waits for ever."""

    def late(*_: object) -> None:
        pytest.fail(f"no end after {seconds} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="session")
def middle_finger() -> FingerLimb:
    """A man's straight middle finger."""
    given = {"pip_girth_mm": 66.0, "dip_girth_mm": 56.0}
    return build_finger(
        "middle", estimate_finger("middle", given, estimate_hand({"hand_length_mm": 193.0}, "man"))
    )


@pytest.fixture(scope="session")
def make_case() -> Callable[..., Case]:
    """Return a function that makes a case from options of its orthosis and further tables."""

    def make(orthosis: dict[str, Any], **tables: dict[str, Any]) -> Case:
        data = {
            "case": {"code": "PY-001", "side": "right", "finger": "middle"},
            "measured": {
                "sex": "man",
                "hand_length_mm": 193.0,
                "middle": {"pip_girth_mm": 66.0, "dip_girth_mm": 56.0},
            },
            "print": {"material": "petg", "printer": "extrusion"},
            "orthosis": orthosis,
            **tables,
        }
        data["measured"] = taped(data["measured"])
        return case_from_data(data, {name: kind.options for name, kind in KINDS.items()}, CASES / "made.toml")

    return make
