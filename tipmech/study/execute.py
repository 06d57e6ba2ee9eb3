"""Tasks side by side; finished chunks go into the store at once; progress as data.

Rows do not depend on what runs the tasks, on the number of workers or on the order in which chunks end: every point
carries its own seed, and rows are gathered in the order of the tasks. This process alone writes into the store.
"""

import time
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass

from .gpu import OnGpu
from .processes import Processes
from .store import Store
from .task import Executor, Piece, Task, Work, tasks_of

__all__ = ["Executor", "OnProgress", "Piece", "Progress", "Task", "Work", "run_tasks", "tasks_of"]


@dataclass(frozen=True)
class Progress:
    """How far a study is: points done of total, seconds since the start of this run, seconds left (None: unknown)."""

    done: int
    total: int
    elapsed: float
    left: float | None


OnProgress = Callable[[Progress], None]


def run_tasks(
    store: Store, tasks: Sequence[Piece], work: Work, workers: int | Executor, on_progress: OnProgress | None = None
) -> float:
    """Run the tasks that the store does not have yet and store each when it ends; return the wall time, s.

    workers : a number of processes here (1: this process), or what else runs tasks (`cluster.DaskWorkers`)

    An exception in a task ends the run; finished chunks stay. A chunk found damaged counts as missing.
    """
    start = time.perf_counter()
    executor = workers if isinstance(workers, Executor) else Processes(workers)
    kept_keys = store.kept([t.key for t in tasks])
    missing = [t for t in tasks if t.key not in kept_keys]
    total = sum(t.count for t in tasks)
    kept = done = total - sum(t.count for t in missing)

    def report() -> None:
        if on_progress is not None:
            elapsed = time.perf_counter() - start
            new = done - kept
            on_progress(Progress(done, total, elapsed, elapsed / new * (total - done) if new else None))

    report()
    if not missing:
        return time.perf_counter() - start
    if isinstance(executor, OnGpu):
        store.carried_out_by(executor.gpu.name)
    with closing(executor.results(missing, work)) as results:  # closed at once when a chunk cannot be stored
        for task, rows in results:
            store.put(task.key, rows)
            done += task.count
            report()
    return time.perf_counter() - start
