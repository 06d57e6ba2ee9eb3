"""Signs from a finished atlas: what a softer tip does to entry, and to entry or curl, at any place of its axes."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from . import events
from .beside import Beside
from .intervals import Array, Ints
from .run_atlas import AtlasResult, AtlasSpec
from .streams import Use, stream
from .surface import RESAMPLES, Counts, Surface, drawn, fit
from .table import Table

EVENTS = ("entered", "failed")  # entry; entry or a curl: the wire does not simply pass
INSTEAD = "instead"  # of the differences: entry or curl less entry, which is curls without entry
EVENT_WORDS = {"entered": "entry", "failed": "entry or curl"}
REST = 32  # places over the other axes that a panel's point is the mean of
STEPS = 21  # places on an axis of a panel
VOLUME = 2048  # places at which the shares of the signs are counted, for each end condition
MOST_PAIRS = 3  # pairs of axes that have panels
AGAINST = 2.0  # standard errors by which the counts of near sites must not speak against a sign


@dataclass(frozen=True)
class Difference:
    """Difference of an event's probability at n places, softer less stiffer design.

    value, error : fitted, and its standard error; shape (n,)
    low, high : with what was not solved counted to make it least and greatest; shape (n,)
    excess, excess_error : what counts of sites near on each axis and pair of axes say beyond it (`Beside`); shape
    (axes and pairs, n)
    """

    value: Array
    error: Array
    low: Array
    high: Array
    excess: Array
    excess_error: Array

    def near(self, errors: float) -> tuple[Array, Array]:
        """By the counts near on each axis and pair of axes, so many standard errors either way: least and greatest."""
        middle = self.value + self.excess
        return middle - errors * self.excess_error, middle + errors * self.excess_error


Found = Mapping[str, Difference]
"""Of each event, and of curls without entry (`INSTEAD`)."""


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
class Panel:
    """Differences over two axes for one end condition, means over the rest; rows: `other`; steps x steps places."""

    one: int
    other: int
    flat: bool
    found: Found


@dataclass(frozen=True)
class Atlas:
    """Surfaces by (event, design) and what follows from them.

    not_solved : insertions, which the band carries as bounds
    panels, volume : where the signs are looked at; volume: by end condition, notch first
    quantile : of the largest of all differences there from their mean, in standard errors: a band of as many on both
        sides holds all of them at once with the probability 1 - level
    """

    result: AtlasResult
    surfaces: Mapping[tuple[str, int], Surface]
    beside: Beside
    not_solved: int
    panels: tuple[Panel, ...]
    volume: tuple[Found, Found]
    quantile: float

    def band(self, found: Found, event: str) -> tuple[Array, Array]:
        """Simultaneous band of an event's differences: low, high; from the least to the greatest that insertions which
        were not solved could make of them."""
        d = found[event]
        return d.low - self.quantile * d.error, d.high + self.quantile * d.error

    def tells(self, event: str) -> bool:
        """Whether an event's surfaces, of both designs together, predict better than the designs' overall shares.

        Together, for their difference hangs on both: where one design has the same chance everywhere its surface is no
        better than its share, and no worse.
        """
        both = [self.surfaces[event, design].calibration for design in range(2)]
        return sum(c.brier for c in both) < sum(c.base for c in both)


def atlas_of(result: AtlasResult, resamples: int = RESAMPLES) -> Atlas:
    """Fit the four surfaces and look at them.

    Raises
    ------
    ValueError
        where an event happened always or never with a design: the sentence says which
    """
    x, site, counts = _counts(result)
    for (name, design), c in counts.items():
        if c.one_sided:
            load = result.spec.study.tip_loads[design]
            happened = "the event happened always or never"
            raise ValueError(f"no surface for '{name}' with the tip load {load:.4g} N: {happened}")
    seed = result.spec.seed
    draws = drawn(site, list(counts.values()), seed, resamples)
    surfaces: dict[tuple[str, int], Surface] = {}
    for name in EVENTS:
        both = fit(x, site, [counts[name, d] for d in range(2)], draws, seed)
        surfaces |= {(name, d): surface for d, surface in enumerate(both)}
    axes = len(result.spec.ranges)
    places = [_panel_places(result, *pair, flat) for flat in (False, True) for pair in pairs(axes)]
    volume = [_at_front(result, _spread(result, VOLUME), flat) for flat in (False, True)]
    beside = Beside(result.places, {name: _excess(result, surfaces, name) for name in EVENTS})
    looked = [_found(surfaces, beside, at, REST) for at in places] + [_found(surfaces, beside, at) for at in volume]
    farthest = np.max([far for _, far in looked], axis=0)
    quantile = float(np.quantile(farthest, 1.0 - result.spec.level, method="higher"))
    drawn_pairs = [(*pair, flat) for flat in (False, True) for pair in pairs(axes)]
    panels = tuple(Panel(*p, found) for p, (found, _) in zip(drawn_pairs, looked, strict=False))
    not_solved = int(np.sum(~events.solved(result.rows)))
    return Atlas(result, surfaces, beside, not_solved, panels, (looked[-2][0], looked[-1][0]), quantile)


def pairs(axes: int) -> list[tuple[int, int]]:
    """Pairs of axes that have panels: neighbours first, so that every axis of four is seen."""
    near = [(k, k + 1) for k in range(0, axes - 1, 2)]
    return [*near, *(p for p in combinations(range(axes), 2) if p not in near)][:MOST_PAIRS]


def _counts(result: AtlasResult) -> tuple[Array, Ints, dict[tuple[str, int], Counts]]:
    """Places (site and angle), the site of each, and the counts of each event and design there."""
    rows = result.rows
    ok = events.solved(rows)
    place, index = np.unique(np.stack([rows["arm"], rows["angle_index"]]), axis=1, return_inverse=True)
    index = np.asarray(index).reshape(-1)
    angle = np.array(result.spec.study.angles)[place[1]]
    counts = {}
    for name in EVENTS:
        for design in range(2):
            mine = rows["tip_load_index"] == design
            kinds = (mine & ok & happened(rows, name), mine & ok, mine & ~ok)
            counts[name, design] = Counts(*(np.bincount(index[m], minlength=place.shape[1]) for m in kinds))
    return coordinates(result, place[0], angle), place[0], counts


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


def _excess(result: AtlasResult, surfaces: Mapping[tuple[str, int], Surface], name: str) -> Array:
    """Seen less fitted difference of an event at each site, means over its angles and vessels; 0 where a design has
    nothing solved at a site."""
    rows, count = result.rows, len(result.places)
    ok, seen = events.solved(rows), happened(rows, name)
    out = np.zeros((2, count))
    for design in range(2):
        mine = ok & (rows["tip_load_index"] == design)
        site, angle = rows["arm"][mine], np.array(result.spec.study.angles)[rows["angle_index"][mine]]
        fitted = surfaces[name, design].probability(coordinates(result, site, angle))[0]
        total = np.bincount(site, seen[mine] - fitted, minlength=count)
        number = np.bincount(site, minlength=count)
        out[design] = np.where(number > 0, total / np.maximum(number, 1), np.nan)
    return np.asarray(np.nan_to_num(out[0] - out[1]))


def differences(atlas: Atlas, x: Array, group: int = 1) -> Found:
    """Softer less stiffer design at places x (n, axes + 2), means over `group` places that follow each other."""
    return _found(atlas.surfaces, atlas.beside, x, group)[0]


def _found(
    surfaces: Mapping[tuple[str, int], Surface], beside: Beside, x: Array, group: int = 1
) -> tuple[Found, Array]:
    """Differences with their standard errors, and of each resample the largest distance from the mean in these."""
    found, fits = dict[str, Difference](), dict[str, Array]()
    for name in EVENTS:
        soft, stiff = (surfaces[name, d].probability(x) for d in range(2))
        d = (soft - stiff).reshape(len(soft), -1, group).mean(axis=2)
        soft, stiff = (surfaces[name, d].bounds(x) for d in range(2))
        low, high = (soft - stiff[::-1]).reshape(2, -1, group).mean(axis=2)
        low, high = np.minimum(low, d[0]), np.maximum(high, d[0])
        found[name], fits[name] = Difference(d[0], _error(d), low, high, *beside.along(name, x, group)), d
    entered, failed = (found[name] for name in EVENTS)
    fits[INSTEAD] = d = fits["failed"] - fits["entered"]
    found[INSTEAD] = Difference(
        d[0],
        _error(d),
        failed.low - entered.high,
        failed.high - entered.low,
        failed.excess - entered.excess,
        np.hypot(failed.excess_error, entered.excess_error),
    )
    far = [np.max(np.abs(d[1:] - d[1:].mean(axis=0)) / _error(d), axis=1) for d in fits.values()]
    return found, np.max(far, axis=0)


def _error(fits: Array) -> Array:
    """Standard error by the resamples, all rows but the first."""
    return np.asarray(np.maximum(fits[1:].std(axis=0, ddof=1), np.finfo(float).tiny))


def signs(atlas: Atlas, found: Found) -> Ints:
    """Sign at each place.

    Entry is lowered (raised) where its band lies below (above) 0 and the difference is more than the floor. It is
    traded for curl only where the band of entry or curl lies within the margin on both sides of 0, and that of curls
    without entry above 0; where entry or curl falls as entry does, the sign is "lowers"; all else is undecided, and so
    is what hangs on a surface that tells no more than the overall share, or what the counts of the sites near on one
    or two of the axes speak against.
    """
    spec: AtlasSpec = atlas.result.spec
    low, high = atlas.band(found, "entered")
    least, most = found["entered"].near(AGAINST)
    lowered = (high < 0.0) & (found["entered"].value < -spec.floor) & np.all(most < 0.0, axis=0)
    raised = (low > 0.0) & (found["entered"].value > spec.floor) & np.all(least > 0.0, axis=0)
    low, high = atlas.band(found, "failed")
    least, most = found["failed"].near(AGAINST)
    falls = (high < 0.0) & (found["failed"].value < -spec.floor) & np.all(most < 0.0, axis=0)
    same = (low >= -spec.margin) & (high <= spec.margin)
    same &= np.all((least <= spec.margin) & (most >= -spec.margin), axis=0)
    same &= atlas.band(found, INSTEAD)[0] > 0.0
    out = np.full(len(lowered), int(Sign.UNDECIDED), dtype=np.int64)
    if not atlas.tells("entered"):
        return out
    out[raised] = int(Sign.REVERSES)
    if atlas.tells("failed"):
        out[lowered & same] = int(Sign.TRADES)
        out[lowered & falls] = int(Sign.LOWERS)
    return out


def _panel_places(result: AtlasResult, one: int, other: int, flat: bool) -> Array:
    """Places of a panel, `REST` of the other axes for each, shape (STEPS * STEPS * REST, axes + 2)."""
    place = np.linspace(-1.0, 1.0, STEPS)
    a, b = np.meshgrid(place, place)
    x = np.tile(_at_front(result, _spread(result, REST), flat), (STEPS * STEPS, 1))
    x[:, one], x[:, other] = np.repeat(a.ravel(), REST), np.repeat(b.ravel(), REST)
    return x


def _spread(result: AtlasResult, count: int) -> Array:
    """Places spread evenly over all axes, the study's angles in turn; the end condition is that of a notch."""
    axes = len(result.spec.ranges)
    u = qmc.Sobol(axes, scramble=True, rng=stream(result.spec.seed, Use.PLACES)).random(count)
    angles = np.array(result.spec.study.angles)
    angle = _angle_place(result, angles[np.arange(count) % len(angles)])
    return np.column_stack([2.0 * u - 1.0, np.full(count, -1.0), angle])


def _at_front(result: AtlasResult, x: Array, flat: bool) -> Array:
    """The places at one end condition."""
    out = x.copy()
    out[:, len(result.spec.ranges)] = 1.0 if flat else -1.0
    return out
