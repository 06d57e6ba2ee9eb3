"""[numerics] of a case or study file in SI."""

from ..insertion.case import Numerics
from ..rod.mesh import graded_lengths
from .common import FieldError
from .scene_tables import NumericsTable

MM, UM = 1e-3, 1e-6


def numerics_of(table: NumericsTable) -> Numerics:
    """Settings of the solver.

    Raises
    ------
    FieldError
        where so many elements of at most longest_mm do not make the modelled length
    """
    numerics = Numerics(
        elements=table.elements,
        length=table.length_mm * MM,
        longest=None if table.longest_mm is None else table.longest_mm * MM,
        spacing=table.spacing_mm * MM,
        increment=table.increment_mm * MM,
        smoothing=table.smoothing_um * UM,
        slip_length=table.slip_length_um * UM,
        viscosity=table.viscosity_n_s_m2,
        imperfection=table.imperfection,
        tolerance=table.tolerance,
    )
    try:
        graded_lengths(numerics.length, numerics.elements, numerics.longest)
    except ValueError:
        allowed = f"so many that they make the {table.length_mm:g} mm of wire, none longer than {table.longest_mm:g} mm"
        raise FieldError("numerics.elements", table.elements, allowed) from None
    return numerics
