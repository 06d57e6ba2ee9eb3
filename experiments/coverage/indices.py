"""Do the 95 % intervals of Sobol' indices cover? Made-up outcomes of 8 inputs with known indices.

    python -m experiments.coverage.indices --out results/indices [--count 200]

Outcomes: events of probability 0.23, 0.13, 0.06 and 0.02 (boxes and thresholds on sums of normals), a smooth quantity
(Ishigami's function) and one with a long tail, like the opened area (an event times a lognormal factor). True indices
are from 2 x 400,000 independent points. Printed and written to OUT/summary.txt: for each outcome and number of base
points the share of intervals that hold the truth, least over the inputs that act (total index above 0.01) and mean over
them, and mean half-widths.
"""

import argparse
from collections.abc import Callable, Sequence
from math import pi
from pathlib import Path

import numpy as np
from scipy import stats

from tipmech.study.designs import sobol_design
from tipmech.study.indices import sobol_indices
from tipmech.study.intervals import Array

INPUTS, TRUTH = 8, 400_000
BASE_POINTS = (64, 128, 256)
ACTS = 0.01  # total index above which an input counts
ROUNDING = 2e-3  # of the true indices
Outcome = Callable[[Array], Array]


def _normal(u: Array) -> Array:
    return np.asarray(stats.norm.ppf(np.clip(u, 1e-9, 1.0 - 1e-9)))


def often(u: Array) -> Array:
    """Event of probability 0.23: a box and a sum."""
    g = _normal(u)
    return ((u[:, 0] < 0.6) & (u[:, 1] > 0.35) & (g[:, 2] + 0.7 * g[:, 3] + 0.3 * g[:, 4] > -0.3)).astype(float)


def smooth_tail(u: Array) -> Array:
    """Event of probability 0.13: a sum above a threshold."""
    g = _normal(u)
    return (g[:, 0] + 0.5 * g[:, 1] + 0.3 * g[:, 2] > 1.3).astype(float)


def rare(u: Array) -> Array:
    """Event of probability 0.06: a box."""
    return ((u[:, 0] < 0.3) & (u[:, 1] > 0.6) & (u[:, 2] < 0.5)).astype(float)


def rarest(u: Array) -> Array:
    """Event of probability 0.024: a box."""
    return ((u[:, 0] < 0.2) & (u[:, 1] > 0.7) & (u[:, 2] < 0.4)).astype(float)


def smooth(u: Array) -> Array:
    """Ishigami's function."""
    x = 2.0 * pi * (u[:, :3] - 0.5)
    return np.asarray(np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0]))


def long_tail(u: Array) -> Array:
    """The first event times a lognormal factor."""
    g = _normal(u)
    return np.asarray(often(u) * np.exp(0.9 * g[:, 5] + 0.3 * g[:, 6]))


OUTCOMES: dict[str, tuple[Outcome, bool]] = {
    "event, probability 0.23": (often, True),
    "event, probability 0.13": (smooth_tail, True),
    "event, probability 0.06": (rare, True),
    "event, probability 0.024": (rarest, True),
    "smooth quantity": (smooth, False),
    "quantity with a long tail": (long_tail, False),
}


def truth(outcome: Outcome, points: int = TRUTH) -> tuple[Array, Array]:
    """First-order and total indices from independent points, shape (inputs,)."""
    rng = np.random.default_rng(4)
    a, b = rng.random((points, INPUTS)), rng.random((points, INPUTS))
    at_a, at_b = outcome(a), outcome(b)
    variance, mean = np.var(np.r_[at_a, at_b]), np.mean(at_a)
    first, total = np.empty(INPUTS), np.empty(INPUTS)
    for k in range(INPUTS):
        mixed = a.copy()
        mixed[:, k] = b[:, k]
        y = outcome(mixed)
        first[k], total[k] = np.mean((at_b - mean) * (y - at_a)) / variance, 0.5 * np.mean((at_a - y) ** 2) / variance
    return first, total


def coverage(outcome: Outcome, event: bool, base_points: int, count: int, known: tuple[Array, Array]) -> list[Array]:
    """Shares of intervals that hold the truth (first-order, total), then mean half-widths, each shape (inputs,)."""
    held: list[list[Array]] = [[], [], [], []]
    for seed in range(count):
        y = outcome(sobol_design(INPUTS, base_points, seed))
        found = sobol_indices(INPUTS, y, np.ones(len(y), dtype=bool), (0.0, 1.0), event)
        for k, (one, exact) in enumerate(zip((found.first, found.total), known, strict=True)):
            if np.all(np.isfinite(one.value)):
                held[k].append((one.low - ROUNDING <= exact) & (exact <= one.high + ROUNDING))
                held[2 + k].append(0.5 * (one.high - one.low))
    return [np.mean(h, axis=0) for h in held]


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=200)
    asked = parser.parse_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    lines = [f"{asked.count} made-up studies each; 95 % intervals of indices (least and mean over the inputs that act)"]
    for name, (outcome, event) in OUTCOMES.items():
        known = truth(outcome)
        acts = known[1] > ACTS
        for base_points in BASE_POINTS:
            first, total, first_half, total_half = coverage(outcome, event, base_points, asked.count, known)
            lines.append(
                f"{name}, {base_points:3d} base points: first order {first[acts].min():.0%}, {first[acts].mean():.0%} "
                f"(half-width {first_half[acts].mean():.2f}); total {total[acts].min():.0%}, {total[acts].mean():.0%} "
                f"({total_half[acts].mean():.2f})"
            )
            (asked.out / "summary.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
            print(lines[-1], flush=True)


if __name__ == "__main__":
    main()
