"""What one dimension does: d ln(figure)/d ln(dimension) of every bench figure. SI units.

Central differences; where one side cannot be built (a tip no wider than its wire) the other side alone, and said.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import nan

import numpy as np

from ..checks import FieldError
from ..profile import Array
from ..wire.design import Coupling, Design
from ..wire.dimensions import Dimension, changed
from .evaluate import reduced_values, simulated_values
from .ratios import ENDS
from .reduced import Figure
from .scale import Scale

STEP = 0.01  # of the logarithm of a dimension, each way: far above the benches' own scatter (1e-4), exact for powers
ALONE = "cannot be changed alone"


@dataclass(frozen=True)
class Sensitivities:
    """Slopes of F figures in D dimensions.

    figures : tuple of Figure, F
    dimensions : tuple of Dimension, D
    values : ndarray, shape (F,), figures of the design itself, SI
    slopes : ndarray, shape (F, D), d ln(figure)/d ln(dimension), -; nan: not to be had, see `remarks`
    by : tuple of str, F, "simulated" or "reduced"
    remarks : dict, dimension's name -> why a slope is one-sided or missing
    step : difference of the logarithm of a dimension, each way
    """

    figures: tuple[Figure, ...]
    dimensions: tuple[Dimension, ...]
    values: Array
    slopes: Array
    by: tuple[str, ...]
    remarks: dict[str, str]
    step: float

    def effect(self, change: Sequence[float]) -> tuple[Array, Array]:
        """Relative change of each figure when a dimension is less and more by its relative `change` (D,): (F, D) each.

        Power law with the slope: (1 -+ change)^slope - 1.
        """
        less, more = np.log1p(-np.asarray(change)), np.log1p(np.asarray(change))
        return np.expm1(self.slopes * less), np.expm1(self.slopes * more)


def sensitivities(
    design: Design,
    dimensions: Sequence[Dimension],
    figures: Sequence[Figure],
    *,
    simulate: bool = True,
    coupling: Coupling | None = None,
    scale: float = 1.0,
    report: Callable[[float, float], None] = lambda done, total: None,
) -> Sensitivities:
    """Slopes of figures in dimensions.

    Parameters
    ----------
    design : Design
        the wire
    dimensions : sequence of Dimension
        of `design`, as `wire.dimensions.dimensions` lists them; a value of 0 has no logarithm and is refused
    figures : sequence of Figure
        rows of `reduced.FIGURES`
    simulate : bool
        by the simulated bench where a figure has a fast one; else all by the reduced figures
    coupling : {"sliding", "bonded"}, optional
        the design's own by default
    scale : float
        of EI and GJ, from a calibration
    report : callable
        progress: (done, total)

    Raises
    ------
    FieldError
        on a dimension of 0
    """
    for dimension in dimensions:
        if not dimension.value > 0.0:
            raise FieldError(dimension.name, dimension.value, "a dimension greater than 0, which has a logarithm")

    tested, others = split(figures, simulate=simulate)

    def logs(one: Design) -> Array:
        """Logarithms of all figures."""
        found = reduced_values(one, others, coupling, scale) | simulated_values(one, tested, coupling, scale)
        return np.log([found[f.key] for f in figures])

    centre = logs(design)
    slopes = np.full((len(figures), len(dimensions)), nan)
    remarks: dict[str, str] = {}
    for k, dimension in enumerate(dimensions):
        report(k, len(dimensions))
        slopes[:, k], remark = _slope(design, dimension, centre, logs)
        unsolved = [f.key for f, slope in zip(figures, slopes[:, k], strict=True) if not np.isfinite(slope)]
        if unsolved and not remark.startswith(ALONE):
            remark = f"{remark}{'; ' if remark else ''}the bench found no equilibrium for {', '.join(unsolved)}"
        if remark:
            remarks[dimension.name] = remark
    by = tuple("simulated" if f in tested else "reduced" for f in figures)
    return Sensitivities(tuple(figures), tuple(dimensions), np.exp(centre), slopes, by, remarks, STEP)


@dataclass(frozen=True)
class ScaleEffect:
    """What the calibrated scale of EI and GJ leaves open of F figures.

    figures : tuple of Figure, F
    scales : low end, median and high end of the scale's 95 % interval, -
    values : ndarray, shape (3, F), figures there, SI; nan where the bench found no equilibrium
    by : tuple of str, F, "simulated" or "reduced"
    """

    figures: tuple[Figure, ...]
    scales: tuple[float, float, float]
    values: Array
    by: tuple[str, ...]

    @property
    def effect(self) -> tuple[Array, Array]:
        """Relative change of each figure from the median scale to its low and to its high end: (F,) each."""
        return self.values[0] / self.values[1] - 1.0, self.values[2] / self.values[1] - 1.0


def scale_effect(
    design: Design,
    figures: Sequence[Figure],
    scale: Scale,
    *,
    simulate: bool = True,
    coupling: Coupling | None = None,
) -> ScaleEffect:
    """Figures at the ends of the scale's 95 % interval beside those at its median, each evaluated there: a calibration
    may leave a factor of four open, over which no slope holds. Arguments as for `sensitivities`."""
    tested, others = split(figures, simulate=simulate)
    low, median, high = (float(s) for s in scale.at(ENDS))
    rows = [
        reduced_values(design, others, coupling, s) | simulated_values(design, tested, coupling, s)
        for s in (low, median, high)
    ]
    values = np.array([[row[f.key] for f in figures] for row in rows])
    by = tuple("simulated" if f in tested else "reduced" for f in figures)
    return ScaleEffect(tuple(figures), (low, median, high), values, by)


def split(figures: Sequence[Figure], *, simulate: bool) -> tuple[list[Figure], list[Figure]]:
    """Figures whose sensitivities are simulated, and the others."""
    tested = [f for f in figures if simulate and f.simulated is not None and f.fast]
    return tested, [f for f in figures if f not in tested]


def _slope(design: Design, dimension: Dimension, centre: Array, logs: Callable[[Design], Array]) -> tuple[Array, str]:
    """Slopes of all figures in one dimension, and what must be said of them."""
    sides: list[Array] = []
    places: list[float] = []
    why: list[str] = []
    for step in (-STEP, STEP):
        try:
            one = changed(design, {dimension.name: dimension.value * float(np.exp(step))})
        except FieldError as error:
            why.append(f"{'less' if step < 0 else 'more'}: {error}")
            continue
        sides.append(logs(one))
        places.append(step)
    if not sides:
        return np.full_like(centre, nan), f"{ALONE} ({'; '.join(why)})"
    if len(sides) == 1:
        return (sides[0] - centre) / places[0], f"one-sided ({why[0]})"
    return (sides[1] - sides[0]) / (places[1] - places[0]), ""
