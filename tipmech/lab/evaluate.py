"""A design with some dimensions changed -> its bench figures, reduced or simulated. SI units."""

from collections.abc import Mapping, Sequence
from math import nan

from ..checks import FieldError
from ..wire.design import Coupling, Design, profile
from ..wire.dimensions import changed
from .figure import GROUPS, Figure, Tested, simulate
from .figures import figures_of
from .scale import scaled


def find_figure(design: Design, name: str) -> Figure:
    """Figure of this name (with its unit: "tip_load_10mm_gf") that can be searched for.

    Raises
    ------
    FieldError
        naming those that the design has
    """
    known = {figure.name: figure for figure in figures_of(design) if figure.searchable}
    if name not in known:
        raise FieldError("figure", name, f"one of {', '.join(known)}")
    return known[name]


def pick_figures(design: Design, names: Sequence[str]) -> tuple[Figure, ...]:
    """Figures of these names (with their units) or groups (`GROUPS`), in the order of the table; none named: all.

    Raises
    ------
    FieldError
        naming the groups and the figures that the design has
    """
    known = figures_of(design)
    for name in names:
        if name not in GROUPS and not any(name == figure.name for figure in known):
            raise FieldError("figures", name, f"{', '.join(GROUPS)}, {', '.join(figure.name for figure in known)}")
    return tuple(f for f in known if not names or f.name in names or f.group in names)


def reduced_values(
    design: Design, figures: Sequence[Figure], coupling: Coupling | None = None, scale: float = 1.0
) -> dict[str, float]:
    """Figures of a design in closed form or by beam theory, by key, SI; nan where there is neither.

    scale: of EI and GJ, of a calibration.
    """
    stock = scaled(profile(design, coupling), scale)

    def value(figure: Figure) -> float:
        if figure.closed is not None:
            return figure.closed(design)
        return nan if figure.reduced is None else figure.reduced(stock)

    return {figure.key: value(figure) for figure in figures}


def tested_values(
    design: Design, figures: Sequence[Figure], coupling: Coupling | None = None, scale: float = 1.0
) -> dict[str, Tested]:
    """Figures of a design by the simulated bench, by key, with the definition of each test.

    Figures without a simulated test are left out. scale: of EI and GJ, of a calibration.
    """
    return simulate(figures, scaled(profile(design, coupling), scale))


def simulated_values(
    design: Design, figures: Sequence[Figure], coupling: Coupling | None = None, scale: float = 1.0
) -> dict[str, float]:
    """Values alone of `tested_values`; nan where the bench found no equilibrium."""
    return {key: tested.value for key, tested in tested_values(design, figures, coupling, scale).items()}


def buildable(design: Design, values: Mapping[str, float]) -> Design | None:
    """Design with the dimensions changed, None where the parts do not fit each other."""
    try:
        return changed(design, values)
    except FieldError:
        return None
