"""Many independent jobs on all cores, or on a cluster.

Results come as they are ready, and a lost worker loses none.

Local workers are fresh processes (spawn) that import what the job needs and nothing else; each computes on one thread.
On a cluster the scheduler hands a lost worker's jobs to another one.
"""

import os
import signal
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context, parent_process
from threading import Thread
from typing import TypeVar

from print3d.errors import InputError, StudyError
from print3d.language.message import message

Job = TypeVar("Job")
Outcome = TypeVar("Outcome")

MOST_LOSSES = 3
"""Times in a row that workers may be lost without a result in between; then a job itself ends them, by memory for example. Own choice."""
CONNECT_S = 10.0
"""How long a scheduler is waited for; own choice."""
THREAD_LIMITS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True)
class Workers:
    """Who does the work.

    scheduler : address of a dask.distributed scheduler; None is this machine
    n_workers : processes on this machine; None is one a core
    """

    scheduler: str | None = None
    n_workers: int | None = None


def run_all(
    task: Callable[[Job], Outcome],
    jobs: Sequence[Job],
    workers: Workers = Workers(),  # noqa: B008 (frozen)
) -> Generator[tuple[int, Outcome], None, None]:
    """Yield the number of each job with its result, in the order in which they are ready.

    task : a function of a module, so that workers find it

    Raises what a job raises, InputError if there is no such scheduler, StudyError if workers are lost again and again.
    """
    if workers.scheduler is not None:
        yield from _on_cluster(task, jobs, workers.scheduler)
    elif jobs:
        yield from _on_this_machine(task, jobs, min(workers.n_workers or n_cores(), len(jobs)))


def n_cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _on_this_machine(
    task: Callable[[Job], Outcome], jobs: Sequence[Job], n_workers: int
) -> Iterator[tuple[int, Outcome]]:
    """Jobs of a worker that was lost go to a new set of workers."""
    open_jobs, losses = dict(enumerate(jobs)), 0
    while open_jobs:
        if losses == MOST_LOSSES:
            raise StudyError(
                message("refusals.workers.lost", losses=losses, n_open=len(open_jobs), n_jobs=len(jobs))
            )
        losses += 1
        try:
            for number, outcome in _one_round(task, open_jobs, n_workers):
                del open_jobs[number]
                losses = 0
                yield number, outcome
        # guard: killed: a worker's jobs go to another one
        except BrokenProcessPool:
            continue


def _one_round(
    task: Callable[[Job], Outcome], jobs: dict[int, Job], n_workers: int
) -> Iterator[tuple[int, Outcome]]:
    with _one_thread_each():
        pool = ProcessPoolExecutor(n_workers, get_context("spawn"), initializer=_leave_stopping_to_the_parent)
        try:
            numbers: dict[Future[Outcome], int] = {
                pool.submit(task, job): number for number, job in jobs.items()
            }
            for future in as_completed(numbers):
                yield numbers[future], future.result()
        finally:
            pool.shutdown(cancel_futures=True)


def _leave_stopping_to_the_parent() -> None:
    """Ctrl-C reaches every process of a terminal: workers finish what they have and the parent sends no more.

    A parent that is ended in any other way takes its workers with it.
    """
    # guard: stopped: workers finish what they have
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # guard: killed: workers end with the program
    Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Workers started meanwhile compute on one thread: there is one of them for every core."""
    before = {name: os.environ.get(name) for name in THREAD_LIMITS}
    os.environ.update(dict.fromkeys(THREAD_LIMITS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _on_cluster(
    task: Callable[[Job], Outcome], jobs: Sequence[Job], scheduler: str
) -> Iterator[tuple[int, Outcome]]:
    try:
        from distributed import Client
        from distributed import as_completed as as_they_come
    # guard: library: of a cluster
    except ImportError as error:
        raise InputError(message("refusals.workers.no_dask", scheduler=scheduler)) from error
    try:
        client = Client(scheduler, timeout=CONNECT_S)
    except (OSError, ValueError) as error:
        raise InputError(
            message("refusals.workers.no_scheduler", scheduler=scheduler, seconds=CONNECT_S)
        ) from error
    with client:
        futures = client.map(task, jobs, pure=False)
        numbers = {future.key: number for number, future in enumerate(futures)}
        for future in as_they_come(futures):
            yield numbers[future.key], future.result()
            future.release()
