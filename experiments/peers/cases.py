"""The rod, the three cases with their exact tips, and what counts as reached: the same for every code."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, pi

from scipy.optimize import brentq

from tipmech.closed_forms import free_elastica, tip_force_cantilever

LENGTH = 20e-3  # m
DIAMETER = 0.06e-3  # m
YOUNG, POISSON, DENSITY = 200e9, 0.3, 7850.0  # Pa, -, kg/m3: steel
SHEAR_FACTOR = 6.0 * (1.0 + POISSON) / (7.0 + 6.0 * POISSON)  # solid circle; Cowper 1966, from memory

AREA = pi * DIAMETER**2 / 4.0
INERTIA = pi * DIAMETER**4 / 64.0
SHEAR = YOUNG / (2.0 * (1.0 + POISSON))
EI, GJ = YOUNG * INERTIA, 2.0 * SHEAR * INERTIA  # N m2
EA, GA = YOUNG * AREA, SHEAR_FACTOR * SHEAR * AREA  # N
FORCE = EI / LENGTH**2  # N, scale of forces

ACCURACY = 1e-3  # of the length: distance of the tip from the exact elastica
WRONG = 0.1  # of the length: further off is another branch, not a coarse mesh
PUSH = 0.02  # of the column's critical load, removed again
OVERLOAD = 1.152  # of the critical load: the tip turns by about 60 degrees

Tip = tuple[float, float]  # along the undeformed axis from the clamp, and across it; over the length


@dataclass(frozen=True)
class Case:
    """Dead tip forces that follow one another, and where the tip has to be in the end.

    legs : pairs (axial, transverse) in EI/L^2; the first is approached from zero
    divisible : whether a code may choose the number of load steps of a leg
    exact : the tip of the inextensible elastica in the end
    on_the_way : its tip after each leg where the path itself is asked for, else empty
    """

    key: str
    words: str
    legs: tuple[tuple[float, float], ...]
    divisible: bool
    exact: Tip
    on_the_way: tuple[Tip, ...] = ()

    def steps(self, parts: int, release: int = 1) -> Iterator[tuple[float, float]]:
        """Forces one after another: the first leg in `parts`, any other in `release` equal steps."""
        start = (0.0, 0.0)
        for number, leg in enumerate(self.legs):
            count = (parts if number == 0 else release) if self.divisible else 1
            for k in range(1, count + 1):
                share = k / count
                yield start[0] + share * (leg[0] - start[0]), start[1] + share * (leg[1] - start[1])
            start = leg

    def error(self, tip: Tip) -> float:
        """Distance of a tip from the exact one; either side counts for a column."""
        return hypot(tip[0] - self.exact[0], abs(tip[1]) - self.exact[1])

    def largest_error(self, tips: list[Tip]) -> float:
        """Largest distance along the path, for codes that only approach each equilibrium."""
        pairs = zip(tips, self.on_the_way, strict=True)
        return max(hypot(tip[0] - exact[0], tip[1] - exact[1]) for tip, exact in pairs)


def _transverse(load: float) -> Tip:
    tip = tip_force_cantilever(load, pi / 2.0)
    return tip.x, tip.y


def _column(load: float) -> Tip:
    tip = free_elastica(brentq(lambda angle: free_elastica(angle)[0] - load, 0.1, 3.0, xtol=1e-14))[1]
    return tip.x, tip.y


CRITICAL = pi**2 / 4.0  # clamped-free column, EI/L^2
COLUMN = OVERLOAD * CRITICAL
CASES = (
    Case("a", "transverse dead tip force 4 EI/L^2", ((0.0, 4.0),), True, _transverse(4.0)),
    Case("b", "axial dead tip force 1.152 P_cr, a push of 2 % of P_cr removed",
         ((-COLUMN, PUSH * CRITICAL), (-COLUMN, 0.0)), True, _column(COLUMN)),
    Case("c", "100 load steps of a transverse dead tip force up to 10 EI/L^2",
         tuple((0.0, 0.1 * k) for k in range(1, 101)), False, _transverse(10.0),
         tuple(_transverse(0.1 * k) for k in range(1, 101))),
)  # fmt: skip
