"""Are the signs of an atlas right? Made-up atlases with known probabilities at every place.

    python -m experiments.coverage.signs --out results/signs [--count 100]

Truths over four axes, the end condition and the angle: "none" (no difference anywhere; the two designs share half of
their draws, so that they differ at single vessels by chance), "lowers" (entry falls by two fifths, curls stay as they
are), "trades" (entry falls by a third, all of it becomes curls), "corner" (entry falls by 0.12, but rises by 0.15
where two axes are both in their upper quarter: a sixteenth of the volume, with edges that no smooth surface follows),
"wide corner" (the same where both are in their upper half, a quarter of the volume), "edge" (entry is 0.05 in place
of 0.30 in the lower half of one axis, exactly the same in its upper half), "askew" (the same where the sum of two axes
is below 0), "instead" (entry falls by 0.1; nearly all that it keeps out curl, but none where the sum of two axes is
above 0). In the last one draw of each vessel decides for both designs, so that hardly a vessel tells them apart the
other way, as it is with wires of one family; in all others half of the draws are common.

Printed and written to OUT/summary.txt: studies in which anything at all is decided; share of the volume with each sign,
and of it what is decided wrongly; share of places at which the single band (1.96 standard errors) and the band of all
places at once hold the true difference of entry; studies in which the latter holds it everywhere; where nothing
differs, the share decided all the same.
"""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
from scipy.special import expit
from scipy.stats import qmc

from tipmech.outcome import Label
from tipmech.study import atlas as signs_of
from tipmech.study.atlas import Sign, atlas_of, signs
from tipmech.study.intervals import Array
from tipmech.study.run_atlas import AtlasResult

AXES, ANGLES = 4, (0.4, 0.9)
Truth = Callable[[Array], tuple[Array, Array, Array, Array]]
"""Places -> probabilities of entry of the softer and the stiffer design, then of a curl where they do not enter."""


def _stiff(x: Array) -> Array:
    return np.asarray(expit(-0.8 + 0.8 * x[:, 0] - 0.7 * x[:, 1] + 0.5 * x[:, 2]))


def none(x: Array) -> tuple[Array, Array, Array, Array]:
    """No difference."""
    p = _stiff(x)
    return p, p, np.full(len(x), 0.2), np.full(len(x), 0.2)


def lowers(x: Array) -> tuple[Array, Array, Array, Array]:
    """Two fifths fewer enter, a quarter of the others curl with both."""
    p = _stiff(x)
    return 0.6 * p, p, np.full(len(x), 0.25), np.full(len(x), 0.25)


def trades(x: Array) -> tuple[Array, Array, Array, Array]:
    """A third fewer enter, and these curl."""
    p = _stiff(x)
    soft = 2.0 / 3.0 * p
    failed = p + 0.1 * (1.0 - p)
    return soft, p, (failed - soft) / (1.0 - soft), np.full(len(x), 0.1)


def corner(x: Array, edge: float = 0.5) -> tuple[Array, Array, Array, Array]:
    """0.12 fewer enter, but 0.15 more where two axes lie above `edge`."""
    p = 0.15 + 0.3 * (x[:, 0] > 0.2)
    inside = (x[:, 0] > edge) & (x[:, 1] > edge)
    return p - 0.12 + 0.27 * inside, p, np.full(len(x), 0.1), np.full(len(x), 0.1)


def wide_corner(x: Array) -> tuple[Array, Array, Array, Array]:
    """The same with an edge in the middle."""
    return corner(x, 0.0)


def edge(x: Array) -> tuple[Array, Array, Array, Array]:
    """A quarter fewer enter in the lower half of an axis, none in its upper half."""
    p = np.full(len(x), 0.3)
    return np.where(x[:, 0] < 0.0, 0.05, p), p, np.full(len(x), 0.2), np.full(len(x), 0.2)


def askew(x: Array) -> tuple[Array, Array, Array, Array]:
    """The same where the sum of two axes is below 0."""
    p = np.full(len(x), 0.3)
    return np.where(x[:, 0] + x[:, 1] < 0.0, 0.05, p), p, np.full(len(x), 0.2), np.full(len(x), 0.2)


def instead(x: Array) -> tuple[Array, Array, Array, Array]:
    """0.1 fewer enter, of whom 95 % curl where the sum of two axes is below 0, and none elsewhere."""
    p = 0.12 + 0.35 * expit(1.5 * x[:, 2])
    failed = p + 0.05 * (1.0 - p) - np.where(x[:, 0] + x[:, 1] < 0.0, 0.005, 0.1)
    soft = p - 0.1
    return soft, p, (failed - soft) / (1.0 - soft), np.full(len(x), 0.05)


TRUTHS: dict[str, Truth] = {
    "none": none,
    "lowers": lowers,
    "trades": trades,
    "corner": corner,
    "wide corner": wide_corner,
    "edge": edge,
    "askew": askew,
    "instead": instead,
}


@dataclass(frozen=True)
class Seen:
    """One study: signs and true differences (entry, entry or curl) at the places of the volume, and what bands hold."""

    sign: Array
    entry: Array
    failed: Array
    single: float
    band: float


def study(truth: Truth, seed: int, sites: int, vessels: int, resamples: int) -> Seen:
    """A made-up atlas and what it says."""
    result = made_up(truth, seed, sites, vessels, one_draw=truth is instead)
    atlas = atlas_of(result, resamples)
    at = np.concatenate(
        [signs_of._at_front(result, signs_of._spread(result, signs_of.VOLUME), f) for f in (False, True)]
    )
    soft, stiff, soft_curl, stiff_curl = truth(at)
    entry = soft - stiff
    failed = soft + (1.0 - soft) * soft_curl - stiff - (1.0 - stiff) * stiff_curl
    d, error = (np.concatenate([getattr(v["entered"], k) for v in atlas.volume]) for k in ("value", "error"))
    sign = np.concatenate([signs(atlas, v) for v in atlas.volume])
    off = np.abs(d - entry) / error
    return Seen(sign, entry, failed, float(np.mean(off <= 1.96)), float(np.mean(off <= atlas.quantile)))


def made_up(truth: Truth, seed: int, sites: int, vessels: int, one_draw: bool = False) -> AtlasResult:
    """Rows of an atlas by chance; half of the draws are common to both designs. one_draw: all of them, and what does
    not enter curls by the same draw."""
    rng = np.random.default_rng([seed, 1])
    u = qmc.Sobol(AXES + 1, rng=np.random.default_rng([seed, 2])).random(sites)
    places, flat = 2.0 * u[:, :-1] - 1.0, u[:, -1] >= 0.5
    site, angle = (g.ravel() for g in np.meshgrid(np.arange(sites), np.arange(len(ANGLES)), indexing="ij"))
    site, angle = np.repeat(site, vessels), np.repeat(angle, vessels)
    x = np.column_stack([places[site], np.where(flat[site], 1.0, -1.0), 2.0 * angle - 1.0])
    made, common = truth(x), rng.random((2, len(x)))
    both: dict[str, list[Array]] = {name: [] for name in ("tip_load_index", "entered", "curled", "extended")}
    for design in range(2):
        own = np.where(rng.random((2, len(x))) < 0.5, common, rng.random((2, len(x))))
        entered = own[0] < made[design]
        curled = ~entered & (own[1] < made[2 + design])
        if one_draw:
            p, c = made[design], made[2 + design]
            entered, curled = common[0] < p, (common[0] >= p) & (common[0] < p + (1.0 - p) * c)
        both["tip_load_index"].append(np.full(len(x), design))
        both["entered"].append(np.where(entered, 1e-3, np.nan))
        both["curled"].append(np.where(curled, 2e-3, np.nan))
        both["extended"].append(np.full(len(x), np.nan))
    rows: dict[str, Any] = {name: np.concatenate(values) for name, values in both.items()}
    rows |= {"arm": np.tile(site, 2), "angle_index": np.tile(angle, 2), "reached": np.full(2 * len(x), 1e-3)}
    rows["label"] = np.full(2 * len(x), int(Label.TRUE_LUMEN))
    rows["entered_before_curl"] = ~np.isnan(rows["entered"])
    grid = SimpleNamespace(tip_loads=(0.01, 0.03), angles=ANGLES)
    spec = SimpleNamespace(
        study=grid, seed=seed, ranges=tuple(range(AXES)), level=0.05, floor=0.02, margin=0.05, sites=sites
    )
    return cast(AtlasResult, SimpleNamespace(spec=spec, rows=rows, places=places, flat=flat))


def lines_of(name: str, seen: Sequence[Seen], sites: int, vessels: int) -> list[str]:
    """What the studies of one truth and size say."""
    sign, entry, failed = (np.concatenate([getattr(s, k) for s in seen]) for k in ("sign", "entry", "failed"))
    shares = ", ".join(f"{s.name.lower()} {np.mean(sign == int(s)):.0%}" for s in Sign)
    wrong = (sign == int(Sign.REVERSES)) & (entry <= 0.0)
    wrong |= np.isin(sign, (int(Sign.LOWERS), int(Sign.TRADES))) & (entry >= 0.0)
    wrong |= (sign == int(Sign.LOWERS)) & (failed >= 0.0)
    wrong |= (sign == int(Sign.TRADES)) & (np.abs(failed) > 0.05)
    nothing = np.mean([not np.any(s.sign) for s in seen])
    out = [
        f"{name}, {sites} sites x {vessels} vessels, {len(seen)} studies: nothing decided in {nothing:.0%}; {shares}; "
        f"wrongly {np.mean(wrong):.1%}",
        f"    difference of entry held at {np.mean([s.single for s in seen]):.0%} of places by single intervals, at "
        f"{np.mean([s.band for s in seen]):.1%} by the band, by it everywhere in "
        f"{np.mean([s.band == 1.0 for s in seen]):.0%}",
    ]
    same = np.abs(entry) < 1e-12
    if np.any(same) and not np.all(same):
        raises, decided = np.mean(sign[same] == int(Sign.REVERSES)), np.mean(sign[same] != int(Sign.UNDECIDED))
        out.append(f"    where nothing differs: decided {decided:.1%}, of all there {raises:.1%} as raises entry")
    if np.any(entry > 0.0) and np.any(entry < 0.0):
        up = entry > 0.0
        inside = ", ".join(f"{s.name.lower()} {np.mean(sign[up] == int(s)):.0%}" for s in Sign)
        outside = ", ".join(f"{s.name.lower()} {np.mean(sign[~up] == int(s)):.0%}" for s in Sign)
        out.append(f"    where it rises: {inside}; elsewhere: {outside}")
    return out


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=100, help="studies with no difference, of each size")
    parser.add_argument("--others", type=int, default=10, help="studies of every other truth")
    parser.add_argument("--resamples", type=int, default=signs_of.RESAMPLES)
    parser.add_argument("--sizes", default="256x8,64x4", help="sites x vessels")
    parser.add_argument("--truths", default=",".join(TRUTHS))
    asked = parser.parse_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    lines: list[str] = []
    for size in asked.sizes.split(","):
        sites, vessels = (int(n) for n in size.split("x"))
        for name in asked.truths.split(","):
            count = asked.count if name == "none" else asked.others
            seen = [study(TRUTHS[name], seed, sites, vessels, asked.resamples) for seed in range(count)]
            lines += lines_of(name, seen, sites, vessels)
            (asked.out / "summary.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
            print("\n".join(lines), flush=True)


if __name__ == "__main__":
    main()
