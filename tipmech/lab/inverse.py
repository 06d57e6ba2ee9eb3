"""Wanted bench figures -> designs: dimensions within bounds whose simulated figures are the wanted ones. SI units.

The search runs on the reduced figures, each times its ratio simulated/reduced at a design near by; the designs it
chooses are simulated, the ratios taken anew and the search repeated, until the simulated figures meet what is wanted.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf, isfinite, log, log1p, nan
from typing import Literal

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import qmc

from ..checks import FieldError, Said
from ..profile import Array
from ..wire.design import Coupling, Design
from ..wire.dimensions import Dimension
from .evaluate import buildable, reduced_values, simulated_values
from .reduced import Figure

TRIES = 64  # points of a Latin hypercube over the bounds; the best that can be built start a search
STARTS = 4  # searches from them, beside the one from the given design
SLOPE_STEP = 5e-3  # of ln(dimension): figures are near powers, and knots that come and go are 1e-5 of a figure
HARD = 300.0  # weight of ln(figure) beside ln(dimension): a figure is then missed by 1e-5 of the change
WEIGHTS = tuple(float(w) for w in np.geomspace(100.0, 0.1, 16))  # of the front: from meeting the figures to no change
EXCHANGES = 16  # weight vectors of the front between figures that cannot all be met
ROUNDS = 3  # of search, simulation and new ratios
SHOWN = 4  # designs of the front that are simulated and written, beside the one of the least change
AIM = 0.25  # of a wanted figure's tolerance: a target met so closely is not corrected again
SOLVER_TOLERANCE = 1e-8  # of least_squares (cost, step): far below what a drawing or a bench resolves
SOLVER_STEPS = 60  # of one search: a smooth one takes 5 to 20; one that creeps along an edge is cut, others go on
FAR = 1.5  # a search that ends with a residual of more tolerances than that cannot meet its figure

Kind = Literal["target", "at_least", "at_most"]


@dataclass(frozen=True)
class Wanted:
    """A wanted figure: `value` (SI) within the relative `tolerance`, or on one side of it.

    A side is aimed at half a tolerance beyond `value`, so that the simulated figure lies on it.
    """

    figure: Figure
    kind: Kind
    value: float
    tolerance: float

    def miss(self, value: float) -> float:
        """Signed logarithm of a figure over the wanted one, 0 on the allowed side; nan stays nan."""
        if self.kind == "target":
            return log(value / self.value)
        margin = log1p(self.tolerance) / 2.0
        if self.kind == "at_least":
            return min(log(value / self.value) - margin, 0.0)
        return max(log(value / self.value) + margin, 0.0)

    def met(self, value: float) -> bool:
        """Whether a figure is as wanted."""
        if self.kind == "target":
            return abs(log(value / self.value)) <= log1p(self.tolerance)
        return value >= self.value if self.kind == "at_least" else value <= self.value

    def missed(self, value: float) -> float:
        """Size of a miss in tolerances; inf for nan, where the bench found no equilibrium."""
        return abs(self.miss(value)) / log1p(self.tolerance) if isfinite(value) else inf

    def words(self) -> str:
        """The wish in users' units."""
        sign = {"target": "", "at_least": "at least ", "at_most": "at most "}[self.kind]
        return f"{sign}{self.value / self.figure.factor:.4g}"


@dataclass(frozen=True)
class Bounds:
    """A dimension and the values it may take, m."""

    dimension: Dimension
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0.0 < self.low < self.high:
            raise FieldError(f"bounds of {self.dimension.name}", [self.low, self.high], "0 < low < high")


@dataclass(frozen=True)
class Found:
    """One found design.

    design : Design
    values : dict, dimension's name -> m
    reduced : dict, figure's key -> reduced value, SI
    simulated : dict, figure's key -> simulated value, SI; without those that have no simulated test
    change : root mean square of ln(dimension/given one), -
    met : whether every wanted figure is as wanted, by the simulated value where there is one
    """

    design: Design
    values: dict[str, float]
    reduced: dict[str, float]
    simulated: dict[str, float]
    change: float
    met: bool

    def figure(self, key: str) -> float:
        """Simulated value of a figure, the reduced one where there is no simulated test."""
        return self.simulated.get(key, self.reduced[key])


@dataclass(frozen=True)
class Inverse:
    """Result of an inverse design.

    wanted : tuple of Wanted, K
    bounds : tuple of Bounds, D
    found : tuple of Found; the first meets the figures as closely as can be, with the least change that does so; the
        others lie on the front
    figures : ndarray, shape (n, K), reduced figures times `ratios` along the front, SI
    misses : ndarray, shape (n, K), their |ln(figure/wanted)| over ln(1 + tolerance)
    changes : ndarray, shape (n,), root mean square of ln(dimension/given one) along the front
    values : ndarray, shape (n, D), dimensions along the front, m
    shown : tuple of int, points of the front that are `found`, in their order
    ratios : dict, figure's key -> simulated/reduced used by the last search
    rounds : searches made
    evaluations : reduced models evaluated
    """

    wanted: tuple[Wanted, ...]
    bounds: tuple[Bounds, ...]
    found: tuple[Found, ...]
    figures: Array
    misses: Array
    changes: Array
    values: Array
    shown: tuple[int, ...]
    ratios: dict[str, float]
    rounds: int
    evaluations: int


class OutOfReachError(FieldError):
    """A wanted figure that no design within the bounds has; `nearest` (SI) is the closest one found, simulated."""

    def __init__(self, wanted: Wanted, nearest: float) -> None:
        self.wanted, self.nearest = wanted, nearest
        shown = nearest / wanted.figure.factor
        allowed = f"what the bounds of [[vary]] reach; the nearest reachable value is {shown:.4g}"
        super().__init__(f"wanted {wanted.figure.name}", Said(wanted.words()), allowed)


class _Model:
    """Reduced figures over the logarithms of the dimensions, with ratios, counted."""

    def __init__(self, base: Design, wanted: Sequence[Wanted], bounds: Sequence[Bounds], coupling: Coupling | None):
        self.base, self.wanted, self.coupling = base, tuple(wanted), coupling
        self.names = [b.dimension.name for b in bounds]
        self.given = np.log([b.dimension.value for b in bounds])
        self.low, self.high = np.log([b.low for b in bounds]), np.log([b.high for b in bounds])
        self.figures = tuple({w.figure.key: w.figure for w in wanted}.values())
        self.ratios = {figure.key: 1.0 for figure in self.figures}
        self.evaluations = 0
        self.known: dict[bytes, dict[str, float] | None] = {}

    def design(self, u: Array) -> Design | None:
        """Design at logarithms u (D,)."""
        return buildable(self.base, dict(zip(self.names, np.exp(u).tolist(), strict=True)))

    def reduced(self, u: Array) -> dict[str, float] | None:
        """Reduced figures at u; None where the parts do not fit."""
        key = u.tobytes()
        if key not in self.known:
            design = self.design(u)
            self.evaluations += 1
            self.known[key] = None if design is None else reduced_values(design, self.figures, self.coupling)
        return self.known[key]

    def misses(self, u: Array) -> Array:
        """Signed misses of the wanted figures (K,), in logarithms; inf where the parts do not fit."""
        values = self.reduced(u)
        if values is None:
            return np.full(len(self.wanted), np.inf)
        return np.array([w.miss(values[w.figure.key] * self.ratios[w.figure.key]) for w in self.wanted])

    def figures_at(self, u: Array) -> list[float]:
        """Reduced figures times their ratios at u, one per wanted figure; nan where the parts do not fit."""
        values = self.reduced(u) or {}
        return [values.get(w.figure.key, nan) * self.ratios[w.figure.key] for w in self.wanted]

    def slopes(self, u: Array) -> Array:
        """Derivatives of the misses (K, D): forward differences, backward at the edge of what fits.

        A dimension that can be moved neither way gets 0 and stays.
        """
        out = np.zeros((len(self.wanted), len(u)))
        here = self.misses(u)
        for j in range(len(u)):
            for step in (SLOPE_STEP, -SLOPE_STEP):
                aside = u.copy()
                aside[j] += step
                there = self.misses(aside)
                if np.all(np.isfinite(there)):
                    out[:, j] = (there - here) / step
                    break
        return out

    def change(self, u: Array) -> float:
        """Root mean square change from the given design."""
        return float(np.sqrt(np.mean((u - self.given) ** 2)))


def inverse(
    design: Design,
    wanted: Sequence[Wanted],
    bounds: Sequence[Bounds],
    *,
    coupling: Coupling | None = None,
    seed: int = 1,
    report: Callable[[float, float], None] = lambda done, total: None,
) -> Inverse:
    """Designs within bounds that have the wanted figures, least changed first, and the front of what must be given up.

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
    seed : int
        of the starts

    Raises
    ------
    OutOfReachError
        when one of the figures alone cannot be had within the bounds, with the nearest value
    FieldError
        when no start within the bounds can be built
    """
    model = _Model(design, wanted, bounds, coupling)
    starts = _starts(model, seed)
    _take_ratios(model, design)
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
        if _settled(model, found):
            break
        _take_ratios(model, found.design)
    assert best is not None
    report(ROUNDS, ROUNDS + 1)
    points = _front(model, best[0], starts)
    misses = np.array([_in_tolerances(model, u) for u in points])
    changes = np.array([model.change(u) for u in points])
    shown = _spread(points, misses, changes)
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


def _starts(model: _Model, seed: int) -> list[Array]:
    """The given design moved into the bounds, and the best points of a Latin hypercube that can be built."""
    first = np.clip(model.given, model.low, model.high)
    cube = qmc.LatinHypercube(len(model.names), rng=np.random.default_rng(seed)).random(TRIES)
    points = [u for u in model.low + cube * (model.high - model.low) if model.reduced(u) is not None]
    points.sort(key=lambda u: float(np.sum(model.misses(u) ** 2)))
    starts = ([first] if model.reduced(first) is not None else []) + points[:STARTS]
    if not starts:
        raise FieldError(
            "bounds of [[vary]]", Said(f"none of {TRIES} designs drawn from them fits together"), "parts that fit"
        )
    return starts


def _solve(model: _Model, start: Array, weights: Array) -> Array:
    """Minimum of |weights * misses|^2 + change^2 within the bounds from one start."""
    scale = 1.0 / np.sqrt(len(start))

    def residuals(u: Array) -> Array:
        return np.concatenate([weights * model.misses(u), (u - model.given) * scale])

    def slopes(u: Array) -> Array:
        return np.concatenate([weights[:, None] * model.slopes(u), np.eye(len(u)) * scale])

    room = 1e-9 * (model.high - model.low)  # least_squares wants a start strictly inside
    inside = np.clip(start, model.low + room, model.high - room)
    if not np.all(np.isfinite(residuals(inside))):
        return start
    found = least_squares(
        residuals,
        inside,
        slopes,
        bounds=(model.low, model.high),
        ftol=SOLVER_TOLERANCE,
        xtol=SOLVER_TOLERANCE,
        gtol=SOLVER_TOLERANCE,
        max_nfev=SOLVER_STEPS,
    )
    return np.asarray(found.x)


def _cost(model: _Model, u: Array, weights: Array) -> float:
    """What `_solve` minimises."""
    return float(np.sum((weights * model.misses(u)) ** 2) + model.change(u) ** 2)


def _least_change(model: _Model, starts: Sequence[Array]) -> Array:
    """Design that meets the wanted figures as closely as can be and changes least, from several starts."""
    weights = HARD / _tolerances(model) * float(np.min(_tolerances(model)))
    ends = [_solve(model, start, weights) for start in starts]
    return min(ends, key=lambda u: _cost(model, u, weights))


def _tolerances(model: _Model) -> Array:
    """Logarithmic tolerances of the wanted figures (K,)."""
    return np.log1p([w.tolerance for w in model.wanted])


def _in_tolerances(model: _Model, u: Array) -> Array:
    """Misses over tolerances (K,), positive."""
    return np.asarray(np.abs(model.misses(u)) / _tolerances(model))


def _take_ratios(model: _Model, design: Design) -> None:
    """Set the ratios simulated/reduced at a design; a figure that was not solved keeps its last one."""
    simulated = simulated_values(design, model.figures, model.coupling)
    reduced = reduced_values(design, model.figures, model.coupling)
    for key, value in simulated.items():
        if isfinite(value):
            model.ratios[key] = value / reduced[key]


def _simulated(model: _Model, u: Array) -> Found:
    """The design at u with its simulated figures."""
    design, reduced = model.design(u), model.reduced(u)
    if design is None or reduced is None:
        raise AssertionError("a search ended where the parts do not fit")
    simulated = simulated_values(design, model.figures, model.coupling)
    values = dict(zip(model.names, np.exp(u).tolist(), strict=True))
    final = {**reduced, **simulated}
    met = all(isfinite(final[w.figure.key]) and w.met(final[w.figure.key]) for w in model.wanted)
    return Found(design, values, reduced, simulated, model.change(u), met)


def _merit(model: _Model, found: Found) -> tuple[bool, float]:
    """Order of found designs: those that meet all first, then the largest miss."""
    return not found.met, max(w.missed(found.figure(w.figure.key)) for w in model.wanted)


def _settled(model: _Model, found: Found) -> bool:
    """Whether new ratios would change nothing that matters: what was searched for is what the bench gives."""
    drift = [
        abs(log(found.simulated[f.key] / (found.reduced[f.key] * model.ratios[f.key])))
        for f in model.figures
        if isfinite(found.simulated.get(f.key, nan))
    ]
    return max(drift, default=0.0) <= AIM * float(np.min(_tolerances(model)))


def _refuse_out_of_reach(model: _Model, u: Array, starts: Sequence[Array]) -> None:
    """Check that each figure missed at u can be had alone, whatever becomes of the others."""
    for k, wanted in enumerate(model.wanted):
        if _in_tolerances(model, u)[k] <= FAR:
            continue
        weights = np.zeros(len(model.wanted))
        weights[k] = HARD
        alone = u
        for start in [u, *starts]:
            end = _solve(model, start, weights)
            alone = min(alone, end, key=lambda v: float(_in_tolerances(model, v)[k]))
            if _in_tolerances(model, alone)[k] <= FAR:
                break
        if _in_tolerances(model, alone)[k] <= FAR:
            continue
        found = _simulated(model, alone)
        value = found.figure(wanted.figure.key)
        if not (isfinite(value) and wanted.met(value)):
            raise OutOfReachError(wanted, value)


def _front(model: _Model, best: Array, starts: Sequence[Array]) -> list[Array]:
    """Designs that no other one found beats in every figure's miss and in change; `best` comes first."""
    tolerances = _tolerances(model)
    points, last = [best], best
    for weight in WEIGHTS:
        last = _solve(model, last, weight / tolerances * float(np.min(tolerances)))
        points.append(last)
    if float(np.max(_in_tolerances(model, best))) > 1.0 and len(model.wanted) > 1:
        shares = np.random.default_rng(len(starts)).dirichlet(np.ones(len(model.wanted)), EXCHANGES)
        points += [_solve(model, best, HARD * share / tolerances * float(np.min(tolerances))) for share in shares]
    table = np.array([[*np.maximum(_in_tolerances(model, u), AIM), model.change(u)] for u in points])
    keep = [0]
    for i in range(1, len(points)):
        others = np.delete(table, i, axis=0)
        beaten = np.all(others <= table[i] + 1e-9, axis=1) & np.any(others < table[i] - 1e-6, axis=1)
        if not np.any(beaten) and not np.any(np.all(np.abs(table[keep] - table[i]) < 1e-3, axis=1)):
            keep.append(i)
    return [points[i] for i in keep]


def _spread(points: Sequence[Array], misses: Array, changes: Array) -> tuple[int, ...]:
    """Points to show: the first, then those farthest from the ones taken, in the plane of miss and change."""
    plane = np.column_stack([np.log(np.maximum(misses.max(axis=1), AIM)), changes])
    plane = plane / np.maximum(np.ptp(plane, axis=0), 1e-12)
    taken = [0]
    while len(taken) < min(1 + SHOWN, len(points)):
        gaps = np.min(np.linalg.norm(plane[:, None] - plane[None, taken], axis=2), axis=1)
        taken.append(int(np.argmax(gaps)))
    return tuple([0, *sorted(taken[1:], key=lambda k: float(changes[k]), reverse=True)])
