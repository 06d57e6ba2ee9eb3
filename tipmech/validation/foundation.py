"""A beam on springs (Winkler): end load and buckling."""

from math import pi

import numpy as np

from .. import closed_forms as cf
from ..rod.elastic import Array, RodArrays
from ..rod.stability import critical_load
from ..rod.statics import Potential, equilibrium, fix
from .model import EI, LENGTH, forces, straight_path, uniform_rod
from .row import Case, Row, relative

HETENYI = "Hetenyi, Beams on Elastic Foundation, 1946"
ELEMENTS = 240
DECAY = 10.0  # lambda L: an end does not feel the other one (exp(-10))
K_LINE = 4.0 * EI * (DECAY / LENGTH) ** 4  # N/m2
WAVES = 5  # half waves of the hinged column: its length is chosen so that the long-column load is exact


def winkler(rod: RodArrays, k_line: float) -> Potential:
    """Springs k_line (N/m2) against lateral displacement, by each node's tributary length."""
    k: Array = k_line * np.concatenate(
        [[0.5 * rod.length[0]], 0.5 * (rod.length[1:] + rod.length[:-1]), [0.5 * rod.length[-1]]]
    )
    block = np.zeros((len(k), 3, 3))
    block[:, 0, 0] = block[:, 1, 1] = k

    def energy(x: Array) -> tuple[float, Array, Array]:
        g = np.zeros_like(x)
        g[:, :2] = k[:, None] * x[:, :2]
        return 0.5 * float(np.sum(k[:, None] * x[:, :2] ** 2)), g, block

    return energy


def end_load() -> list[Row]:
    """Semi-infinite beam with a lateral end force."""
    n = ELEMENTS
    rod, x, q = uniform_rod(n, clamped=(False, False))
    force = 1e-4 * EI / LENGTH**2
    load = forces(n, x=force)
    state = equilibrium(rod, x, q, fixed=fix(n, z=0, rz=0), forces=load, potential=winkler(rod, K_LINE))
    turn = 2.0 * np.arcsin(state.q[:, 2])  # about y; the frames turn in the x-z plane only
    moment = float(np.max(np.abs(EI * np.diff(turn) / rod.span[1:-1])))
    y, m = cf.winkler_end_deflection(EI, K_LINE, force), cf.winkler_end_moment(EI, K_LINE, force)
    return [
        relative("winkler-deflection", "end deflection, m", state.x[-1, 0], y, 1e-3, f"{HETENYI}: 2 P lambda/k"),
        relative("winkler-moment", "largest moment, N m", moment, m, 1e-3, f"{HETENYI}: 0.3224 P/lambda"),
    ]


def buckling() -> list[Row]:
    """Long column on springs: hinged and with free ends."""
    n = ELEMENTS
    found = []
    for name, free_ends in (("hinged", False), ("free", True)):
        k = K_LINE if free_ends else EI * (WAVES * pi / LENGTH) ** 4
        rod, x, q = uniform_rod(n, clamped=(False, False))
        fixed = fix(n, z=0, rz=0) if free_ends else fix(n, x=(0, n), y=(0, n), z=0, rz=0)
        guess = cf.winkler_buckling_load(EI, k, free_ends=free_ends)
        load = critical_load(straight_path(rod, x, q, winkler(rod, k)), fixed, 0.8 * guess, 1.2 * guess).load
        source = f"{HETENYI}: {'' if free_ends else '2 '}sqrt(k EI), from memory, re-derived"
        found.append(relative(f"winkler-{name}", f"critical load, {name} ends, N", load, guess, 2e-3, source))
    return found


CASES: tuple[Case, ...] = (end_load, buckling)
