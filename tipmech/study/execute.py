"""Tasks side by side in processes; finished chunks go into the store at once; progress as data.

Processes are spawned, not forked (compiled code with threads must not be forked, and it is the same on every system).
A script that starts a study therefore needs `if __name__ == "__main__":`. Rows do not depend on the number of workers
or on the order in which chunks end: every point carries its own seed, and rows are gathered in the order of the tasks.
"""

import multiprocessing as mp
import os
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import Any, Protocol, TypeVar

from .store import Store
from .table import Table

THREAD_VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


@dataclass(frozen=True)
class Task:
    """Points first..last-1 of one cell; `key` names its chunk."""

    tip_load: int
    angle: int
    first: int
    last: int

    @property
    def key(self) -> str:
        """Name of the chunk."""
        return f"load{self.tip_load:02d}_angle{self.angle:02d}_{self.first:05d}_{self.last:05d}"

    @property
    def count(self) -> int:
        """Number of points."""
        return self.last - self.first


@dataclass(frozen=True)
class Progress:
    """How far a study is: points done of total, seconds since the start of this run, seconds left (None: unknown)."""

    done: int
    total: int
    elapsed: float
    left: float | None


class Piece(Protocol):
    """What `run_tasks` hands to a worker at once; becomes one chunk of the store."""

    @property
    def key(self) -> str:
        """Name of the chunk."""

    @property
    def count(self) -> int:
        """Number of points."""


PieceT = TypeVar("PieceT", bound=Piece)
OnProgress = Callable[[Progress], None]


def tasks_of(cells: Sequence[tuple[int, int]], points: int, chunk: int) -> list[Task]:
    """Cut the points of each cell into chunks of at most `chunk` points."""
    return [Task(i, j, k, min(k + chunk, points)) for i, j in cells for k in range(0, points, chunk)]


def run_tasks(
    store: Store,
    tasks: Sequence[PieceT],
    work: Callable[[PieceT], Table],
    workers: int,
    on_progress: OnProgress | None = None,
) -> float:
    """Run the tasks that the store does not have yet and store each when it ends; return the wall time, s.

    workers = 1 runs in this process. An exception in a task ends the run; finished chunks stay.
    """
    start = time.perf_counter()
    missing = [t for t in tasks if not store.has(t.key)]
    total = sum(t.count for t in tasks)
    kept = done = total - sum(t.count for t in missing)

    def report() -> None:
        if on_progress is not None:
            elapsed = time.perf_counter() - start
            new = done - kept
            on_progress(Progress(done, total, elapsed, elapsed / new * (total - done) if new else None))

    report()
    for task, rows in _results(missing, work, workers):
        store.put(task.key, rows)
        done += task.count
        report()
    return time.perf_counter() - start


def _results(tasks: Sequence[PieceT], work: Callable[[PieceT], Table], workers: int) -> Iterator[tuple[PieceT, Table]]:
    """Yield (task, rows) as they end."""
    if workers == 1 or len(tasks) < 2:
        for task in tasks:
            yield task, work(task)
        return
    with _one_thread_each():
        pool = ProcessPoolExecutor(min(workers, len(tasks)), mp.get_context("spawn"), _start_worker, (work,))
        try:
            futures = {pool.submit(_work_on, task): task for task in tasks}
            for future in as_completed(futures):
                yield futures[future], future.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


_WORK: list[Callable[[Any], Table]] = []  # of a worker process: set once, so that the study is not sent with every task


def _start_worker(work: Callable[[Any], Table]) -> None:
    """Keep the work in this process, and end this process when its parent dies (a killed study leaves none behind)."""
    _WORK[:] = [work]
    parent = mp.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


def _work_on(task: Piece) -> Table:
    return _WORK[0](task)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Let worker processes start with one thread for linear algebra each: N workers on N cores, same sums always."""
    before = {name: os.environ.get(name) for name in THREAD_VARIABLES}
    os.environ.update(dict.fromkeys(THREAD_VARIABLES, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
