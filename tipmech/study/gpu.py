"""Insertions of a study on a GPU of this machine (extra `gpu`), many at once.

Processes of this machine lay insertions out and say what became of them; the GPU carries them out, a launch of many at
a time, the next one behind it so that it never waits. A task's rows are there when all its insertions are.
"""

from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from dataclasses import dataclass
from multiprocessing import get_context
from time import sleep
from typing import Any, NamedTuple, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from ..checks import InputError
from ..gpu.errors import GpuError
from ..gpu.lanes import TEAM, WORD, Slot, make_of, put
from ..insertion.case import Case
from ..insertion.feed import COLUMNS
from ..insertion.lane import Lane, lane_slot, make_lane, outcome_of
from ..insertion.run import increments
from .events import outcome_row
from .independent import Independent
from .processes import kept_work, killed, one_thread_each, start_worker
from .table import Table, from_rows
from .task import Piece, Results, Stopped, Work

LAUNCH = 1024  # insertions of a launch at most
FLIGHT = 4  # launches that are under way together at most
SHARE = 0.9  # of the free memory
LEAST = 64  # insertions of a launch for which there must be room
ROWS = 256  # increments, in multiples of which a lane has room
AHEAD = 3  # launches' worth of tasks that are laid out ahead
SPARE = 2  # times what an array needs, when its room is made
PAUSE = 2e-3  # s between two looks where nothing happened
KEPT = "finished parts are kept; allowed: the same command again, or without --device gpu to go on with the CPU"


class Device(Protocol):
    """What a GPU is asked: see `gpu.device.Gpu`."""

    name: str

    def free_memory(self) -> int:
        """Bytes that can be taken."""
        ...

    def memory(self, size: int) -> int:
        """Address of new bytes."""
        ...

    def release(self, address: int) -> None:
        """Give memory back."""
        ...

    def stream(self) -> Any:
        """A queue of work."""
        ...

    def put(self, address: int, array: NDArray[Any], stream: Any) -> None:
        """Copy an array there."""
        ...

    def clear(self, address: int, size: int, stream: Any) -> None:
        """Set bytes to zero."""
        ...

    def get_rows(self, address: int, pitch: int, array: NDArray[Any], stream: Any) -> None:
        """Copy rows from there."""
        ...

    def launch(self, entry: Any, blocks: int, threads: int, numbers: Sequence[int], stream: Any) -> None:
        """Start blocks of threads."""
        ...

    def idle(self, stream: Any) -> bool:
        """Whether all work of a stream is done."""
        ...


Load = Callable[[Any, Slot], Any]  # the entry of a GPU's program for lanes of a make


class Laid(NamedTuple):
    """An insertion laid out: room (increments) of its lane, and what make this is, in words; places in the lane of the
    words in which it differs from the first insertion of the study (of another make: that are not zero), and these."""

    room: int
    make: str
    at: NDArray[np.int64]
    own: NDArray[np.float64]


class Done(NamedTuple):
    """What is kept of an insertion: recorded scalars (rows, COLUMNS), channel of the tip, reason of the end."""

    scalars: NDArray[np.float64]
    dome: int
    stop: int


class OnGpu(int):
    """Work on a GPU, with so many processes that lay out and classify; it goes wherever a number of workers goes.

    gpu : see `Device`; load : makes a program ready on it, once for a make of lanes (minutes, where it is not kept)
    """

    gpu: Device
    load: Load

    def __new__(cls, processes: int, gpu: Device, load: Load) -> Self:
        """Work on `gpu`."""
        self = super().__new__(cls, processes)
        self.gpu, self.load = gpu, load
        return self

    def results(self, tasks: Sequence[Piece], work: Work) -> Results:
        """Yield (task, rows) as they end."""
        if not isinstance(work, Independent):
            raise InputError("--device: gpu is for studies whose insertions do not wait for one another; allowed: cpu")
        with one_thread_each():
            pool = ProcessPoolExecutor(self, get_context("spawn"), start_worker, (work,))
            try:
                with closing(_Run(self.gpu, self.load, pool, work, tasks)) as run:
                    yield from run.results()
            except GpuError as error:
                raise Stopped(f"--device gpu: the GPU was lost or refused ({error}), {KEPT}") from None
            except BrokenProcessPool:
                raise killed() from None
            finally:
                pool.shutdown(wait=True, cancel_futures=True)


@dataclass
class _Room:
    """Memory and stream of one launch at a time, and arrays handed to it, address and size each."""

    memory: int
    stream: Any
    given: list[tuple[int, int]]


@dataclass
class _Program:
    """Entry of a program; the make of its lanes; addresses of the places and values of words that they begin with, and
    how many these are; lanes of a launch; rooms of launches, all of them and those that are free."""

    slot: Slot
    entry: Any
    common: tuple[int, int, int]
    lanes: int
    rooms: list[_Room]
    free: list[_Room]


@dataclass
class _Launch:
    """A launch under way: its program and room, its insertions as (task, number in it)."""

    program: _Program
    room: _Room
    of: list[tuple[int, int]]


class _Run:
    """A run of tasks on one GPU."""

    def __init__(
        self, gpu: Device, load: Load, pool: ProcessPoolExecutor, work: Independent, tasks: Sequence[Piece]
    ) -> None:
        self.gpu, self.load, self.pool, self.work, self.tasks = gpu, load, pool, work, tasks
        self.make, self.image = _first_words(work, tasks[0])
        self.programs: dict[str, _Program] = {}
        self.ready: dict[str, deque[tuple[int, int, Laid]]] = {}  # insertions to be carried out, by their make
        self.flight: deque[_Launch] = deque()
        self.done: dict[int, list[Done | None]] = {}

    def results(self) -> Results:
        """Yield (task, rows) as they end."""
        waiting = deque(range(len(self.tasks)))
        laying: dict[Future[list[Laid]], int] = {}
        telling: dict[Future[Table], int] = {}
        while waiting or laying or telling or self.done:
            ahead = sum(self.tasks[i].count for i in laying.values()) + sum(map(len, self.ready.values()))
            while waiting and ahead < AHEAD * LAUNCH:
                i = waiting.popleft()
                laying[self.pool.submit(_lay, self.tasks[i], self.tasks[0])] = i
                ahead += self.tasks[i].count
            idle = True
            for future in [f for f in laying if f.done()]:
                self._take(laying.pop(future), future.result())
                idle = False
            idle = self._start(more=bool(laying)) and idle
            for i in self._ended():
                kept_of_it = self.done.pop(i)
                telling[self.pool.submit(_tell, self.tasks[i], [d for d in kept_of_it if d is not None])] = i
                idle = False
            for told in [f for f in telling if f.done()]:
                yield self.tasks[telling.pop(told)], told.result()
                idle = False
            if idle:
                sleep(PAUSE)

    def close(self) -> None:
        """Wait for launches under way, and give all memory back."""
        for launch in self.flight:
            self._wait(launch.room.stream)
        for program in self.programs.values():
            self._release(program)

    def _take(self, i: int, laid: list[Laid]) -> None:
        """Note the insertions of a task as ready."""
        self.done[i] = [None] * len(laid)
        for k, one in enumerate(laid):
            self.ready.setdefault(one.make, deque()).append((i, k, one))

    def _start(self, more: bool) -> bool:
        """Start what can be started; True where nothing was. more : others are on their way."""
        idle = True
        for make, ready in self.ready.items():
            while ready:
                program = self.programs.get(make) or self._program(make, ready[0])
                if program is None or not program.free or (more and len(ready) < program.lanes):
                    break
                taken = [ready.popleft() for _ in range(min(program.lanes, len(ready)))]
                self.flight.append(self._launch(program, taken))
                idle = False
        return idle

    def _program(self, make: str, first: tuple[int, int, Laid]) -> _Program | None:
        """The program for insertions of a make, and memory for as many at once as there is room for; None where that is
        to be waited for."""
        i, k, laid = first
        _, case = list(self.work.insertions(self.tasks[i]))[k]
        slot = lane_slot(make_lane(case, laid.room), laid.room)
        size = slot.words * WORD
        if self._fitting(size) < LEAST:
            for other in [m for m, p in self.programs.items() if len(p.free) == len(p.rooms)]:
                self._release(self.programs.pop(other))
        lanes = self._fitting(size)
        if lanes < LEAST and self.flight:
            return None
        if lanes < LEAST:
            free, needed = self.gpu.free_memory() / 2**30, FLIGHT * LEAST * size / SHARE / 2**30
            raise Stopped(f"--device gpu: {free:.1f} GiB of the GPU's memory are free; allowed: {needed:.1f} or more")
        rooms = [_Room(self.gpu.memory(lanes * size), self.gpu.stream(), []) for _ in range(FLIGHT)]
        at = np.flatnonzero(self.image) if make == self.make else np.zeros(0, dtype=np.int64)
        stream = rooms[0].stream
        common = self._handed(at, stream), self._handed(self.image[at], stream), len(at)
        self._wait(stream)  # launches have streams of their own
        self.programs[make] = _Program(slot, self.load(self.gpu, slot), common, lanes, rooms, list(rooms))
        return self.programs[make]

    def _fitting(self, size: int) -> int:
        """Lanes of a launch, of so many bytes each, for which there is memory."""
        return min(LAUNCH, int(SHARE * self.gpu.free_memory()) // (FLIGHT * size))

    def _release(self, program: _Program) -> None:
        """Give a program's memory back."""
        addresses = [address for room in program.rooms for address in (room.memory, *(a for a, _ in room.given))]
        for address in (*addresses, *program.common[:2]):
            self.gpu.release(address)

    def _wait(self, stream: Any) -> None:
        while not self.gpu.idle(stream):
            sleep(PAUSE)

    def _launch(self, program: _Program, taken: list[tuple[int, int, Laid]]) -> _Launch:
        """Hand insertions over and start them."""
        room = program.free.pop()
        laid = [one for _, _, one in taken]
        starts = np.concatenate([[0], np.cumsum([len(one.at) for one in laid])])
        at, own = np.concatenate([one.at for one in laid]), np.concatenate([one.own for one in laid])
        for k, array in enumerate((starts, at, own)):  # room is made larger where it must be: that waits for the GPU
            if k == len(room.given):
                room.given.append((self.gpu.memory(SPARE * array.nbytes), SPARE * array.nbytes))
            elif room.given[k][1] < array.nbytes:
                self.gpu.release(room.given[k][0])
                room.given[k] = self.gpu.memory(SPARE * array.nbytes), SPARE * array.nbytes
            self.gpu.put(room.given[k][0], array, room.stream)
        self.gpu.clear(room.memory, len(taken) * program.slot.words * WORD, room.stream)
        numbers = [room.memory, *program.common, *(address for address, _ in room.given)]
        self.gpu.launch(program.entry, len(taken), TEAM, numbers, room.stream)
        return _Launch(program, room, [(i, k) for i, k, _ in taken])

    def _handed(self, array: NDArray[Any], stream: Any) -> int:
        """Address of an array on the GPU."""
        address = self.gpu.memory(array.nbytes)
        self.gpu.put(address, array, stream)
        return address

    def _ended(self) -> list[int]:
        """Tasks whose last insertions have just ended."""
        ended = []
        for launch in [one for one in self.flight if self.gpu.idle(one.room.stream)]:
            self.flight.remove(launch)
            for (i, k), done in zip(launch.of, self._kept(launch), strict=True):
                self.done[i][k] = done
                if all(d is not None for d in self.done[i]):
                    ended.append(i)
            launch.program.free.append(launch.room)
        return ended

    def _kept(self, launch: _Launch) -> list[Done]:
        """What is kept of the insertions of a launch that has ended."""
        slot = launch.program.slot
        field = dict(zip(Lane._fields, slot.inner, strict=True))
        scalars, side = field["hist"].inner[0], field["hist"].inner[3]

        def words(first: int, count: int) -> NDArray[np.float64]:
            rows = np.empty((len(launch.of), count))
            self.gpu.get_rows(launch.room.memory + first * WORD, slot.words * WORD, rows, launch.room.stream)
            return rows

        answers = words(field["answer"].first, 2).view(np.int64)
        domes = words(side.start + side.words - 1, 1).view(np.int64)
        history = words(scalars.first, int(answers[:, 0].max()) * COLUMNS)
        return [
            Done(history[n, : rows * COLUMNS].reshape(rows, COLUMNS), int(domes[n, 0]), int(stop))
            for n, (rows, stop) in enumerate(answers)
        ]


def _room(case: Case) -> int:
    """Increments for which the lane of a case has room."""
    return -(-len(increments(case.moves, case.numerics.increment)) // ROWS) * ROWS


def _image(slot: Slot, lane: Lane) -> NDArray[np.float64]:
    """Words of a lane."""
    words = np.zeros(slot.words)
    put(slot, lane, words)
    return words


def _first_words(work: Independent, task: Piece) -> tuple[str, NDArray[np.int64]]:
    """Make and words of the lane of a task's first insertion."""
    _, case = next(work.insertions(task))
    lane = make_lane(case, _room(case))
    slot = lane_slot(lane, _room(case))
    return make_of(slot), _image(slot, lane).view(np.int64)


_FIRST: dict[str, tuple[str, NDArray[np.int64]]] = {}  # of a worker process: found once


def _lay(task: Piece, first: Piece) -> list[Laid]:
    """The insertions of a task, laid out, in a worker process."""
    work = kept_work()
    if first.key not in _FIRST:
        _FIRST[first.key] = _first_words(work, first)
    make, base = _FIRST[first.key]
    laid = []
    for _, case in work.insertions(task):
        if not case.stop.at_breach:
            raise InputError(
                "--device: gpu ends an insertion where a wall is pierced; this study's go on; allowed: cpu"
            )
        room = _room(case)
        lane = make_lane(case, room)
        slot = lane_slot(lane, room)
        image = _image(slot, lane)
        bits, own = image.view(np.int64), make_of(slot)
        at = np.flatnonzero(bits != (base if own == make else 0))
        laid.append(Laid(room, own, at, image[at]))
    return laid


def _tell(task: Piece, done: list[Done]) -> Table:
    """Rows of a task from what is kept of its insertions, in a worker process."""
    work = kept_work()
    made = zip(work.insertions(task), done, strict=True)
    return from_rows([row | outcome_row(outcome_of(case, *one)) for (row, case), one in made])
