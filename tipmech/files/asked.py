"""An insertion asked for by its case file or by the record of one that was run."""

from dataclasses import dataclass
from pathlib import Path

from ..checks import InputError
from ..insertion.case import Case
from ..insertion.record_file import load
from .case_wire import at_tip_load
from .scene import CaseFile, read_case

RECORD_SUFFIX = ".nc"


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
    try:
        return Asked(load(path).case)
    except (FileNotFoundError, ValueError) as error:
        raise InputError(f"{error}; allowed: a record written by `tipmech advance`, or a case file") from None
