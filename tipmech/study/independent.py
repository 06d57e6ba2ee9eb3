"""Work whose insertions do not wait for one another: carried out one by one, or many at once on a GPU."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from ..insertion.case import Case
from ..insertion.record import Outcome
from .events import outcome_row
from .table import Table, from_rows

Evaluate = Callable[[Case], Outcome]
Row = dict[str, Any]


@dataclass(frozen=True)
class Independent(ABC):
    """Work on the tasks of a study.

    spec : of the study; evaluate : what one case comes to, importable where it runs
    """

    spec: Any
    evaluate: Evaluate

    @abstractmethod
    def insertions(self, task: Any) -> Iterator[tuple[Row, Case]]:
        """The insertions of a task in order, each with the columns of its row before those of its outcome."""

    @abstractmethod
    def place(self, task: Any, number: int) -> str:
        """Which insertion the one of this number in a task is, in words."""

    def __call__(self, task: Any) -> Table:
        """Rows of a task, in order."""
        rows: list[Row] = []
        try:
            for row, case in self.insertions(task):
                rows.append(row | outcome_row(self.evaluate(case)))
        except Exception as error:
            error.add_note(f"at {self.place(task, len(rows))}")
            raise
        return from_rows(rows)
