"""Tasks in processes of this machine.

Processes are spawned, not forked (compiled code with threads must not be forked, and it is the same on every system).
A script that starts a study therefore needs `if __name__ == "__main__":`.
"""

import multiprocessing as mp
import os
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import Any

from .table import Table
from .task import Piece, Results, Stopped, Work

THREAD_VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


@dataclass(frozen=True)
class Processes:
    """So many processes; 1: this one."""

    count: int

    def results(self, tasks: Sequence[Piece], work: Work) -> Results:
        """Yield (task, rows) as they end."""
        if self.count == 1 or len(tasks) < 2:
            for task in tasks:
                yield task, work(task)
            return
        with one_thread_each():
            pool = ProcessPoolExecutor(min(self.count, len(tasks)), mp.get_context("spawn"), start_worker, (work,))
            try:
                futures = {pool.submit(_work_on, task): task for task in tasks}
                for future in as_completed(futures):
                    yield futures.pop(future), future.result()
            except BrokenProcessPool:
                raise killed() from None
            finally:
                pool.shutdown(wait=True, cancel_futures=True)


def killed() -> Stopped:
    """What is said where a worker process was killed."""
    why = "a worker process was killed (or memory ran out), finished parts are kept"
    return Stopped(f"workers: {why}; allowed: the same command again, with fewer --workers")


_WORK: list[Work] = []  # of a worker process: set once, so that the study is not sent with every task


def start_worker(work: Work) -> None:
    """Keep the work in this process, and end this process when its parent dies (a killed study leaves none behind)."""
    _WORK[:] = [work]
    parent = mp.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def kept_work() -> Any:
    """The work that this process was started with."""
    return _WORK[0]


def _end_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


def _work_on(task: Piece) -> Table:
    table: Table = kept_work()(task)
    return table


@contextmanager
def one_thread_each() -> Iterator[None]:
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
