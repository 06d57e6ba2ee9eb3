"""Where the tip of a pressed column begins to slip: shooting on the elastica, without the package.

A column clamped at one end, of length and EI 1, its free form an arc of curvature 2 o (the tip lies o beside the axis
of the clamp). A plate presses the tip end-on; until it slips it stays where it first touched. The tip slips when the
lateral force reaches friction times the axial one.
"""

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, fsolve

LOADS = np.linspace(0.2, 24.0, 120)  # axial loads that the side force is followed through
TIGHT = {"rtol": 1e-11, "atol": 1e-14, "method": "DOP853"}


def _end(load: float, side: float, clamp: float) -> np.ndarray:
    """Angle, y, z and curvature at the tip, from the curvature at the clamp."""

    def slopes(_: float, u: np.ndarray) -> list[float]:
        sin, cos = np.sin(u[0]), np.cos(u[0])
        return [u[3], sin, cos, -load * sin + side * cos]

    return np.asarray(solve_ivp(slopes, (0.0, 1.0), [0.0, 0.0, 0.0, clamp], **TIGHT).y[:, -1])


def onset(friction: float, offset: float) -> tuple[float, float]:
    """Axial load over EI/L^2 and shortening by bending over L at which the tip begins to slip."""
    natural = 2.0 * offset
    place = (1.0 - np.cos(natural)) / natural
    guess = np.array([0.0, natural])

    def held(load: float) -> np.ndarray:
        """Side force and curvature at the clamp that hold the tip where it touched."""

        def miss(q: np.ndarray) -> list[float]:
            end = _end(load, q[0], q[1])
            return [end[3] - natural, end[1] - place]

        q, info, _, _ = fsolve(miss, guess, xtol=1e-11, full_output=True)
        if np.max(np.abs(info["fvec"])) > 1e-9:
            raise ArithmeticError(f"no elastica at a load of {load:g}")
        return np.asarray(q)

    before = 0.0
    for load in LOADS:
        found = held(load)
        if abs(found[0]) >= friction * load:
            at = float(brentq(lambda p: abs(held(p)[0]) - friction * p, before, load, xtol=1e-10))
            side, clamp = held(at)
            return at, float(np.sin(natural) / natural - _end(at, side, clamp)[2])
        guess, before = found, load
    raise ArithmeticError(f"friction {friction:g} holds the tip throughout")
