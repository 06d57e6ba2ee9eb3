"""Wanted bench figures -> designs: dimensions within bounds whose simulated figures are the wanted ones. SI units.

The search runs on the reduced figures, each times its ratio simulated/reduced at a design near by (which changes with
the dimensions where the reduced figure is rough, as the slopes there say); the designs it
chooses are simulated, the ratios taken anew and the search repeated, until the simulated figures meet what is wanted.
"""

from collections.abc import Callable, Sequence
from math import isfinite, log, nan

import numpy as np

from ..profile import Array
from ..wire.design import Coupling, Design
from .evaluate import reduced_values, simulated_values, tested_values
from .figures import figures_of
from .gap import slope_gaps
from .search import AIM, HARD, Model, cost_of, front_of, in_tolerances, solve, spread_of, starts_of, tolerances_of
from .wanted import Bounds, Found, Inverse, OutOfReachError, Wanted

PULLS = (1.0, 10.0, 60.0)  # weights on the way to HARD: steps that a trust region follows along the wanted figures
ROUNDS = 3  # of search, simulation and new ratios
FAR = 1.5  # a figure that stays more tolerances than that away, alone, cannot be had
NO_WHIP = 0.05  # tolerance of a guard, aimed at half of it below 1: a shape jumps near 1, some per cent to either side
REACHES = 2  # searches for one figure alone: the second with the ratio of the design nearest to it


def inverse(
    design: Design,
    wanted: Sequence[Wanted],
    bounds: Sequence[Bounds],
    *,
    coupling: Coupling | None = None,
    scale: float = 1.0,
    seed: int = 1,
    report: Callable[[float, float], None] = lambda done, total: None,
) -> Inverse:
    """Designs within bounds that have the wanted figures, least changed first, and the front of what must be given up.

    Figures that those wanted need to stay below 1 (the whip number, for a lag or a ratio) are added to them; they alone
    refuse nothing.

    Each search minimises w^2 sum(miss^2) + change^2 (least squares within bounds) from several starts; the front is
    the set of solutions over w, and over the weights between figures where these cannot all be met, that no other one
    beats (weighted sums: a front's concave parts are not found).

    Parameters
    ----------
    design : Design
        the given wire; its dimensions that are not in `bounds` stay
    wanted, bounds : sequences
        at least one each
    coupling : {"sliding", "bonded"}, optional
        the design's own by default
    scale : float
        of EI and GJ of every design, from a calibration of the construction (its median)
    seed : int
        of the starts

    Raises
    ------
    OutOfReachError
        when one of the figures alone cannot be had within the bounds, with the nearest value
    FieldError
        when no start within the bounds can be built
    """
    model = Model(design, (*wanted, *guards(design, wanted)), bounds, coupling, scale)
    starts = starts_of(model, seed)
    simulated = simulated_values(design, model.figures, coupling, scale)
    _take_ratios(model, model.given, design, reduced_values(design, model.figures, coupling, scale), simulated)
    best: tuple[Array, Found] | None = None
    rounds = 0
    while rounds < ROUNDS:
        rounds += 1
        report(rounds - 1, ROUNDS + 1)
        from_here = starts if best is None else [best[0], *starts[:1]]
        u = _least_change(model, from_here)
        _refuse_out_of_reach(model, u, starts)
        found = _simulated(model, u)
        if best is None or _merit(model, found) < _merit(model, best[1]):
            best = (u, found)
        if _settled(model, u, found):
            break
        _take_ratios(model, u, found.design, found.reduced, found.simulated)
    assert best is not None
    report(ROUNDS, ROUNDS + 1)
    points = front_of(model, best[0], seed)
    misses = np.array([in_tolerances(model, u) for u in points])
    changes = np.array([model.change(u) for u in points])
    shown = spread_of(points, misses, changes)
    others = [_simulated(model, points[k]) for k in shown[1:]]
    return Inverse(
        model.wanted,
        tuple(bounds),
        (best[1], *others),
        np.array([model.figures_at(u) for u in points]),
        misses,
        changes,
        np.exp(np.array(points)),
        shown,
        dict(model.ratios),
        rounds,
        model.evaluations,
    )


def guards(design: Design, wanted: Sequence[Wanted]) -> tuple[Wanted, ...]:
    """What must hold for the wanted figures to mean anything and is not wanted itself: at most 1 each."""
    asked, known = {w.figure.key for w in wanted}, {f.key: f for f in figures_of(design)}
    needed = dict.fromkeys(w.figure.guard for w in wanted if w.figure.guard)
    return tuple(Wanted(known[key], "at_most", 1.0, NO_WHIP, added=True) for key in needed if key not in asked)


def _least_change(model: Model, starts: Sequence[Array]) -> Array:
    """Design that meets the wanted figures as closely as can be and changes least, from several starts.

    The first start, near the given design, comes to the wanted figures under growing weights, so that it meets them
    at the least change; the others go there at once and are then drawn back. One figure alone is nearly a power of the
    dimensions: where the first start meets it, the others are left out.
    """
    shape = float(np.min(tolerances_of(model))) / tolerances_of(model)

    def pulled(u: Array) -> Array:
        """Solutions under growing weights, each from the one before; the last one."""
        for weight in (*PULLS, HARD):
            u = solve(model, u, weight * shape)
        return u

    ends = [pulled(starts[0])]
    if len(model.wanted) > 1 or float(in_tolerances(model, ends[0])[0]) > AIM:
        straight = [solve(model, start, HARD * shape) for start in starts[1:]]
        ends += straight + [pulled(min(straight, key=lambda u: cost_of(model, u, HARD * shape)))] if straight else []
    return min(ends, key=lambda u: cost_of(model, u, HARD * shape))


def _take_ratios(
    model: Model, u: Array, design: Design, reduced: dict[str, float], simulated: dict[str, float]
) -> None:
    """Set the ratios simulated/reduced of the design at u; a figure that was not solved keeps its last one."""
    solved = [f for f in model.figures if isfinite(simulated.get(f.key, nan))]
    gaps = slope_gaps(design, model.dimensions, solved, model.coupling, model.scale)
    for figure in solved:
        model.ratios[figure.key] = simulated[figure.key] / reduced[figure.key]
        if figure.key in gaps:
            model.gaps[figure.key] = (u, gaps[figure.key])


def _simulated(model: Model, u: Array) -> Found:
    """The design at u with its simulated figures."""
    design, reduced = model.design(u), model.reduced(u)
    if design is None or reduced is None:
        raise AssertionError("a search ended where the parts do not fit")
    tested = tested_values(design, model.figures, model.coupling, model.scale)
    simulated = {key: one.value for key, one in tested.items()}
    doubts = {key: one.doubt for key, one in tested.items() if one.doubt}
    values = dict(zip(model.names, np.exp(u).tolist(), strict=True))
    final = {**reduced, **simulated}
    met = all(isfinite(final[w.figure.key]) and w.met(final[w.figure.key]) for w in model.wanted)
    return Found(design, values, reduced, simulated, model.change(u), met and not doubts, doubts)


def _merit(model: Model, found: Found) -> tuple[bool, float]:
    """Order of found designs: those that meet all first, then the largest miss."""
    return not found.met, max(w.missed(found.figure(w.figure.key)) for w in model.wanted)


def _settled(model: Model, u: Array, found: Found) -> bool:
    """Whether new ratios would change nothing that matters: what was searched for is what the bench gives."""
    drift = [
        abs(log(found.simulated[f.key] / (found.reduced[f.key] * model.ratio(f.key, u))))
        for f in model.figures
        if isfinite(found.simulated.get(f.key, nan))
    ]
    return max(drift, default=0.0) <= AIM * float(np.min(tolerances_of(model)))


def _refuse_out_of_reach(model: Model, u: Array, starts: Sequence[Array]) -> None:
    """Check that each figure missed at u can be had alone, whatever becomes of the others."""
    for k, wanted in enumerate(model.wanted):
        if wanted.added or in_tolerances(model, u)[k] <= FAR:
            continue
        for _ in range(REACHES):
            nearest = _nearest(model, k, [u, *starts])
            found = _simulated(model, nearest)
            value = found.figure(wanted.figure.key)
            if isfinite(value) and wanted.missed(value) <= FAR:
                break
            _take_ratios(model, nearest, found.design, found.reduced, found.simulated)
        else:
            raise OutOfReachError(wanted, value, model.scale)


def _nearest(model: Model, k: int, starts: Sequence[Array]) -> Array:
    """Design that comes nearest to wanted figure k, whatever becomes of the others."""
    weights = np.zeros(len(model.wanted))
    weights[k] = HARD
    nearest = starts[0]
    for start in starts:
        nearest = min(nearest, solve(model, start, weights), key=lambda u: float(in_tolerances(model, u)[k]))
        if in_tolerances(model, nearest)[k] <= AIM:
            break
    return nearest
