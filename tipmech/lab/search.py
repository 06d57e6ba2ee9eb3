"""Search of an inverse design: least squares of misses and change on reduced figures, and its front. SI units.

Everything runs over u, the logarithms of the dimensions, shape (D,).
"""

from collections.abc import Sequence
from math import nan

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import qmc

from ..checks import FieldError, Said
from ..profile import Array
from ..wire.design import Coupling, Design
from .evaluate import buildable, reduced_values
from .wanted import Bounds, Wanted

TRIES = 64  # points of a Latin hypercube over the bounds; the best that can be built start a search
STARTS = 4  # searches from them, beside the one from the given design
SLOPE_STEP = 5e-3  # of ln(dimension): figures are near powers, and knots that come and go are 1e-5 of a figure
HARD = 300.0  # weight of ln(figure) beside ln(dimension): a figure is then missed by 1e-5 of the change
WEIGHTS = tuple(float(w) for w in np.geomspace(100.0, 0.1, 16))  # of the front: from meeting the figures to no change
EXCHANGES = 16  # weight vectors of the front between figures that cannot all be met
SHOWN = 4  # designs of the front that are simulated and written, beside the one of the least change
AIM = 0.25  # of a wanted figure's tolerance: a target met so closely is not corrected again
SOLVER_TOLERANCE = 1e-8  # of least_squares (cost, step): far below what a drawing or a bench resolves
SOLVER_STEPS = 60  # of one search: a smooth one takes 5 to 20; one that creeps along an edge is cut, others go on


class Model:
    """Reduced figures over the logarithms of the dimensions, with ratios, counted.

    ratios : simulated over reduced at the design where it was last taken, by key
    gaps : that place (D,) and how the ratio's logarithm grows from there (D,), of figures whose reduced form is rough
    """

    def __init__(
        self,
        base: Design,
        wanted: Sequence[Wanted],
        bounds: Sequence[Bounds],
        coupling: Coupling | None,
        scale: float = 1.0,
    ):
        self.base, self.wanted, self.coupling, self.scale = base, tuple(wanted), coupling, scale
        self.names = [b.dimension.name for b in bounds]
        self.given = np.log([b.dimension.value for b in bounds])
        self.low, self.high = np.log([b.low for b in bounds]), np.log([b.high for b in bounds])
        self.figures = tuple({w.figure.key: w.figure for w in wanted}.values())
        self.ratios = {figure.key: 1.0 for figure in self.figures}
        self.dimensions = [b.dimension for b in bounds]
        self.gaps: dict[str, tuple[Array, Array]] = {}
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
            self.known[key] = (
                None if design is None else reduced_values(design, self.figures, self.coupling, self.scale)
            )
        return self.known[key]

    def ratio(self, key: str, u: Array) -> float:
        """Simulated over reduced figure at u, as known."""
        if key not in self.gaps:
            return self.ratios[key]
        place, gap = self.gaps[key]
        return float(self.ratios[key] * np.exp(gap @ (u - place)))

    def misses(self, u: Array) -> Array:
        """Signed misses of the wanted figures (K,), in logarithms; inf where the parts do not fit."""
        values = self.reduced(u)
        if values is None:
            return np.full(len(self.wanted), np.inf)
        return np.array([w.miss(values[w.figure.key] * self.ratio(w.figure.key, u)) for w in self.wanted])

    def figures_at(self, u: Array) -> list[float]:
        """Reduced figures times their ratios at u, one per wanted figure; nan where the parts do not fit."""
        values = self.reduced(u) or {}
        return [values.get(w.figure.key, nan) * self.ratio(w.figure.key, u) for w in self.wanted]

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


def starts_of(model: Model, seed: int) -> list[Array]:
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


def solve(model: Model, start: Array, weights: Array) -> Array:
    """Minimum of |weights * misses|^2 + change^2 within the bounds from one start."""
    scale = 1.0 / np.sqrt(len(start))

    def residuals(u: Array) -> Array:
        misses = model.misses(u)
        if not np.all(np.isfinite(misses)):  # the step is refused, whatever weighs nothing
            return np.full(len(misses) + len(u), np.inf)
        return np.concatenate([weights * misses, (u - model.given) * scale])

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


def cost_of(model: Model, u: Array, weights: Array) -> float:
    """What `solve` minimises."""
    return float(np.sum((weights * model.misses(u)) ** 2) + model.change(u) ** 2)


def tolerances_of(model: Model) -> Array:
    """Logarithmic tolerances of the wanted figures (K,)."""
    return np.log1p([w.tolerance for w in model.wanted])


def in_tolerances(model: Model, u: Array) -> Array:
    """Misses over tolerances (K,), positive."""
    return np.asarray(np.abs(model.misses(u)) / tolerances_of(model))


def front_of(model: Model, best: Array, seed: int) -> list[Array]:
    """Designs that no other one found beats in every figure's miss and in change; `best` comes first."""
    tolerances = tolerances_of(model)
    points, last = [best], best
    for weight in WEIGHTS:
        last = solve(model, last, weight / tolerances * float(np.min(tolerances)))
        points.append(last)
    if float(np.max(in_tolerances(model, best))) > 1.0 and len(model.wanted) > 1:
        shares = np.random.default_rng(seed).dirichlet(np.ones(len(model.wanted)), EXCHANGES)
        points += [solve(model, best, HARD * share / tolerances * float(np.min(tolerances))) for share in shares]
    table = np.array([[*np.maximum(in_tolerances(model, u), AIM), model.change(u)] for u in points])
    keep = [0]
    for i in range(1, len(points)):
        others = np.delete(table, i, axis=0)
        beaten = np.all(others <= table[i] + 1e-9, axis=1) & np.any(others < table[i] - 1e-6, axis=1)
        if not np.any(beaten) and not np.any(np.all(np.abs(table[keep] - table[i]) < 1e-3, axis=1)):
            keep.append(i)
    return [points[i] for i in keep]


def spread_of(points: Sequence[Array], misses: Array, changes: Array) -> tuple[int, ...]:
    """Points to show: the first, the least changed one within tolerance, then those farthest from the ones taken.

    Distances in the plane of largest miss and change.
    """
    plane = np.column_stack([np.log(np.maximum(misses.max(axis=1), AIM)), changes])
    plane = plane / np.maximum(np.ptp(plane, axis=0), 1e-12)
    within = np.flatnonzero(misses.max(axis=1) <= 1.0)
    taken = [0]
    if len(within) and changes[cheapest := int(within[np.argmin(changes[within])])] < changes[0]:
        taken.append(cheapest)
    while len(taken) < min(1 + SHOWN, len(points)):
        gaps = np.min(np.linalg.norm(plane[:, None] - plane[None, taken], axis=2), axis=1)
        taken.append(int(np.argmax(gaps)))
    return tuple([0, *sorted(taken[1:], key=lambda k: float(changes[k]), reverse=True)])
