"""What the store and the ways of running tasks cost, measured on made-up tasks of known duration."""

import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from tipmech.study.cluster import connected
from tipmech.study.execute import Progress, run_tasks
from tipmech.study.inputs import sobol_points
from tipmech.study.store import Store, open_store
from tipmech.study.table import Table
from tipmech.study.task import Executor, Task, tasks_of

COLUMNS = 62  # of a row, as many as a map has
POINTS = 8  # of a chunk of the runs that measure the overhead
CHUNK = 16  # points of a map's chunk, for files and throughput
SECONDS = 0.35  # an insertion, docs/results.md
WORKERS = 2


@dataclass(frozen=True)
class Overhead:
    """A run of tasks of known duration: seconds to its first chunk beyond that chunk's own, seconds a chunk after it,
    and what a chunk is made to last."""

    name: str
    start: float
    chunk: float
    made: float

    @property
    def share(self) -> float:
        """Time beyond the work's own, of it, once the run has started."""
        return self.chunk / self.made - 1.0


@dataclass(frozen=True)
class Rates:
    """Chunks a second and bytes a row of the store; tasks a second of Dask's scheduler.

    empty: tasks that give nothing, two workers, nothing stored; stored: the same with rows of a map's chunk, stored;
    processor: processor time of client and scheduler together for one of these, s: what bounds them on a core of
    their own, whatever else runs on this machine.
    """

    write: float
    check: float
    gather: float
    chunk_bytes: float
    row_bytes: float
    csv_bytes: float
    empty: float
    stored: float
    processor: float


def rows_after(seconds: float, task: Task) -> Table:
    """Made-up rows, `seconds` each; slept, not computed, so that what else runs on the machine counts little."""
    time.sleep(seconds * task.count)
    values = np.random.default_rng([task.tip_load, task.angle, task.first]).random((COLUMNS, task.count))
    return {f"column_{k}": values[k] for k in range(COLUMNS)}


def nothing(task: Task) -> Table:
    """No rows, at once."""
    return {}


def overheads(folder: Path, chunks: int) -> list[Overhead]:
    """Overhead of one process, two processes and two of Dask's workers; so many chunks for each worker."""
    out = []
    for name, workers in (("this process", 1), ("2 processes", WORKERS), ("Dask, 2 local workers", WORKERS)):
        with ExitStack() as stack:
            begin = time.perf_counter()
            dask = "Dask" in name
            found: int | Executor = stack.enter_context(connected("local", workers)) if dask else workers
            stamps: list[float] = []
            store = open_store(folder / name.replace(" ", "_"), "scale", {"name": name, "chunks": chunks})
            tasks = tasks_of([(0, 0)], chunks * workers * POINTS, POINTS)
            run_tasks(store, tasks, partial(rows_after, SECONDS), found, partial(_stamp, stamps))
        made = SECONDS * POINTS
        ended = stamps[1:]  # the first is the report before any task
        steady = (ended[-1] - ended[workers - 1]) / (chunks - 1)  # from the first round's end to the last round's
        out.append(Overhead(name, ended[0] - begin - made, steady, made))
    return out


def _stamp(stamps: list[float], state: Progress) -> None:
    stamps.append(time.perf_counter())


def rates(folder: Path, chunks: int) -> Rates:
    """Rates of the store and of Dask's scheduler, over so many chunks of a map's size."""
    tasks = tasks_of([(0, 0)], chunks * CHUNK, CHUNK)
    store = open_store(folder / "rates", "scale", {"name": "rates", "chunks": chunks})
    tables = [rows_after(0.0, task) for task in tasks]
    write = timed(lambda: [store.put(task.key, rows) for task, rows in zip(tasks, tables, strict=True)])
    check = timed(lambda: store.kept([task.key for task in tasks]))
    gather = timed(lambda: store.gather([task.key for task in tasks]))
    store.put_table("rows", store.gather([task.key for task in tasks]))
    rows, size = chunks * CHUNK, partial(_bytes, store)
    with connected("local", WORKERS) as dask:
        empty = timed(lambda: list(dask.results(tasks, nothing)))
        again = open_store(folder / "stored", "scale", {"name": "stored", "chunks": chunks})
        used = time.process_time()
        stored = timed(lambda: run_tasks(again, tasks, partial(rows_after, 0.0), dask))
        used = time.process_time() - used
    return Rates(
        chunks / write,
        chunks / check,
        chunks / gather,
        size("chunks/*/*.parquet") / chunks,
        size("rows.parquet") / rows,
        size("rows.csv") / rows,
        chunks / empty,
        chunks / stored,
        used / chunks,
    )


def _bytes(store: Store, pattern: str) -> int:
    return sum(path.stat().st_size for path in store.folder.glob(pattern))


def timed(do: Callable[[], Any]) -> float:
    """Seconds that something takes."""
    begin = time.perf_counter()
    do()
    return time.perf_counter() - begin


def drawing(counts: tuple[tuple[int, int], ...]) -> list[tuple[int, float]]:
    """Points of a cell, and the seconds that a chunk takes to draw them all: each chunk draws its study's points."""
    out = []
    for scrambles, points in counts:
        spec: Any = SimpleNamespace(seed=1, scrambles=scrambles, points=points)
        out.append((scrambles * points, timed(partial(sobol_points, spec))))
    return out
