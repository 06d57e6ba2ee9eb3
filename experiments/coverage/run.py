"""Do 95 % intervals cover the truth in 95 % of studies, and how wide are they? Synthetic studies with known truth.

    python -m experiments.coverage.run --out results/coverage [--count 600]

A synthetic study has a known probability: an event of 17 Sobol' unknowns that is smooth (a threshold on a weighted sum
of normals), a box (a product of a few thresholds) or noise (a hash: no gain from Sobol' points), in turn. The ideal
width is 2 x 1.96 times the estimator's true standard error, from `TRUTHS` further sets of scrambles. Printed and
written to OUT/summary.txt: share of intervals that cover the truth, and mean width over mean ideal width. Second part:
paired differences (Student's t over scrambles) in the same way. Third: insertions that adaptive allocation takes for a
wanted half-width in every cell of a map, against an even grid in which every cell has what the worst needs.
"""

import argparse
from collections.abc import Callable, Sequence
from math import sqrt
from pathlib import Path

import numpy as np
from scipy import stats
from scipy.stats import qmc

from tipmech.study.intervals import Array, mean_difference, probability
from tipmech.study.strata import Layout

DIMENSION, SCRAMBLES = 17, 16
POINTS = (2, 4, 8, 32)
TRUTHS = 32  # means of scrambles from which the estimator's true standard error comes, for each study
WANTED = 0.05  # half-width, for the allocation
Event = Callable[[Array], "np.typing.NDArray[np.bool_]"]


def study(number: int, rng: np.random.Generator) -> tuple[float, Event]:
    """Truth and event of one synthetic study; the kinds take turns."""
    kind = number % 3
    if kind == 0:
        weights = rng.normal(size=DIMENSION) * np.array([1.0, 0.8, 0.6, 0.4, 0.3] + [0.15] * (DIMENSION - 5))
        p = float(rng.uniform(0.03, 0.97))
        threshold = stats.norm.ppf(p) * np.linalg.norm(weights)
        return p, lambda u: stats.norm.ppf(u) @ weights < threshold
    if kind == 1:
        edges = rng.uniform(0.4, 0.95, size=int(rng.integers(1, 4)))
        return float(np.prod(edges)), lambda u: np.all(u[:, : len(edges)] < edges, axis=1)
    p = float(rng.uniform(0.03, 0.97))
    return p, lambda u: np.modf(1e4 * u[:, 0] * u[:, 3] + 977.0 * u[:, 1])[0] < p


def points(seed: Sequence[int], count: int) -> Array:
    """Points of one scramble."""
    u = qmc.Sobol(DIMENSION, rng=np.random.default_rng(list(seed))).random(count)
    return np.clip(u, 1e-9, 1.0 - 1e-9)


def coverage(count: int, each: int, truths: int = TRUTHS) -> tuple[float, float]:
    """Share of intervals that cover, and mean width over mean ideal width."""
    rng, covered, widths, ideal = np.random.default_rng(5), 0, [], []
    scramble = np.repeat(np.arange(SCRAMBLES), each)
    solved = np.ones(SCRAMBLES * each, dtype=bool)
    for number in range(count):
        p, event = study(number, rng)
        shown = np.concatenate([event(points((number, k), each)) for k in range(SCRAMBLES)])
        found = probability(shown, solved, scramble)
        covered += found.low <= p <= found.high
        widths.append(found.high - found.low)
        means = [float(np.mean(event(points((number, k, 7), each)))) for k in range(truths)]
        ideal.append(2.0 * 1.96 * sqrt(float(np.mean((np.array(means) - p) ** 2)) / SCRAMBLES))
    return covered / count, float(np.mean(widths) / np.mean(ideal))


def paired(count: int, each: int, truths: int = TRUTHS) -> tuple[float, float]:
    """The same for the difference of two events on common points: thresholds on one smooth sum."""
    rng, covered, widths, ideal = np.random.default_rng(6), 0, [], []
    scramble = np.repeat(np.arange(SCRAMBLES), each)
    use = np.ones(SCRAMBLES * each, dtype=bool)
    for number in range(count):
        weights = rng.normal(size=DIMENSION)
        a, b = (float(v) for v in np.sort(rng.uniform(0.05, 0.95, 2)))
        low, high = (stats.norm.ppf(v) * np.linalg.norm(weights) for v in (a, b))

        def difference(u: Array, weights: Array = weights, low: float = low, high: float = high) -> Array:
            s = stats.norm.ppf(u) @ weights
            return (s < high).astype(float) - (s < low).astype(float)

        shown = np.concatenate([difference(points((number, k, 1), each)) for k in range(SCRAMBLES)])
        found = mean_difference(shown, use, Layout.of(scramble), event=True)
        covered += found.low <= b - a <= found.high
        widths.append(found.high - found.low)
        means = [float(np.mean(difference(points((number, k, 8), each)))) for k in range(truths)]
        ideal.append(2.0 * 1.96 * sqrt(float(np.mean((np.array(means) - (b - a)) ** 2)) / SCRAMBLES))
    return covered / count, float(np.mean(widths) / np.mean(ideal))


def allocation(cells: int = 40, each: int = 2) -> tuple[int, int]:
    """Insertions that adaptive allocation takes for a map of `cells` cells, and those of an even grid.

    Cells have the probabilities of a map of this tool: most near 0 (soft tips, flat angles), a few in between.
    """
    rng = np.random.default_rng(9)
    truths = np.clip(rng.beta(0.25, 2.0, size=cells), 0.001, 0.7)
    taken = []
    for c, p in enumerate(truths):
        made = SCRAMBLES
        while True:
            shown = np.concatenate([_noise(points((c, k, 3), each), p) for k in range(made)])
            scramble = np.repeat(np.arange(made), each)
            found = probability(shown, np.ones(len(shown), dtype=bool), scramble)
            if found.half_width <= WANTED:
                break
            made = int(np.ceil(made * min(2.0, max((found.half_width / WANTED) ** 2, 1.0 + 1.0 / made))))
        taken.append(made * each)
    return sum(taken), cells * max(taken)


def _noise(u: Array, p: float) -> "np.typing.NDArray[np.bool_]":
    return np.modf(1e4 * u[:, 0] * u[:, 3] + 977.0 * u[:, 1])[0] < p


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=600)
    asked = parser.parse_args(arguments)
    lines = [f"{asked.count} synthetic studies of {SCRAMBLES} scrambles each; 95 % intervals (wanted: cover >= 93 %,"]
    lines[0] += " mean width <= 1.2 of the ideal one)"
    for each in POINTS:
        share, width = coverage(asked.count, each)
        lines.append(f"probability, {each:2d} points a scramble: cover {share:.1%}, width {width:.2f} of the ideal")
    for each in POINTS[:3]:
        share, width = paired(asked.count, each)
        lines.append(
            f"paired difference, {each:2d} points a scramble: cover {share:.1%}, width {width:.2f} of the ideal"
        )
    adaptive, even = allocation()
    lines.append(
        f"half-width {WANTED:g} in each of 40 cells: {adaptive} insertions by adaptive allocation, {even} by an even "
        f"grid ({adaptive / even:.2f}; wanted <= 0.33)"
    )
    asked.out.mkdir(parents=True, exist_ok=True)
    (asked.out / "summary.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
