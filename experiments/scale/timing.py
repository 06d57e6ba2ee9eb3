"""A clock on every insertion of a study, kept beside it: what its processes spend on insertions, and on all else.

A session is one start of the command. Each worker writes a line when an insertion ends; a killed session leaves whole
lines and at most a torn one, which is left out, as is its end: it is over with its last insertion.
"""

import json
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tipmech.insertion.case import Case
from tipmech.insertion.record import Outcome
from tipmech.whole import whole_file

SESSION = "session.json"


@dataclass(frozen=True)
class Session:
    """One start of the command: begin and end (s; None: it was killed), workers, and the clock of its insertions.

    spans : begin, end and processor time of each insertion, s, shape (n, 3)
    """

    begin: float
    end: float | None
    workers: int
    spans: np.ndarray

    @property
    def wall(self) -> float:
        """Wall time of the session, s."""
        last = float(self.spans[:, 1].max()) if len(self.spans) else self.begin
        return (last if self.end is None else self.end) - self.begin

    @property
    def before(self) -> float:
        """Wall time up to its first insertion, s: imports, wires, processes."""
        return float(self.spans[:, 0].min()) - self.begin if len(self.spans) else self.wall

    @property
    def after(self) -> float:
        """Wall time from its last insertion on, s: the last chunks, all rows gathered, tables."""
        return self.wall - (float(self.spans[:, 1].max()) - self.begin) if len(self.spans) else 0.0


@dataclass(frozen=True)
class Clocked:
    """All sessions of a study together.

    wall : s; insertions : computed, lost ones too; available : time of all workers, s, and between : of it that between
    first and last insertion; own : of it the insertions'; processor : processor time of these, s
    """

    wall: float
    insertions: int
    available: float
    own: float
    processor: float
    between: float

    @property
    def overhead(self) -> float:
        """Share of the workers' time that went into anything but insertions."""
        return 1.0 - self.own / self.available

    @property
    def steady(self) -> float:
        """The same between the first and the last insertion of the sessions."""
        return 1.0 - self.own / self.between


def clocked(evaluate: Callable[[Case], Outcome], folder: Path, case: Case) -> Outcome:
    """Outcome of a case, and a line with its begin, end and processor time in a file of this process."""
    begin, used = time.time(), time.process_time()
    outcome = evaluate(case)
    line = f"{begin:.4f} {time.time():.4f} {time.process_time() - used:.4f}\n"
    with (folder / f"{os.getpid()}.txt").open("a", encoding="utf-8") as file:
        file.write(line)
    return outcome


def begin_session(folder: Path, begin: float, workers: int) -> Path:
    """Folder of a new session."""
    new = folder / f"{len(list(folder.glob('*'))):04d}"
    new.mkdir(parents=True)
    _write(new, begin, None, workers)
    return new


def end_session(folder: Path) -> None:
    """Say that a session has come to its end."""
    told = json.loads((folder / SESSION).read_text(encoding="utf-8"))
    _write(folder, told["begin"], time.time(), told["workers"])


def _write(folder: Path, begin: float, end: float | None, workers: int) -> None:
    with whole_file(folder / SESSION) as path:
        path.write_text(json.dumps({"begin": begin, "end": end, "workers": workers}), encoding="utf-8")


def read_sessions(folder: Path) -> list[Session]:
    """All sessions in order; one killed before it could say when it began is left out."""
    found = []
    for place in sorted(folder.glob("*")):
        if not (place / SESSION).is_file():
            continue
        told = json.loads((place / SESSION).read_text(encoding="utf-8"))
        spans = [s for path in sorted(place.glob("*.txt")) for s in _spans(path.read_text(encoding="utf-8"))]
        found.append(Session(told["begin"], told["end"], told["workers"], np.array(spans, dtype=float).reshape(-1, 3)))
    return found


def _spans(text: str) -> list[tuple[float, ...]]:
    """Whole lines of a worker's file."""
    whole = text[: text.rfind("\n") + 1]
    return [tuple(map(float, line.split())) for line in whole.splitlines()]


def total(sessions: Sequence[Session]) -> Clocked:
    """What the sessions come to together."""
    spans = np.concatenate([s.spans for s in sessions])
    return Clocked(
        wall=sum(s.wall for s in sessions),
        insertions=len(spans),
        available=sum(s.workers * s.wall for s in sessions),
        own=float(np.sum(spans[:, 1] - spans[:, 0])),
        processor=float(np.sum(spans[:, 2])),
        between=sum(s.workers * (s.wall - s.before - s.after) for s in sessions),
    )
