"""Signs from a finished atlas: what a softer tip does to entry, and to entry or curl, at any place of its axes."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from . import events
from .intervals import Array, Ints
from .run_atlas import SHAPES, AtlasResult
from .surface import RESAMPLES, Surface, fit
from .table import Table, from_rows, select

EVENTS = ("entered", "failed")  # entry; entry or a curl: the wire does not simply pass
REST = 32  # places over the other axes that a panel's point is the mean of
VOLUME = 2048  # places at which the shares of the signs are counted


class Sign(IntEnum):
    """What the softer design does at a place, by intervals and the floor of the solver's settings."""

    UNDECIDED = 0
    LOWERS = 1
    TRADES = 2
    REVERSES = 3


SIGN_WORDS: Mapping[Sign, str] = {
    Sign.UNDECIDED: "undecided",
    Sign.LOWERS: "lowers entry",
    Sign.TRADES: "trades entry for curl",
    Sign.REVERSES: "raises entry",
}


@dataclass(frozen=True)
class Atlas:
    """Surfaces by (event, design), and what was left out of them (insertions not solved)."""

    result: AtlasResult
    surfaces: Mapping[tuple[str, int], Surface]
    left_out: int


def atlas_of(result: AtlasResult, resamples: int = RESAMPLES) -> Atlas:
    """Fit the four surfaces.

    Raises
    ------
    ValueError
        where an event happened always or never with a design: the sentence says which
    """
    rows = result.rows
    ok = events.solved(rows)
    surfaces = {}
    for name in EVENTS:
        for design in range(2):
            mine = select(rows, ok & (rows["tip_load_index"] == design))
            try:
                surfaces[name, design] = fit(
                    coordinates(result, mine["arm"], mine["angle"]),
                    happened(mine, name),
                    mine["arm"],
                    result.spec.seed,
                    resamples,
                )
            except ValueError as error:
                load = result.spec.study.tip_loads[design]
                raise ValueError(f"no surface for '{name}' with the tip load {load:.4g} N: {error}") from None
    return Atlas(result, surfaces, int(np.sum(~ok)))


def happened(rows: Table, name: str) -> NDArray[np.bool_]:
    """Whether an event of the atlas happened."""
    seen = events.flags(rows)
    return np.asarray(seen["entered"] | seen["curled"]) if name == "failed" else seen["entered"]


def coordinates(result: AtlasResult, site: Ints, angle: Array) -> Array:
    """Places on the axes, the front's end condition (-1 notch, 1 flat) and the angle (-1 to 1), shape (n, axes + 2)."""
    return np.column_stack([result.places[site], np.where(result.flat[site], 1.0, -1.0), _angle_place(result, angle)])


def _angle_place(result: AtlasResult, angle: Array) -> Array:
    low, high = min(result.spec.study.angles), max(result.spec.study.angles)
    return np.asarray((2.0 * angle - low - high) / (high - low)) if high > low else np.zeros(len(angle))


def differences(atlas: Atlas, x: Array, group: int = 1) -> dict[str, tuple[Array, Array, Array]]:
    """Softer less stiffer design at places x (n, axes + 2): difference, low, high of each event; means over `group`
    places that follow each other."""
    out = {}
    level = atlas.result.spec.level
    for name in EVENTS:
        both = [atlas.surfaces[name, d].probability(x) for d in range(2)]
        d = (both[0] - both[1]).reshape(len(both[0]), -1, group).mean(axis=2)
        low, high = np.quantile(d[1:], [level / 2.0, 1.0 - level / 2.0], axis=0)
        out[name] = (d[0], low, high)
    return out


def signs(atlas: Atlas, found: Mapping[str, tuple[Array, Array, Array]]) -> Ints:
    """Sign at each place.

    Entry is lowered (raised) where its interval lies below (above) 0 and the difference is more than the floor; it is
    only traded for curl where that of entry or curl is not lowered as well.
    """
    floor = atlas.result.spec.floor
    d, low, high = found["entered"]
    lowered, raised = (high < 0.0) & (d < -floor), (low > 0.0) & (d > floor)
    both, _, both_high = found["failed"]
    passes = (both_high < 0.0) & (both < -floor)
    out = np.full(len(d), int(Sign.UNDECIDED))
    out[lowered & passes] = int(Sign.LOWERS)
    out[lowered & ~passes] = int(Sign.TRADES)
    out[raised] = int(Sign.REVERSES)
    return np.asarray(out, dtype=np.int64)


def panel(atlas: Atlas, one: int, other: int, flat: bool, steps: int = 21) -> tuple[Array, Ints, Array]:
    """Axis places (steps,), signs and differences of entry (steps, steps; rows: `other`), means over the rest."""
    axes = len(atlas.result.spec.ranges)
    place = np.linspace(-1.0, 1.0, steps)
    rest = _spread(atlas, axes, REST)
    a, b = np.meshgrid(place, place)
    x = np.tile(rest, (steps * steps, 1))
    x[:, one], x[:, other] = np.repeat(a.ravel(), REST), np.repeat(b.ravel(), REST)
    x[:, axes] = 1.0 if flat else -1.0
    found = differences(atlas, x, REST)
    return place, signs(atlas, found).reshape(steps, steps), found["entered"][0].reshape(steps, steps)


def _spread(atlas: Atlas, axes: int, count: int) -> Array:
    """Places spread evenly over all axes, ends in turn over the end conditions and the study's angles."""
    u = qmc.Sobol(axes, scramble=True, rng=np.random.default_rng([atlas.result.spec.seed, 9])).random(count)
    angles = np.array(atlas.result.spec.study.angles)
    angle = _angle_place(atlas.result, angles[np.arange(count) % len(angles)])
    return np.column_stack([2.0 * u - 1.0, np.where(np.arange(count) // len(angles) % 2, 1.0, -1.0), angle])


def share_table(atlas: Atlas) -> Table:
    """Share of the atlas's volume with each sign, by end condition, every place by itself."""
    axes, out = len(atlas.result.spec.ranges), []
    x = _spread(atlas, axes, VOLUME)
    for flat in (False, True):
        x[:, axes] = 1.0 if flat else -1.0
        found = signs(atlas, differences(atlas, x))
        row: dict[str, Any] = {"front_shape": SHAPES[int(flat)]}
        out.append(row | {SIGN_WORDS[s].replace(" ", "_"): float(np.mean(found == int(s))) for s in Sign})
    return from_rows(out)


def reliability_table(atlas: Atlas) -> Table:
    """Calibration of every surface by bins, with its Brier score and that of the overall share."""
    out = []
    for (name, design), surface in atlas.surfaces.items():
        c = surface.calibration
        for k in range(len(c.count)):
            out.append(
                {
                    "event": name,
                    "tip_load": atlas.result.spec.study.tip_loads[design],
                    "degree": surface.degree,
                    "penalty": surface.penalty,
                    "brier": c.brier,
                    "brier_of_the_share": c.base,
                    "predicted": float(c.predicted[k]),
                    "seen": float(c.seen[k]),
                    "seen_low": float(c.low[k]),
                    "seen_high": float(c.high[k]),
                    "n": int(c.count[k]),
                }
            )
    return from_rows(out)
