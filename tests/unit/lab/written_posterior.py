"""Posterior files made by hand: a wire and a normal spread of ln scale."""

from pathlib import Path

import numpy as np

from tipmech.lab.posterior import Posterior
from tipmech.lab.posterior_file import write_posterior
from tipmech.wire.design import Design

NO_WIDTH = 1e-300  # of ln scale about 0: the exponential of half of it is 1 to the bit
LEAST_WIDTH = 1e-12  # of ln scale elsewhere: a thousand times what a double resolves


def normal_posterior(path: Path, design: Design, mean: float, sd: float) -> Path:
    """Posterior whose ln scale is normal; sd 0: one scale alone, 1 to the bit where mean is 0."""
    if sd == 0.0:
        width = NO_WIDTH if mean == 0.0 else LEAST_WIDTH
        x = mean + width * np.array([[-0.5, 0.5]])
        weight = np.ones_like(x)
    else:
        x = mean + sd * np.linspace(-5.0, 5.0, 401)[None, :]
        width = x[0, 1] - x[0, 0]
        weight = np.exp(-0.5 * ((x - mean) / sd) ** 2)
    weight = weight / weight.sum()
    return write_posterior(Posterior(np.zeros(1), x, weight / width, weight, True, 0.5), design, path, {})
