"""Backwards: the core grind (or ribbon thickness) whose bench tip load is a wanted one. SI units.

The grind scales the core's diameter, and a ribbon's thickness, by one factor over the distal 30 mm, blended to 1 at 60
mm: the lengths of the softness family, but a change of a real construction (EA, mass and fit change with it).

The bench is handed in as a callable, so that the simulated one decides; the closed form only starts the search.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import exp, log, sqrt

import numpy as np
from scipy.optimize import brentq

from ..closed_forms import EULER
from ..profile import BLEND_LENGTH, SOFT_LENGTH, Profile
from ..units import from_si
from .design import Coupling, Design, profile
from .parts import Part, Ribbon, Taper

THINNEST = 0.02e-3  # m, no core or ribbon is ground thinner: common practice, no source
LARGEST_SCALE = 4.0  # a tip four times thicker is another wire, not a grind
SMALLEST_SCALE = 0.1
SCALE_TOLERANCE = 1e-4  # of the factor: 0.04 % in EI, far below the bench's own spread
WIDEN = 1.25  # factor by which the bracket around the first guess grows


class GrindError(ValueError):
    """No allowed grind reaches the wanted tip load; `nearest` (N) is the closest reachable one, at factor `scale`."""

    def __init__(self, wanted: float, nearest: float, scale: float, reason: str) -> None:
        self.wanted, self.nearest, self.scale = wanted, nearest, scale
        super().__init__(
            f"tip load is {from_si(wanted, 'gf'):.4g} gf; allowed: up to the nearest reachable value "
            f"{from_si(nearest, 'gf'):.4g} gf (core ground by a factor {scale:.3f}; {reason})"
        )


@dataclass(frozen=True)
class Ground:
    """A ground design: the factor, the design, its tip load (N), the closed-form first guess, the benches it took."""

    scale: float
    design: Design
    tip_load: float
    first_guess: float
    evaluations: int


def scaled(design: Design, factor: float) -> Design:
    """Design with its core diameters and ribbon thicknesses times `factor` at the tip.

    Raises
    ------
    ValueError
        when the ground parts no longer fit each other
    """
    return replace(design, parts=tuple(_scaled_part(part, factor) for part in design.parts))


def limits(design: Design) -> tuple[float, float, str, str]:
    """Smallest and largest factor that leave a buildable wire, and what sets each."""
    cores = [p for p in design.parts if isinstance(p, Taper | Ribbon) and p.start < BLEND_LENGTH]
    if not cores:
        raise ValueError("this design has no core or ribbon within 60 mm of the tip, so there is nothing to grind")
    thinnest = min(p.thickness if isinstance(p, Ribbon) else min(p.diameters) for p in cores)
    least = max(SMALLEST_SCALE, min(1.0, THINNEST / thinnest))
    low, high = 1.0, LARGEST_SCALE
    if _fits(design, high):
        return least, high, "no core is ground below 0.02 mm", "a grind by more than 4 is another wire"
    while high / low > 1.0 + SCALE_TOLERANCE:
        middle = sqrt(low * high)
        low, high = (middle, high) if _fits(design, middle) else (low, middle)
    return least, low, "no core is ground below 0.02 mm", "a thicker core no longer fits inside the next part"


def grind(
    design: Design,
    wanted: float,
    tip_load_of: Callable[[Profile], float],
    *,
    coupling: Coupling | None = None,
    end_condition: str = "clamped-pinned",
    free_length: float = 10e-3,
) -> Ground:
    """Grind factor of the core at which `tip_load_of` gives the wanted tip load.

    Parameters
    ----------
    design : Design
        the wire to change
    wanted : float
        tip load, N
    tip_load_of : callable
        the bench: stiffness profile -> tip load, N (its end condition and definition decide the result)
    coupling : {"sliding", "bonded"}, optional
        the design's own by default
    end_condition : str
        key of closed_forms.EULER; only starts the search
    free_length : float
        free length of the bench, m; only starts the search

    Returns
    -------
    Ground
        factor, design and tip load

    Raises
    ------
    GrindError
        when no allowed factor reaches it, with the nearest reachable tip load
    """
    if not (np.isfinite(wanted) and wanted > 0.0):
        raise ValueError(f"tip load is {wanted}; allowed: a finite force greater than 0")
    least, most, why_least, why_most = limits(design)
    guess = min(max(first_guess(design, wanted, coupling, end_condition, free_length), least), most)
    seen: dict[float, float] = {}

    def miss(log_scale: float) -> float:
        """Logarithm of the tip load over the wanted one."""
        if log_scale not in seen:
            seen[log_scale] = tip_load_of(profile(scaled(design, exp(log_scale)), coupling))
        return log(seen[log_scale] / wanted)

    low = high = log(guess)
    while miss(low) > 0.0 and low > log(least):
        high, low = low, max(low - log(WIDEN), log(least))
    while miss(high) < 0.0 and high < log(most):
        low, high = high, min(high + log(WIDEN), log(most))
    if miss(low) > 0.0:
        raise GrindError(wanted, seen[low], exp(low), why_least)
    if miss(high) < 0.0:
        raise GrindError(wanted, seen[high], exp(high), why_most)
    root = low if low == high else float(brentq(miss, low, high, xtol=SCALE_TOLERANCE))
    miss(root)
    return Ground(exp(root), scaled(design, exp(root)), seen[root], guess, len(seen))


def first_guess(
    design: Design, wanted: float, coupling: Coupling | None, end_condition: str, free_length: float
) -> float:
    """Factor from P = c EI/L^2 with the mean EI of the free length.

    Holds for a stiffness that changes little over the free length and small deflection.
    """
    if end_condition not in EULER:
        raise ValueError(f"end condition is {end_condition!r}; allowed: {', '.join(EULER)}")
    needed = wanted * free_length**2 / EULER[end_condition]
    stations = np.linspace(0.0, free_length, 41)
    factors = np.geomspace(*limits(design)[:2], 25)
    bending = [float(np.mean(profile(scaled(design, float(f)), coupling).at("EI1", stations))) for f in factors]
    return float(np.exp(np.interp(log(needed), np.log(bending), np.log(factors))))


def _fits(design: Design, factor: float) -> bool:
    """Whether the design ground by `factor` still passes its own checks."""
    try:
        scaled(design, factor)
    except ValueError:
        return False
    return True


def _scaled_part(part: Part, factor: float) -> Part:
    """A part, ground if it is a core or ribbon."""
    if isinstance(part, Taper) and part.start < BLEND_LENGTH:
        inside = [s for s in (SOFT_LENGTH, BLEND_LENGTH) if part.start < s < part.end]
        s = np.union1d(part.distances, inside)
        weight = np.interp(s, [SOFT_LENGTH, BLEND_LENGTH], [1.0, 0.0])
        diameters = part.diameter(s) * (1.0 + (factor - 1.0) * weight)
        distances, ground = tuple(map(float, s)), tuple(map(float, diameters))
        # a tip made thicker may leave a waist behind it: meant here, and no mistake in a drawing
        return replace(part, distances=distances, diameters=ground, may_thin=part.may_thin or factor > 1.0)
    if isinstance(part, Ribbon) and part.start < SOFT_LENGTH:
        return replace(part, thickness=part.thickness * factor)
    return part
