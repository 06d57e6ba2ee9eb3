"""A design with some dimensions changed -> its bench figures, reduced or simulated. SI units."""

from collections.abc import Mapping, Sequence

from ..bench.tip_shape import Shape
from ..checks import FieldError
from ..wire.design import Coupling, Design, profile
from ..wire.dimensions import changed
from .reduced import Figure, figures_of
from .scale import scaled


def find_figure(design: Design, name: str) -> Figure:
    """Figure of this name (with its unit: "tip_load_10mm_gf"), which the design must be long enough for.

    Raises
    ------
    FieldError
        naming those that it has
    """
    known = {figure.name: figure for figure in figures_of(design.length, Shape.of(design))}
    if name not in known:
        raise FieldError("figure", name, f"one of {', '.join(known)}")
    return known[name]


def reduced_values(
    design: Design, figures: Sequence[Figure], coupling: Coupling | None = None, scale: float = 1.0
) -> dict[str, float]:
    """Figures of a design by beam theory, by key, SI; scale: of EI and GJ, of a calibration."""
    stock = scaled(profile(design, coupling), scale)
    return {figure.key: figure.reduced(stock) for figure in figures}


def simulated_values(
    design: Design, figures: Sequence[Figure], coupling: Coupling | None = None, scale: float = 1.0
) -> dict[str, float]:
    """Figures of a design by the simulated bench, by key, SI; nan where it found no equilibrium.

    Figures without a simulated test are left out. scale: of EI and GJ, of a calibration.
    """
    stock = scaled(profile(design, coupling), scale)
    return {figure.key: figure.simulate(stock) for figure in figures if figure.simulated is not None}


def buildable(design: Design, values: Mapping[str, float]) -> Design | None:
    """Design with the dimensions changed, None where the parts do not fit each other."""
    try:
        return changed(design, values)
    except FieldError:
        return None
