"""How a study is run: where results are kept, who does the work, and who hears of its progress."""

from collections.abc import Callable
from dataclasses import dataclass

from print3d.studies.store import Store
from print3d.workers import Workers


def _tell_nobody(done: int, of: int) -> None:
    pass


@dataclass(frozen=True)
class Run:
    """One run; stopped at any time, the next one goes on from what is kept.

    on_result : called with how many are done, and of how many
    """

    store: Store
    workers: Workers = Workers()
    on_result: Callable[[int, int], None] = _tell_nobody
