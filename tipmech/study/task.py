"""A task: some points of one cell, its work, and what can run tasks."""

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

from ..checks import InputError
from .table import Table


class Stopped(InputError):
    """A study that cannot go on, for want of disk, workers or scheduler, as one sentence; finished chunks are kept."""


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


class Piece(Protocol):
    """What a worker is handed at once, one chunk of the store later: a `Task`, or the like of another kind."""

    @property
    def key(self) -> str:
        """Name of the chunk."""
        ...

    @property
    def count(self) -> int:
        """Number of points."""
        ...


Work = Callable[[Any], Table]
Results = Generator[tuple[Piece, Table], None, None]


@runtime_checkable
class Executor(Protocol):
    """What runs tasks."""

    def results(self, tasks: Sequence[Piece], work: Work) -> Results:
        """Yield (task, rows) as they end, each task once; closed early, it cancels what has not begun.

        work : importable where it runs (it is sent by name, its arguments by value)

        Raises
        ------
        Stopped
            if the workers are lost
        """
        ...


def tasks_of(cells: Sequence[tuple[int, int]], points: int, chunk: int) -> list[Task]:
    """Cut the points of each cell into chunks of at most `chunk` points."""
    return [Task(i, j, k, min(k + chunk, points)) for i, j in cells for k in range(0, points, chunk)]
