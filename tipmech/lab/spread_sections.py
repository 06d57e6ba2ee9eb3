"""Bending stiffness of a calibrated wire's sections. Floor 6.

A posterior file holds one unknown, the scale of EI and GJ. A section's EI grows with it, so that its quantiles are
those at the quantiles of the scale: no draw scatters.
"""

from pathlib import Path

import numpy as np

from ..profile import Array
from ..units import from_si
from ..wire.design import Design, profile
from ..wire.stations import Station, stations, two_axes
from .scale import read_scale, scaled
from .spread import LEVELS

STATIONS = (1e-3, 10e-3, 30e-3, 100e-3)  # m from the tip, where the bending stiffness is listed


def section_spread(path: Path, design: Design) -> dict[str, Array]:
    """Quantiles (`spread.LEVELS`) of EI at `STATIONS`, about both axes where they differ: name with unit -> (3,).

    In users' units; at a jump on both of its sides.

    Raises
    ------
    InputError
        when the file is no posterior, or that of another wire
    """
    stock = profile(design)
    wires = [scaled(stock, float(scale)) for scale in read_scale(path, design).at(np.array(LEVELS))]
    found = {}
    for one in stations(design, STATIONS):
        at = np.array([one.at])
        for key in ("EI1", "EI2") if two_axes(stock, at)[0] else ("EI1",):
            found[section_name(one, key)] = np.array([from_si(float(w.at(key, at)[0]), "N_mm2") for w in wires])
    return found


def section_name(one: Station, key: str) -> str:
    """Name of a section's EI with its unit: 'EI_hard_axis_1mm_toward_the_hand_N_mm2' of "EI2"."""
    axis, side = "_hard_axis" if key == "EI2" else "", one.side and f"_toward_the_{one.side}"
    return f"EI{axis}_{from_si(one.distance, 'mm'):g}mm{side}_N_mm2"
