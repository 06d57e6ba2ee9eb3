"""Bench figures that grow with the wire's stiffness, over a calibrated wire. Floor 6.

A posterior file holds one unknown, the scale of EI and GJ. A figure that grows with it has its quantiles at those of
the scale: three wires are enough, and no draw scatters. A stiffer wire takes more force to the same deflection, and
buckles later.
"""

from collections.abc import Callable, Collection
from math import nan
from pathlib import Path

import numpy as np

from ..bench.column import FREE_LENGTH, Ends, column
from ..bench.lateral import FREE_LENGTHS, lateral
from ..bench.prolapse import UNSUPPORTED, prolapse
from ..checks import FieldError
from ..profile import Array, Profile
from ..rod.errors import NotConvergedError
from ..units import from_si
from ..wire.design import Design, profile
from ..wire.stations import stations, two_axes
from .scale import read_scale, scaled
from .spread import LEVELS

STATIONS = (1e-3, 10e-3, 30e-3, 100e-3)  # m from the tip, where the bending stiffness is listed

Values = dict[str, float]


def static_spread(path: Path, design: Design, known: Collection[str] = ()) -> dict[str, Array]:
    """Quantiles (`spread.LEVELS`) of figures that grow with the scale: name with its unit -> (3,), users' units.

    EI at `STATIONS` about both axes where they differ, lateral stiffness and force at 45 degrees, column strength, the
    push at which a gap bows out; nan where the bench found no equilibrium.

    Parameters
    ----------
    path, design : Path, Design
        posterior file of `tipmech calibrate`, and its wire
    known : collection of str
        figures that are not wanted; a test all of whose figures are known is not made

    Raises
    ------
    InputError
        when the file is no posterior, or that of another wire
    """
    scales = read_scale(path, design).at(np.array(LEVELS))
    wires = [scaled(profile(design), float(scale)) for scale in scales]
    rows = {name: np.array([value(wire) for wire in wires]) for name, value in _bending(design).items()}
    for names, test in _tests():
        wanted = [name for name in names if name not in known]
        if wanted:
            found = [_tested(test, wire) for wire in wires]
            rows |= {name: np.array([values.get(name, nan) for values in found]) for name in wanted}
    return {name: values for name, values in rows.items() if name not in known}


def _bending(design: Design) -> dict[str, Callable[[Profile], float]]:
    """EI at the stations, on both sides of a jump, about both axes where they differ."""
    stock = profile(design)
    found: dict[str, Callable[[Profile], float]] = {}
    for one in stations(design, STATIONS):
        at = np.array([one.at])
        keys = ["EI1", "EI2"] if two_axes(stock, at)[0] else ["EI1"]
        for key in keys:
            axis, side = "_hard_axis" if key == "EI2" else "", one.side and f"_toward_the_{one.side}"
            name = f"EI{axis}_{from_si(one.distance, 'mm'):g}mm{side}_N_mm2"
            found[name] = lambda wire, key=key, at=at: from_si(float(wire.at(key, at)[0]), "N_mm2")  # type: ignore[misc]
    return found


def _tests() -> list[tuple[tuple[str, ...], Callable[[Profile], Values]]]:
    """Tests with the names of the figures that they give."""

    def sideways(length: float) -> tuple[tuple[str, ...], Callable[[Profile], Values]]:
        where = f"{from_si(length, 'mm'):g}mm"
        names = (f"lateral_stiffness_{where}_N_per_m", f"lateral_force_45deg_{where}_mN")

        def values(wire: Profile) -> Values:
            test = lateral(wire, length)
            return dict(zip(names, (test.stiffness, from_si(test.force_45, "mN")), strict=True))

        return names, values

    ends: dict[str, Ends] = {"column_10mm_pinned_mN": "clamped-pinned", "column_10mm_clamped_mN": "clamped-clamped"}
    push = f"prolapse_push_{from_si(UNSUPPORTED, 'mm'):g}mm_mN"
    return [
        *(sideways(length) for length in FREE_LENGTHS),
        (
            tuple(ends),
            lambda wire: {name: from_si(_loads(wire)[key], "mN") for name, key in ends.items()},
        ),
        ((push,), lambda wire: {push: from_si(prolapse(wire).critical, "mN")}),
    ]


def _loads(wire: Profile) -> dict[Ends, float]:
    """Critical loads of the distal FREE_LENGTH."""
    return column(wire, unsupported=[FREE_LENGTH]).loads


def _tested(test: Callable[[Profile], Values], wire: Profile) -> Values:
    """Figures of one wire; none where the wire does not allow the test or it found no equilibrium."""
    try:
        return test(wire)
    except (FieldError, NotConvergedError):
        return {}
