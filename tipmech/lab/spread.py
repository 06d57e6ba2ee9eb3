"""Bench figures over a calibrated wire: what a user's own measurements leave open of every figure. Floor 6."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..wire.design import Design
from .figure import Figure, simulate
from .figures import figures_of
from .posterior_file import posterior_profiles
from .scale import read_scale

DRAWS, SEED = 32, 1  # wires, one from each equal share of probability: medians to 1/64 of it, ends of 95 % to 1/64 too
LEVELS = (0.025, 0.5, 0.975)


@dataclass(frozen=True)
class Spread:
    """One figure over a posterior.

    figure : Figure
    quantiles : ndarray, shape (3,), at LEVELS, SI; nan where no wire was solved
    unsolved : number of wires whose bench found no equilibrium, of DRAWS
    """

    figure: Figure
    quantiles: np.ndarray
    unsolved: int


def spread(path: Path, design: Design, on_progress: Callable[[float, float], None] | None = None) -> list[Spread]:
    """Figures that are quick to simulate, over DRAWS wires of a posterior file of `tipmech calibrate`.

    Raises
    ------
    InputError
        when the file is no posterior, or that of another wire
    """
    read_scale(path, design)
    wires = posterior_profiles(path, DRAWS, SEED)
    asked = [f for f in figures_of(design) if f.simulated is not None and f.fast]
    rows = []
    for k, wire in enumerate(wires):
        tested = simulate(asked, wire)
        rows.append([tested[figure.key].value for figure in asked])
        if on_progress is not None:
            on_progress(k + 1, len(wires))
    return [_over(figure, values) for figure, values in zip(asked, np.array(rows).T, strict=True)]


def _over(figure: Figure, values: np.ndarray) -> Spread:
    """Quantiles of a figure over the wires that were solved."""
    solved = values[np.isfinite(values)]
    quantiles = np.quantile(solved, LEVELS, method="hazen") if len(solved) else np.full(len(LEVELS), np.nan)
    return Spread(figure, quantiles, len(values) - len(solved))
