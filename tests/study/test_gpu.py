"""A map's insertions by way of a GPU: everything but the GPU itself, in whose place stands this machine's memory."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tipmech.checks import InputError
from tipmech.files.study import read_map
from tipmech.gpu.errors import GpuError
from tipmech.gpu.lanes import WORD, get
from tipmech.insertion.feed import carry_out
from tipmech.insertion.lane import make_lane
from tipmech.outcome import Stop
from tipmech.study import gpu as gpu_study
from tipmech.study.evaluate import evaluate
from tipmech.study.execute import run_tasks
from tipmech.study.gpu import ROWS, TEAM, OnGpu
from tipmech.study.run_map import MapWork
from tipmech.study.store import open_store
from tipmech.study.table import concat
from tipmech.study.task import Stopped, tasks_of

FILE = Path(__file__).parents[2] / "experiments" / "scale" / "ten_thousand.toml"
SPEC = replace(read_map(FILE), points=4, scrambles=2)
TASKS = tasks_of([(0, 0), (1, 1)], 4, 2)


def filled(target, value):
    """A bundle's arrays and numbers put into one of the same make."""
    if isinstance(value, tuple):
        items = [filled(t, v) for t, v in zip(target, value, strict=True)]
        return type(value)._make(items) if hasattr(value, "_fields") else tuple(items)
    if not isinstance(value, np.ndarray):
        return type(target)(value)
    if value.shape != target.shape:  # moves: as many as there are
        return value.copy()
    target[...] = value
    return target


class Here:
    """Memory of this machine in the place of a GPU's, insertions carried out where they are launched."""

    name = "memory of this machine"

    def __init__(self, free=2**33, lost_after=99):
        self.free, self.left, self.blocks, self.next = free, lost_after, {}, 1
        _, case = next(MapWork(SPEC, evaluate).insertions(TASKS[0]))
        self.lane = make_lane(case, ROWS)  # arrays in the order that kernels are compiled for

    def free_memory(self):
        return self.free

    def memory(self, size):
        address, self.next = self.next << 40, self.next + 1
        self.blocks[address] = np.full(-(-size // WORD), -1, dtype=np.int64)
        return address

    def release(self, address):
        del self.blocks[address]

    def stream(self):
        return None

    def idle(self, stream):
        return True

    def words(self, address, count):
        block = address >> 40 << 40
        first = (address - block) // WORD
        assert first + count <= len(self.blocks[block])
        return self.blocks[block][first : first + count]

    def put(self, address, array, stream):
        self.words(address, array.size)[:] = array.view(np.int64)

    def clear(self, address, size, stream):
        self.words(address, size // WORD)[:] = 0

    def get_rows(self, address, pitch, array, stream):
        for k, row in enumerate(array):
            row.view(np.int64)[:] = self.words(address + k * pitch, len(row))

    def launch(self, slot, blocks, threads, numbers, stream):
        if self.left == 0:
            raise GpuError("unspecified launch failure")
        self.left -= 1
        memory, common_at, common, count, starts, at, own = numbers
        assert threads == TEAM
        start = self.words(starts, blocks + 1)
        for k in range(blocks):
            image = self.words(memory + k * slot.words * WORD, slot.words)
            assert not image.any()
            image[self.words(common_at, count)] = self.words(common, count)
            many = start[k + 1]
            image[self.words(at, many)[start[k] :]] = self.words(own, many)[start[k] :]
            lane = get(slot, image.view(np.float64))
            mine = filled(self.lane, lane)
            rows, end = carry_out(*mine[:-1])
            lane.hist.scalars[:] = mine.hist.scalars
            lane.hist.side[0] = mine.hist.side[rows - 1]
            lane.answer[:] = rows, end


class Silent(Here):
    """The same, where no insertion finds an equilibrium."""

    def launch(self, slot, blocks, threads, numbers, stream):
        for k in range(blocks):
            image = self.words(numbers[0] + k * slot.words * WORD, slot.words).view(np.float64)
            get(slot, image).answer[:] = 0, int(Stop.NOT_CONVERGED)


@pytest.fixture(autouse=True)
def in_threads(monkeypatch):
    """One thread of this process in the place of processes."""
    pool = lambda count, context, initializer, given: ThreadPoolExecutor(1, "lay", initializer, given)  # noqa: E731
    monkeypatch.setattr(gpu_study, "ProcessPoolExecutor", pool)
    gpu_study._FIRST.clear()


def table_of(tmp_path, gpu):
    store = open_store(tmp_path, "map", SPEC, False)
    run_tasks(store, TASKS, MapWork(SPEC, evaluate), OnGpu(1, gpu, lambda gpu, slot: slot))
    assert store.manifest["gpus"] == [gpu.name]
    return store.gather([task.key for task in TASKS])


@pytest.mark.slow
def test_the_rows_are_those_of_the_cpu(tmp_path):
    rows = table_of(tmp_path, Here())
    known = concat([MapWork(SPEC, evaluate)(task) for task in TASKS])
    assert rows.keys() == known.keys()
    for name in rows:
        np.testing.assert_array_equal(rows[name], known[name])


def test_a_gpu_that_is_lost(tmp_path):
    with pytest.raises(
        Stopped, match=r"the GPU was lost or refused \(unspecified launch failure\), finished parts are kept; allow"
    ):
        table_of(tmp_path, Here(lost_after=0))


def test_too_little_memory(tmp_path):
    with pytest.raises(Stopped, match=r"0\.1 GiB of the GPU's memory are free; allowed: 0\.[67]\d* or more"):
        table_of(tmp_path, Here(free=2**27))


def test_many_makes_of_lanes_and_all_memory_given_back(tmp_path, monkeypatch):
    for name in ("ROWS", "LAUNCH", "AHEAD", "LEAST"):
        monkeypatch.setattr(gpu_study, name, 2 if name == "LAUNCH" else 1)
    made, gpu = [], Silent()
    store = open_store(tmp_path, "map", SPEC, False)
    run_tasks(store, TASKS, MapWork(SPEC, evaluate), OnGpu(1, gpu, lambda gpu, slot: made.append(slot) or slot))
    assert len(made) > 1
    rows = store.gather([task.key for task in TASKS])
    assert len(rows["stop"]) == 8 and np.all(rows["stop"] == int(Stop.NOT_CONVERGED))
    assert gpu.blocks == {}


def test_insertions_that_go_on_behind_a_wall(tmp_path):
    class On(MapWork):
        def insertions(self, task):
            for row, case in super().insertions(task):
                yield row, replace(case, stop=replace(case.stop, at_breach=False))

    store = open_store(tmp_path, "map", SPEC, False)
    with pytest.raises(InputError, match="--device: gpu ends an insertion where a wall is pierced"):
        run_tasks(store, TASKS, On(SPEC, evaluate), OnGpu(1, Here(), lambda gpu, slot: slot))


def test_studies_whose_insertions_wait():
    with pytest.raises(InputError, match="--device: gpu is for studies whose insertions do not wait"):
        next(OnGpu(1, Here(), None).results(TASKS, lambda task: {}))
