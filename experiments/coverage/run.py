"""Do 95 % intervals cover the truth in 95 % of studies, and how wide are they? Synthetic studies with known truth.

    python -m experiments.coverage.run --out results/coverage [--count 600]

A synthetic study has a known probability: an event of 17 Sobol' unknowns that is smooth (a threshold on a weighted sum
of normals), a box (a product of a few thresholds) or noise (a hash: no gain from Sobol' points), in turn. The ideal
width is 2 x 1.96 times the estimator's true standard error, from `TRUTHS` further sets of scrambles. Printed and
written to OUT/summary.txt: share of intervals that cover the truth, and mean width over mean ideal width.

Then in the same way paired differences, every fourth of them small (0.02 to 0.12), also alone, and their ratios;
pooled differences over strata with unequal scrambles, and over draws of shared unknowns; insertions that adaptive
allocation (`run_compare.scrambles_wanted`) takes for a wanted half-width in every cell of a map, against an even grid
in which every cell has what the worst needs; and coverage once such rounds have ended.
"""

import argparse
from collections.abc import Callable, Sequence
from math import sqrt
from pathlib import Path

import numpy as np
from scipy import stats
from scipy.stats import qmc

from tipmech.study.intervals import Array, mean_difference, probability, ratio
from tipmech.study.run_compare import scrambles_wanted
from tipmech.study.strata import Layout

DIMENSION, SCRAMBLES = 17, 16
POINTS = (2, 4, 8, 32)
TRUTHS = 10  # means of scrambles from which the estimator's true standard error comes, for each study
WANTED, MOST = 0.05, 512  # half-width, and scrambles at most, for the allocation
SMALL = (0.02, 0.12)  # small differences
SINGLE = (0.02, 0.03, 0.05, 0.08, 0.12)  # of them those looked at one by one
STOPPED_AT = (0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5)  # chances at which rounds are let end
PAIRS = ((0.02, 0.30), (0.60, 0.40))  # chances of design and reference at two angles
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


def paired(count: int, each: int, truths: int = TRUTHS, small: bool | None = None) -> tuple[float, float]:
    """The same for the difference of two events on common points: thresholds on one smooth sum.

    small : every difference is of `SMALL`, or none; left out: every fourth is
    """
    rng, covered, widths, ideal = np.random.default_rng(6), 0, [], []
    layout, use = Layout.of(np.repeat(np.arange(SCRAMBLES), each)), np.ones(SCRAMBLES * each, dtype=bool)
    for number in range(count):
        weights = rng.normal(size=DIMENSION)
        a, b = (float(v) for v in np.sort(rng.uniform(0.05, 0.95, 2)))
        if number % 4 == 0 if small is None else small:
            a = float(rng.uniform(0.03, 0.85))
            b = a + float(rng.uniform(*SMALL))
        low, high = (stats.norm.ppf(v) * np.linalg.norm(weights) for v in (a, b))

        def difference(u: Array, weights: Array = weights, low: float = low, high: float = high) -> Array:
            s = stats.norm.ppf(u) @ weights
            return (s < high).astype(float) - (s < low).astype(float)

        shown = np.concatenate([difference(points((number, k, 1), each)) for k in range(SCRAMBLES)])
        found = mean_difference(shown, use, layout, event=True)
        covered += found.low <= b - a <= found.high
        widths.append(found.high - found.low)
        means = [float(np.mean(difference(points((number, k, 8), each)))) for k in range(truths)]
        ideal.append(2.0 * 1.96 * sqrt(float(np.mean((np.array(means) - (b - a)) ** 2)) / SCRAMBLES))
    return covered / count, float(np.mean(widths) / np.mean(ideal))


def small_differences(count: int, each: int, difference: float) -> float:
    """Share of intervals that cover one small difference of nested events at independent points."""
    rng, layout = np.random.default_rng(7), Layout.of(np.repeat(np.arange(SCRAMBLES), each))
    use, covered = np.ones(SCRAMBLES * each, dtype=bool), 0
    for _ in range(count):
        u = rng.random(len(use))
        found = mean_difference(-1.0 * ((u > 0.4 - difference) & (u < 0.4)), use, layout, event=True)
        covered += found.low <= -difference <= found.high
    return covered / count


def ratios(count: int, each: int, of: float) -> float:
    """Share of intervals that cover the ratio 1/2 of nested events at independent points; of: the larger's chance."""
    rng, layout = np.random.default_rng(8), Layout.of(np.repeat(np.arange(SCRAMBLES), each))
    use, covered, told = np.ones(SCRAMBLES * each, dtype=bool), 0, 0
    for _ in range(count):
        u = rng.random(len(use))
        found = ratio((u < 0.5 * of) * 1.0, (u < of) * 1.0, use, layout, event=True)
        covered += found.low <= 0.5 <= found.high
        told += np.isfinite(found.low)
    return covered / told


def strata_of(scrambles: Sequence[int], each: int, replicates: bool = False) -> Layout:
    """Strata with so many scrambles each, the first ones in common; or each a draw of the shared unknowns."""
    stratum = np.repeat(np.arange(len(scrambles)), [n * each for n in scrambles])
    point = np.concatenate([np.arange(n * each) for n in scrambles])
    return Layout(stratum, point // each, point, stratum if replicates else np.full(len(stratum), -1))


def shared(count: int, draws: int, each: int = 4) -> float:
    """Share of pooled intervals that cover the mean over a shared unknown that moves the difference by 0.1 (sd)."""
    rng, covered, layout = np.random.default_rng(10), 0, strata_of([SCRAMBLES] * draws, each, True)
    for _ in range(count):
        u, p = rng.random(SCRAMBLES * each), np.clip(0.4 + 0.1 * rng.normal(size=draws), 0.02, 0.98)
        shown = np.concatenate([(u < q) * 1.0 - (u < 0.4) for q in p])
        found = mean_difference(shown, np.ones(len(shown), dtype=bool), layout, event=True)
        covered += found.low <= 0.0 <= found.high
    return covered / count


def in_rounds(event: Callable[[int, int], Array], each: int, wanted: float = WANTED, most: int = MOST) -> Array:
    """Event of one cell once its interval is as wanted: rounds as a comparison makes them.

    event : 0/1 of the points of scrambles first..last-1
    """
    shown, made = event(0, SCRAMBLES), SCRAMBLES
    while True:
        found = probability(shown > 0.0, np.ones(len(shown), dtype=bool), np.repeat(np.arange(made), each))
        needed = scrambles_wanted(found.half_width, wanted, made, most)
        if needed == made:
            return shown
        shown, made = np.concatenate([shown, event(made, needed)]), needed


def stopped(count: int, each: int = 2) -> tuple[float, float, float]:
    """Coverage once rounds have ended: of a cell's probability, the least over chances; of a pooled difference.

    The pooled one: two angles, at which the design's effect is of opposite sign, each cell with rounds of its own.
    """
    rng, use = np.random.default_rng(11), 0
    shares = []
    for p in STOPPED_AT:
        covered = 0
        for _ in range(count):
            shown = in_rounds(lambda first, last, p=p: (rng.random((last - first) * each) < p) * 1.0, each)
            scramble = np.arange(len(shown)) // each
            found = probability(shown > 0.0, np.ones(len(shown), dtype=bool), scramble)
            covered += found.low <= p <= found.high
        shares.append(covered / count)
    for _ in range(count):
        u, shown, made = rng.random(MOST * each), [], []
        for p, of in PAIRS:
            one, other = (in_rounds(lambda a, b, q=q, u=u: (u[a * each : b * each] < q) * 1.0, each) for q in (p, of))
            common = min(len(one), len(other))
            shown.append(one[:common] - other[:common])
            made.append(common // each)
        whole = np.concatenate(shown)
        found = mean_difference(whole, np.ones(len(whole), dtype=bool), strata_of(made, each), event=True)
        use += found.low <= float(np.mean([p - of for p, of in PAIRS])) <= found.high
    return float(np.mean(shares)), min(shares), use / count


def allocation(cells: int = 40, each: int = 2) -> tuple[int, int]:
    """Insertions that adaptive allocation takes for a map of `cells` cells, and those of an even grid.

    Cells have the probabilities of a map of this tool: most near 0 (soft tips, flat angles), a few in between.
    """
    rng = np.random.default_rng(9)
    truths = np.clip(rng.beta(0.25, 2.0, size=cells), 0.001, 0.7)

    def event(c: int, p: float) -> Callable[[int, int], Array]:
        return lambda first, last: (
            np.concatenate([_noise(points((c, k, 3), each), p) for k in range(first, last)]) * 1.0
        )

    taken = [len(in_rounds(event(c, float(p)), each, most=10_000)) for c, p in enumerate(truths)]
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
        alone, wide = paired(asked.count // 2, each, small=True)
        lines.append(
            f"paired difference, {each:2d} points a scramble: cover {share:.1%}, width {width:.2f} of the ideal; small "
            f"ones (0.02 to 0.12) alone: {alone:.1%}, {wide:.2f}"
        )
        told = ", ".join(
            f"{d:g}: {small_differences(asked.count, each, d):.1%}" for d in (0.02, 0.03, 0.05, 0.08, 0.12)
        )
        lines.append(f"  nested events at independent points, difference {told}")
        told = ", ".join(f"{of:g}: {ratios(asked.count, each, of):.1%}" for of in (0.05, 0.1, 0.3))
        lines.append(f"  ratio 1/2 of events, the larger's chance {told}")
    for draws in (4, 8, 16):
        lines.append(f"pooled over {draws:2d} draws of a shared unknown: cover {shared(asked.count, draws):.1%}")
    mean, least, of_pooled = stopped(asked.count // 2)
    lines.append(
        f"once rounds to a half-width of {WANTED:g} have ended: probability, cover {mean:.1%}, least {least:.1%} over "
        f"chances {', '.join(f'{p:g}' for p in STOPPED_AT)}; pooled difference {of_pooled:.1%}"
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
