"""What a rough reduced figure leaves out, to first order: its slopes against those of the simulated one. SI units."""

from collections.abc import Sequence

import numpy as np

from ..profile import Array
from ..wire.design import Coupling, Design
from ..wire.dimensions import Dimension, same_dimension
from .figure import Figure
from .sensitivity import sensitivities


def slope_gaps(
    design: Design,
    dimensions: Sequence[Dimension],
    figures: Sequence[Figure],
    coupling: Coupling | None = None,
    scale: float = 1.0,
) -> dict[str, Array]:
    """Simulated less reduced slope in each dimension of every figure that is `rough`, by key, shape (D,), -.

    0 where there is no slope, and of a dimension of 0, which has no logarithm. dimensions : as in a design of the same
    parts.
    """
    rough = [f for f in figures if f.rough]
    here = [same_dimension(design, d) for d in dimensions]
    moved = [k for k, d in enumerate(here) if d.value > 0.0]
    out = {f.key: np.zeros(len(here)) for f in rough}
    if rough and moved:
        asked = [here[k] for k in moved]
        bench, beam = (
            sensitivities(design, asked, rough, simulate=way, coupling=coupling, scale=scale).slopes
            for way in (True, False)
        )
        for i, figure in enumerate(rough):
            out[figure.key][moved] = np.nan_to_num(bench[i] - beam[i])
    return out
