"""An insertion asked for by its case file or by the record of one that was run."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..checks import InputError
from ..insertion.case import Case
from ..insertion.record import Record
from ..insertion.run import increments
from .case_wire import at_tip_load
from .record import loaded
from .scene import CaseFile, read_case

RECORD_SUFFIX = ".nc"
SAME = 1e-6  # m, rad: far below any increment, far above the rounding of their sum


@dataclass(frozen=True)
class Asked:
    """A case file, read and checked, or a record's case."""

    source: CaseFile | Case

    def case(self) -> Case:
        """The case to run; a case file that names a tip load runs the bench first."""
        return self.source if isinstance(self.source, Case) else at_tip_load(self.source).case


def read_asked(path: str | Path) -> Asked:
    """Read a case file (TOML) or a record (.nc).

    Raises
    ------
    InputError
        one sentence: file, and what is wrong with it
    """
    path = Path(path)
    if path.suffix != RECORD_SUFFIX:
        return Asked(read_case(path))
    allowed = "a record written by `tipmech advance`, or a case file"
    try:
        record = loaded(path)
    except (FileNotFoundError, ValueError) as error:
        raise InputError(f"{error}; allowed: {allowed}") from None
    if not follows_its_moves(record):
        what = "a record in which the hand did something else than the moves of its case (as rules of attempts decide)"
        raise InputError(f"{path}: is {what}, so that its case is another insertion; allowed: {allowed}")
    return Asked(record.case)


def follows_its_moves(record: Record) -> bool:
    """Whether the hand of a record did what the moves of its case say, as far as it came."""
    rows = increments(record.case.moves, record.case.numerics.increment)
    for column, done in enumerate((record.feed, record.turn)):
        asked = np.append(0.0, rows[:, column])
        path = np.cumsum(np.abs(asked))
        gone = np.cumsum(np.abs(np.diff(done, prepend=0.0)))
        if not np.allclose(done, np.interp(gone, path, np.cumsum(asked)), rtol=0.0, atol=SAME):
            return False
    return True
