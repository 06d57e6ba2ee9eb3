"""Does calibration recover known wires at the stated rate? Simulation-based calibration with synthetic wires.

    python -m experiments.calibration.run --out results/calibration [--count 201] [--direct 201] [--seed 60] [--only 3]

Run from the repository's root. Scale, end condition, free lengths and errors are drawn from the priors that the
calibration states; the readings come from the same interpolated bench ("interpolated"), or from the bench simulated
with the rod at exactly the drawn scale and free length ("direct"), or from plates of a drawn Coulomb friction
("friction", which is not the model that is fitted). Over the draws the true value must lie within the 50 and 95 %
intervals in 50 and 95 % of cases, and its place in the posterior must be uniform (Talts et al., Validating Bayesian
inference algorithms with simulation-based calibration, arXiv:1804.06788, 2018; from memory). Printed, and written to
OUT/summary.txt. `--only` takes some of the sets of measurements (0 to 5), to look again
at rows with another `--seed`. All wires are invented.
"""

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from tipmech.bench.measured import (
    LENGTH_CUT,
    LENGTH_SD,
    UNSTATED_LENGTH,
    UNSTATED_LENGTH_SD,
    Datum,
    Setup,
    simulate,
    simulated_log,
)
from tipmech.files.wire import read_wire
from tipmech.lab.posterior import SCALE_LOG_SD, calibrate
from tipmech.lab.response import Response, respond_to
from tipmech.profile import Profile
from tipmech.study.version import code_version
from tipmech.wire.design import profile

Array = NDArray[np.float64]

SEED = 60
WIRES = ("workhorse", "very_soft", "stiff_tapered")
NORMAL_SHARE = 0.01  # of the drawing's pinned tip load: sd of the reading with a normal error
FRICTIONS = (0.05, 0.4)  # drawn log-uniformly
SURE = 0.99  # probability that a right calibration passes one test of a row (two coverages, one uniformity)


@dataclass(frozen=True)
class Bench:
    """A set of measurements as templates (their values are drawn), and what is known of the bench."""

    name: str
    data: tuple[Datum, ...]
    setup: Setup = Setup()


def template(kind: str, free_length: float, percent: float) -> Datum:
    """A measurement with a log-normal error and a stated length, its value still to be drawn."""
    assert kind in ("tip_load", "lateral")
    return Datum("tip_load" if kind == "tip_load" else "lateral", 1.0, percent / 100, True, free_length, LENGTH_SD)


UNSTATED = Datum("tip_load", 1.0, 0.03, True, UNSTATED_LENGTH, UNSTATED_LENGTH_SD, False)
ONE = template("tip_load", 10e-3, 3.0)
BENCHES = (
    Bench("one tip load, 10 mm", (ONE,)),
    Bench("one tip load, length not stated", (UNSTATED,)),
    Bench("tip loads at 5, 10, 15 mm", (template("tip_load", 5e-3, 3.0), ONE, template("tip_load", 15e-3, 3.0))),
    Bench("tip load 10 mm, lateral 20 mm", (ONE, template("lateral", 20e-3, 5.0))),
    Bench("tip load 10 mm, normal error", (replace(ONE, relative=False), template("lateral", 10e-3, 5.0))),
    Bench("tip load 10 mm, pinned tip known", (ONE,), Setup("pinned")),
)


@dataclass(frozen=True)
class Places:
    """Where the true values lay in their posteriors.

    scale, end : ndarray, shape (n,), posterior probability of a smaller value than the true one
    """

    scale: Array
    end: Array


def with_error(bench: Bench, base: Profile) -> Bench:
    """The bench with its normal errors set: a share of the drawing's pinned tip load, known before the reading."""
    data = tuple(
        d if d.relative else replace(d, error=NORMAL_SHARE * simulate(base, d.kind, d.free_length, inf))
        for d in bench.data
    )
    return replace(bench, data=data)


def draw(
    rng: np.random.Generator, base: Profile, bench: Bench, responses: Sequence[Response], source: str
) -> tuple[tuple[Datum, ...], float, float]:
    """Readings of one synthetic wire, its true ln scale and end condition.

    Parameters
    ----------
    source : {"interpolated", "direct", "friction"}
        what the readings come from
    """
    while True:
        x, end = SCALE_LOG_SD * rng.standard_normal(), float(np.sqrt(rng.random()))
        friction = exp(rng.uniform(log(FRICTIONS[0]), log(FRICTIONS[1])))
        wire, data = base.softened(exp(x)), []
        for datum, response in zip(bench.data, responses, strict=True):
            off = stats.truncnorm.rvs(-LENGTH_CUT, LENGTH_CUT, random_state=rng)
            length = datum.free_length + datum.length_sd * float(off)
            if source == "direct":
                clean = simulated_log(wire, datum.kind, length, bench.setup, end)
            elif source == "friction":
                clean = log(simulate(wire, datum.kind, length, friction, bench.setup.travel))
            else:
                clean = float(response.log_value(np.array(x), end, length))
            noise = datum.error * rng.standard_normal()
            data.append(replace(datum, value=exp(clean + noise) if datum.relative else exp(clean) + noise))
        if all(d.value > 0.0 for d in data):  # a normal error can make a reading that nobody would report
            return tuple(data), x, end


def places(bench: Bench, base: Profile, count: int, source: str, seed: int) -> Places:
    """Places of the true values of `count` synthetic wires in their posteriors."""
    bench = with_error(bench, base)
    responses = [respond_to(base, d, bench.setup, SCALE_LOG_SD) for d in bench.data]
    known = bench.setup.end != "unknown"
    found = []
    for k in range(count):
        rng = np.random.default_rng(np.random.SeedSequence([seed, k]))
        data, x, end = draw(rng, base, bench, responses, source)
        found.append(calibrate(data, responses, end_known=known).below(x, end))
    scale, ends = np.array(found).T
    return Places(scale, np.full(count, np.nan) if known else ends)


def covered(place: Array, share: float) -> int:
    """How many true values lay within the central interval of probability `share`."""
    return int(np.sum(np.abs(place - 0.5) < 0.5 * share))


def accepted(count: int, share: float) -> tuple[int, int]:
    """Numbers of covered cases between which a right calibration stays with probability `SURE`."""
    low, high = stats.binom.interval(SURE, count, share)
    return int(low), int(high)


def line_of(name: str, place: Array) -> tuple[str, int]:
    """One row of the summary, and how many of its three tests fail: two coverages, uniform places."""
    n = len(place)
    parts, failed = [], 0
    for share in (0.5, 0.95):
        hits, (low, high) = covered(place, share), accepted(n, share)
        failed += not low <= hits <= high
        parts.append(f"{hits / n:6.1%} ({low / n:.1%}-{high / n:.1%})")
    p = float(stats.kstest(place, "uniform").pvalue)
    failed += p < 1.0 - SURE
    return f"{name:<58} {n:4d}  {parts[0]}  {parts[1]}  {p:6.3f}  {'-' if not failed else failed}", failed


def verdict(failed: int, tests: int) -> str:
    """The whole table in one sentence: tests at this level fail now and then for a right calibration too."""
    chance = float(stats.binom.sf(failed - 1, tests, 1.0 - SURE))
    word = "recovered at the stated rate" if chance > 1.0 - SURE else "NOT recovered at the stated rate"
    return (
        f"{word}: {failed} of {tests} tests failed, {(1.0 - SURE) * tests:.1f} expected of a right calibration; "
        f"as many or more with probability {chance:.2f} (tests taken as independent)"
    )


def run(count: int, direct: int, seed: int = SEED, only: Sequence[int] = tuple(range(len(BENCHES)))) -> str:
    """Run the sets of measurements `only`, `count` wires with interpolated and `direct` ones with simulated readings.

    Returns
    -------
    str
        the summary; without `direct` wires the plates of a drawn friction are left out too
    """
    begin = time.perf_counter()
    bases = [profile(read_wire(name)) for name in WIRES]
    rows, failures = [], []
    for b in only:
        bench = BENCHES[b]
        for source, total in (("interpolated", count), ("direct", direct)):
            shares = [total // len(WIRES) + (k < total % len(WIRES)) for k in range(len(WIRES))]
            parts = [
                places(bench, base, share, source, seed + 100 * b + 10 * k + (source == "direct"))
                for k, (base, share) in enumerate(zip(bases, shares, strict=True))
                if share
            ]
            for what in ("scale", "end") if parts else ():
                place = np.concatenate([getattr(p, what) for p in parts])
                if len(place) and not np.isnan(place[0]):
                    line, failed = line_of(f"{bench.name}; {source}; {what}", place)
                    rows.append(line)
                    failures.append(failed)
    if direct:
        rows.append("not the model that is fitted, reported only:")
    for b in (k for k in (0, 3) if direct and k in only):
        place = places(BENCHES[b], bases[0], direct, "friction", seed + 1000 + b).scale
        rows.append(line_of(f"{BENCHES[b].name}; friction; scale", place)[0])
    head = f"{'measurements; readings; unknown':<58}    n  within 50 % (range)    within 95 % (range)     KS p  failed"
    lines = [
        f"in brackets: where a right calibration stays with probability {SURE:.0%}",
        f"code {code_version()}; wires {', '.join(WIRES)} (invented); seed {seed}",
        head,
        *rows,
        verdict(sum(failures), 3 * len(failures)),
        f"time {time.perf_counter() - begin:.0f} s",
    ]
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=201)
    parser.add_argument("--direct", type=int, default=201)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--only", type=int, nargs="+", default=list(range(len(BENCHES))), choices=range(len(BENCHES)))
    args = parser.parse_args(arguments)
    text = run(args.count, args.direct, args.seed, args.only)
    args.out.mkdir(parents=True, exist_ok=True)
    (args.out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
