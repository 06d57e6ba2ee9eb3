"""What a code under comparison offers, and the search for its best setting."""

import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from math import isnan
from statistics import median
from typing import Any

from .cases import ACCURACY, WRONG, Case, Tip

MESHES = (2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20, 24, 28, 32, 40, 50, 64)
QUICK = 3  # timings of a setting while searching
RESOLVED = 8  # elements: from here a mesh error is far below WRONG
HOPELESS = 3.0  # times the best so far: finer meshes of that setting are not tried


@dataclass(frozen=True)
class Attempt:
    """One solution: wall time of the solve alone (s), the tip, whether the code itself reported success.

    with_model : wall time with building the model, s
    off : largest error along the path, of codes that only approach each equilibrium (nan: the tip's at the end counts)
    simulated : time of the motion until then, s (codes without statics)
    """

    seconds: float
    tip: Tip
    success: bool
    with_model: float = float("nan")
    simulated: float = float("nan")
    off: float = float("nan")


@dataclass(frozen=True)
class Code:
    """One code (or one element of a code).

    solve : (case, elements, **setting) -> Attempt, from the undeformed rod
    settings : case -> settings among which the search takes the fastest
    kind : "2-D", "3-D" (implicit statics), "dynamic" (implicit, to rest) or "explicit"
    note : what was done in its favour, what was left out
    """

    name: str
    version: str
    kind: str
    solve: Callable[..., Attempt]
    settings: Callable[[Case], Iterable[dict[str, Any]]]
    note: str = ""
    meshes: tuple[int, ...] = MESHES
    once: bool = False


@dataclass
class Best:
    """The fastest setting that reached the accuracy, and what happened on the way to it.

    wrong : attempts with at least RESOLVED elements that reported success further than WRONG from the exact tip
    """

    code: Code
    case: Case
    elements: int = 0
    setting: dict[str, Any] = field(default_factory=dict)
    error: float = float("nan")
    simulated: float = float("nan")
    closest: float = float("inf")
    attempts: int = 0
    wrong: int = 0
    times: list[float] = field(default_factory=list)
    with_model: list[float] = field(default_factory=list)

    def measure(self) -> None:
        """One more timing of the chosen setting."""
        attempt = self.code.solve(self.case, self.elements, **self.setting)
        self.times.append(attempt.seconds)
        self.with_model.append(attempt.with_model)


def search(code: Code, case: Case) -> Best:
    """Coarsest mesh of each setting that reaches the accuracy; of these the fastest."""
    best = Best(code, case)
    fastest = float("inf")
    for setting in code.settings(case):
        for elements in code.meshes:
            attempt = code.solve(case, elements, **setting)
            error = case.error(attempt.tip) if isnan(attempt.off) else attempt.off
            best.attempts += 1
            best.wrong += attempt.success and elements >= RESOLVED and not error < WRONG
            if not attempt.success:
                continue
            best.closest = min(best.closest, error)
            if error <= ACCURACY:
                seconds = attempt.seconds
                if not code.once and seconds < HOPELESS * fastest:
                    seconds = median(
                        [seconds] + [code.solve(case, elements, **setting).seconds for _ in range(QUICK - 1)]
                    )
                if seconds < fastest:
                    fastest = seconds
                    best.elements, best.setting, best.error = elements, setting, error
                    best.simulated = attempt.simulated
                    best.times, best.with_model = ([seconds], [attempt.with_model]) if code.once else ([], [])
                break
            if attempt.seconds > HOPELESS * fastest:
                break
    return best


@contextmanager
def silence() -> Iterator[None]:
    """Nothing reaches the terminal: compiled codes report every step that fails."""
    sys.stdout.flush()
    sys.stderr.flush()
    kept = os.dup(1), os.dup(2)
    sink = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        yield
    finally:
        os.dup2(kept[0], 1)
        os.dup2(kept[1], 2)
        for handle in (*kept, sink):
            os.close(handle)
