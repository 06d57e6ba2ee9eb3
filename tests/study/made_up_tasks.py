"""Tasks that take a known time and give known rows, in place of insertions."""

import time

import numpy as np

from tipmech.study.table import Table, from_rows
from tipmech.study.task import Task

COLUMNS = 40  # of a row, about as many as an insertion has


def work(seconds: float, task: Task) -> Table:
    """Rows of known numbers, `seconds` each."""
    return from_rows([_row(seconds, task, k) for k in range(task.first, task.last)])


def _row(seconds: float, task: Task, index: int) -> dict[str, float]:
    time.sleep(seconds)
    values = np.random.default_rng([task.tip_load, task.angle, index]).random(COLUMNS)
    place = {"tip_load_index": task.tip_load, "angle_index": task.angle, "index": index}
    return place | {f"x_{k}": float(value) for k, value in enumerate(values)}
