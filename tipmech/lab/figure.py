"""One bench figure: name and unit, reduced function or closed form, and the simulated test that decides. SI units."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import nan
from typing import Any, Literal

from ..checks import FieldError
from ..profile import Profile
from ..rod.errors import NotConvergedError
from ..units import UNITS
from ..wire.design import Design

Group = Literal["tip", "side", "tube", "bends"]
GROUPS: dict[Group, str] = {
    "tip": "tip load and column",
    "side": "lateral stiffness and flexure",
    "tube": "torque and tracking",
    "bends": "bends and shape",
}


def _nothing(result: Any) -> str:
    return ""


def _itself(result: Any, profile: Profile) -> float:
    return float(result)


@dataclass(frozen=True)
class Figure:
    """One bench figure.

    Parameters
    ----------
    key : str
        its name without unit
    unit : str
        users' unit, key of `units.UNITS`
    words : str
        definition of the reduced figure or of the closed form
    reach : float
        shortest wire that has it, m
    reduced : callable or None
        profile -> value, SI, by beam theory: what a search runs on; None: it cannot be searched for
    simulated : callable or None
        profile -> result of a simulated test; None: only the reduced figure exists. Figures that share it are read
        from one run
    read : callable
        (result, profile) -> value, SI; default: the result itself, a number
    says : str
        what is read, in words, before the result's own `definition`
    closed : callable or None
        design -> value, SI, in closed form: neither reduced nor simulated
    fast : bool
        whether the simulated test is quick enough (0.1 s) for the 32 wires of a posterior in `tipmech wire`
    rough : bool
        whether the reduced function leaves out what the figure hangs on (clearance, shape): a search and a stack-up
        then add the difference of the slopes (`gap.slope_gaps`)
    group : str
        key of `GROUPS`: the picture it is drawn in
    doubt : callable
        result -> in words what speaks against the value, though it was had; "": nothing. A wanted figure of which
        something does is not met
    guard : str
        key of a figure that must stay below 1 for this one to mean anything: a search keeps it there
    tip : str
        shape of the tip it is of, where its name does not say so
    """

    key: str
    unit: str
    words: str
    reach: float
    reduced: Callable[[Profile], float] | None
    simulated: Callable[[Profile], Any] | None = None
    read: Callable[[Any, Profile], float] = _itself
    says: str = ""
    closed: Callable[[Design], float] | None = None
    fast: bool = True
    rough: bool = False
    group: Group = "tip"
    doubt: Callable[[Any], str] = _nothing
    guard: str = ""
    tip: str = ""

    @property
    def name(self) -> str:
        """Name with its unit, as files and tables write it."""
        return f"{self.key}_{self.unit}"

    @property
    def factor(self) -> float:
        """SI value of one of its unit."""
        return UNITS[self.unit]

    @property
    def searchable(self) -> bool:
        """Whether a search or a stack-up can evaluate it thousands of times."""
        return self.reduced is not None or self.closed is not None

    def simulate(self, profile: Profile) -> float:
        """Value by simulation; nan where the bench found no equilibrium or there is no simulated test."""
        return nan if self.simulated is None else simulate([self], profile)[self.key].value


@dataclass(frozen=True)
class Tested:
    """A simulated figure: value, SI (nan where it was not had), definition of the test, why it was not had, and what
    speaks against a value that was."""

    value: float
    definition: str
    why: str = ""
    doubt: str = ""


def simulate(figures: Sequence[Figure], profile: Profile) -> dict[str, Tested]:
    """Figures by the simulated bench, by key; those without a simulated test are left out.

    A wire that the bench does not take (too thick for the bore), or for which it finds no equilibrium, has none.
    """
    runs: dict[int, Any] = {}
    found: dict[str, Tested] = {}
    for figure in figures:
        if figure.simulated is None:
            continue
        key = id(figure.simulated)
        if key not in runs:
            runs[key] = _run(figure.simulated, profile)
        result = runs[key]
        if isinstance(result, str):
            found[figure.key] = Tested(nan, figure.says or figure.words, result)
            continue
        words = [w for w in (figure.says, getattr(result, "definition", "")) if w] or [figure.words]
        found[figure.key] = Tested(figure.read(result, profile), ": ".join(words), doubt=figure.doubt(result))
    return found


def _run(test: Callable[[Profile], Any], profile: Profile) -> Any:
    """Result of a test, or in words why there is none."""
    try:
        return test(profile)
    except (FieldError, NotConvergedError) as error:
        return str(error)
