"""A beam on springs (Winkler): end load and buckling."""

from math import pi

import numpy as np

from .. import closed_forms as cf
from ..rod.loads import Force, Foundation
from ..rod.solve import solve
from ..rod.structure import Structure
from ..rod.supports import Support
from .model import EI, LENGTH, critical_factor, uniform_rod
from .row import Case, Row, relative

HETENYI = "Hetenyi, Beams on Elastic Foundation, 1946"
ELEMENTS = 240
DECAY = 10.0  # lambda L: an end does not feel the other one (exp(-10))
K_LINE = 4.0 * EI * (DECAY / LENGTH) ** 4  # N/m2
WAVES = 5  # half waves of the hinged column: its length is chosen so that the long-column load is exact
FREE = [Support(0, "z", "3")]
HINGED = [Support(0, "xyz", "3"), Support(-1, "xy", "")]


def end_load() -> list[Row]:
    """Semi-infinite beam with a lateral end force."""
    force = 1e-4 * EI / LENGTH**2
    load = Force(-1, (force, 0.0, 0.0))
    state = solve(Structure(uniform_rod(ELEMENTS), FREE, loads=[load], foundation=Foundation(K_LINE, "xy")))
    moment = float(np.max(np.abs(state.moments[:, :, 1])))
    y, m = cf.winkler_end_deflection(EI, K_LINE, force), cf.winkler_end_moment(EI, K_LINE, force)
    return [
        relative("winkler-deflection", "end deflection, m", state.x[-1, 0], y, 1e-3, f"{HETENYI}: 2 P lambda/k"),
        relative("winkler-moment", "largest moment, N m", moment, m, 1e-3, f"{HETENYI}: 0.3224 P/lambda"),
    ]


def buckling() -> list[Row]:
    """Long column on springs: hinged and with free ends."""
    found = []
    for name, free_ends in (("hinged", False), ("free", True)):
        k = K_LINE if free_ends else EI * (WAVES * pi / LENGTH) ** 4
        guess = cf.winkler_buckling_load(EI, k, free_ends=free_ends)
        column = Structure(
            uniform_rod(ELEMENTS),
            FREE if free_ends else HINGED,
            loads=[Force(-1, (0.0, 0.0, -guess))],
            foundation=Foundation(k, "xy"),
        )
        load = guess * critical_factor(column, 1.2)
        source = f"{HETENYI}: {'' if free_ends else '2 '}sqrt(k EI), from memory, re-derived"
        found.append(relative(f"winkler-{name}", f"critical load, {name} ends, N", load, guess, 2e-3, source))
    return found


CASES: tuple[Case, ...] = (end_load, buckling)
