"""What one dimension does: d ln(figure)/d ln(dimension) of every bench figure. SI units.

Central differences; where one side cannot be built (a tip no wider than its wire) or has no such figure (the bench
finds no equilibrium) the other side alone, and said. Every figure by its own test; those of one test from one run.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite, nan

import numpy as np

from ..checks import FieldError
from ..profile import Array
from ..wire.design import Coupling, Design
from ..wire.dimensions import Dimension, changed
from .evaluate import reduced_values, tested_values
from .figure import Figure, Tested
from .ratios import ENDS
from .scale import Scale

STEP = 0.01  # of the logarithm of a dimension, each way: far above the benches' own scatter (1e-4), exact for powers
ALONE = "cannot be changed alone"


@dataclass(frozen=True)
class Sensitivities:
    """Slopes of F figures in D dimensions.

    figures : tuple of Figure, F
    dimensions : tuple of Dimension, D
    values : ndarray, shape (F,), figures of the design itself, SI; nan: not to be had, see `missing`
    slopes : ndarray, shape (F, D), d ln(figure)/d ln(dimension), -; nan: not to be had, see `remarks`, `missing`
    by : tuple of str, F, "simulated", "reduced" or "closed form"
    definitions : tuple of str, F, of the values
    remarks : dict, dimension's name -> why a slope is one-sided or missing
    missing : dict, figure's key -> why it has no slope in any dimension
    step : difference of the logarithm of a dimension, each way
    doubts : dict, figure's key -> what speaks against its value
    """

    figures: tuple[Figure, ...]
    dimensions: tuple[Dimension, ...]
    values: Array
    slopes: Array
    by: tuple[str, ...]
    definitions: tuple[str, ...]
    remarks: dict[str, str]
    missing: dict[str, str]
    step: float
    doubts: dict[str, str]

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
        of `figures.figures_of`
    simulate : bool
        by the simulated bench where a figure has a test; else by the reduced figures, and those without one are missing
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
    here = _values(design, figures, simulate, coupling, scale)
    values = np.array([one.value for one in here])
    missing = {f.key: _why(f, one, simulate) for f, one in zip(figures, here, strict=True) if not _positive(one.value)}
    asked = [f for f in figures if f.key not in missing]
    kept = [i for i, f in enumerate(figures) if f.key not in missing]

    def logs(one: Design) -> Array:
        """Logarithms of the figures that are to be had; nan where this design has none."""
        found = np.array([tested.value for tested in _values(one, asked, simulate, coupling, scale)])
        return np.log(np.where(np.isfinite(found) & (found > 0.0), found, nan))

    slopes = np.full((len(figures), len(dimensions)), nan)
    remarks: dict[str, str] = {}
    for k, dimension in enumerate(dimensions):
        report(k, len(dimensions))
        slopes[kept, k], remark = _slope(design, dimension, np.log(values[kept]), asked, logs)
        if remark:
            remarks[dimension.name] = remark
    by = tuple(_by(f, simulate) for f in figures)
    words = tuple(one.definition for one in here)
    doubts = {f.key: one.doubt for f, one in zip(figures, here, strict=True) if one.doubt}
    return Sensitivities(tuple(figures), tuple(dimensions), values, slopes, by, words, remarks, missing, STEP, doubts)


@dataclass(frozen=True)
class ScaleEffect:
    """What the calibrated scale of EI and GJ leaves open of F figures.

    figures : tuple of Figure, F
    scales : low end, median and high end of the scale's 95 % interval, -
    values : ndarray, shape (3, F), figures there, SI; nan where the bench found no equilibrium
    by : tuple of str, F, "simulated", "reduced" or "closed form"
    """

    figures: tuple[Figure, ...]
    scales: tuple[float, float, float]
    values: Array
    by: tuple[str, ...]

    @property
    def effect(self) -> tuple[Array, Array]:
        """Relative change of each figure from the median scale to its low and to its high end: (F,) each; nan: none."""
        low, middle, high = self.values
        base = np.where(middle > 0.0, middle, nan)
        return low / base - 1.0, high / base - 1.0


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
    low, median, high = (float(s) for s in scale.at(ENDS))
    values = np.array(
        [[one.value for one in _values(design, figures, simulate, coupling, s)] for s in (low, median, high)]
    )
    return ScaleEffect(tuple(figures), (low, median, high), values, tuple(_by(f, simulate) for f in figures))


def _by(figure: Figure, simulate: bool) -> str:
    """How a figure's value is found."""
    if figure.closed is not None:
        return "closed form"
    return "simulated" if simulate and figure.simulated is not None else "reduced"


def _values(
    design: Design, figures: Sequence[Figure], simulate: bool, coupling: Coupling | None, scale: float
) -> list[Tested]:
    """Figures of a design, each as `_by` says."""
    others = [f for f in figures if _by(f, simulate) != "simulated"]
    found = {
        f.key: Tested(value, f.words)
        for f, value in zip(others, reduced_values(design, others, coupling, scale).values(), strict=True)
    }
    found |= tested_values(design, [f for f in figures if f not in others], coupling, scale)
    return [found[f.key] for f in figures]


def _positive(value: float) -> bool:
    return isfinite(value) and value > 0.0


def _why(figure: Figure, one: Tested, simulate: bool) -> str:
    """Why a figure has no logarithm."""
    if one.why:
        return one.why
    if _by(figure, simulate) == "reduced" and figure.reduced is None:
        return "no reduced figure: it is simulated only"
    return f"it is {one.value / figure.factor:g}, which has no logarithm"


def _slope(
    design: Design, dimension: Dimension, centre: Array, figures: Sequence[Figure], logs: Callable[[Design], Array]
) -> tuple[Array, str]:
    """Slopes of all figures in one dimension, and what must be said of them."""
    sides: dict[float, Array] = {}
    why: list[str] = []
    for step in (-STEP, STEP):
        try:
            one = changed(design, {dimension.name: dimension.value * float(np.exp(step))})
        except FieldError as error:
            why.append(f"{'less' if step < 0 else 'more'}: {error}")
            continue
        sides[step] = logs(one)
    if not sides:
        return np.full_like(centre, nan), f"{ALONE} ({'; '.join(why)})"
    none = np.full_like(centre, nan)
    less, more = sides.get(-STEP, none), sides.get(STEP, none)
    both = (more - less) / (2.0 * STEP)
    one_side = np.where(np.isfinite(less), (centre - less) / STEP, (more - centre) / STEP)
    slopes = np.where(np.isfinite(both), both, one_side)
    said = [f"one-sided ({why[0]})"] if why else []
    for words, odd in (
        ("no equilibrium, so no slope, for", ~np.isfinite(slopes)),
        ("no equilibrium on one side, so one-sided, for", np.isfinite(slopes) & ~np.isfinite(both) & (not why)),
    ):
        if np.any(odd):
            said.append(f"the bench found {words} {', '.join(f.key for f, o in zip(figures, odd, strict=True) if o)}")
    return slopes, "; ".join(said)
