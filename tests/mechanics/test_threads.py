"""Two threads check orthoses at the same time, as a worker with two threads does, and find what each finds alone."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from print3d.checks.limits import limits_of_case
from print3d.checks.motion import check_motion
from print3d.checks.stops import check_stops
from print3d.forms.orthosis import Orthosis
from print3d.kinds.registry import KINDS
from print3d.mechanics.best_move import MoveLimits, best_move

RINGS = {"kind": "figure_of_eight", "pip_flexion_deg": 0}
YOKE = {"kind": "relative_motion"}


def measured(orthosis: Orthosis, case: Any) -> list[tuple[float, Any]]:
    limits = limits_of_case(case)
    found = [*check_stops(orthosis, limits), *check_motion(orthosis, limits)]
    return [(each.measured, each.where) for each in found]


def test_two_threads_find_what_one_finds(make_case: Callable[..., Any]) -> None:
    def built(options: dict[str, Any]) -> tuple[Orthosis, Any]:
        case = make_case(options)
        return KINDS[case.orthosis.kind].build(case), case

    rings, yoke = measured(*built(RINGS)), measured(*built(YOKE))
    assert rings
    assert yoke
    fresh = [built(RINGS), built(RINGS), built(YOKE)]  # nothing of the first run is left in a cache
    start = threading.Barrier(2)

    def together(*orthoses: tuple[Orthosis, Any]) -> list[list[tuple[float, Any]]]:
        start.wait()
        return [measured(*each) for each in orthoses]

    with ThreadPoolExecutor(2) as threads:
        first, second = threads.submit(together, *fresh[:1]), threads.submit(together, *fresh[1:])
        assert first.result() == [rings]
        assert second.result() == [rings, yoke]


def test_a_best_move_raises_the_least_gap_most() -> None:
    """Two walls beside a part that may shift: the best place is midway, or as far as one step goes."""
    gap, slope = np.array([1.0, 0.2]), np.array([[0.0, -1.0, 0.0], [0.0, 1.0, 0.0]])
    for step, slide, wanted in ((1.0, (2.0, 2.0), 0.4), (0.1, (2.0, 2.0), 0.1), (1.0, (2.0, 0.05), 0.05)):
        move = best_move(gap, slope, MoveLimits(step, np.array(slide), 5.0))
        np.testing.assert_allclose(move[1], wanted, atol=1e-9)
