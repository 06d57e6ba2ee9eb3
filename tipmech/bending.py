"""Bending moments that leave the straight line: tables of moment over curvature. Floor 0.

A table holds a section's moment and its slope at fixed multiples `GRID` of the curvature at which it leaves the line
M = EI kappa; between them the moment is a cubic (Hermite), beyond them it goes on with its last slope. The moment is
thus continuous with its slope, its energy a polynomial; and it rises everywhere, so that the energy is convex. theory,
"Moment over curvature".
"""

from dataclasses import dataclass, fields
from math import log

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PER_DOUBLING = 8  # pieces for each doubling of the curvature: tests/unit/test_bending.py measures the error they leave
DOUBLINGS = 5  # the tables reach 32 times the limit: an outer fibre of 29 % strain in steel
PIECES = PER_DOUBLING * DOUBLINGS
PER_LOG = PER_DOUBLING / log(2.0)  # pieces for each unit of the logarithm
GRID: Array = np.exp(np.arange(PIECES + 1) / PER_LOG)
MONOTONE = 3.0  # a cubic rises throughout if its end slopes are at most three times its secant (Fritsch & Carlson 1980)
STRAIGHT = 1e-12  # a table closer than this to the line is one
SPLIT_STEPS = 60  # cap of the iteration that splits an angle between two pieces: bisection alone would end it
SPLIT = 1e-13  # of the angle: the split is found so well


@dataclass(frozen=True)
class PartLaw:
    """How one part's bending moment leaves the line, along the wire.

    Parameters
    ----------
    share : ndarray, shape (n,)
        the part's own EI over that of the whole wire at n stations, -; 0 where it is absent
    limit : ndarray, shape (n,)
        curvature at which it leaves the line, 1/m
    moment : ndarray, shape (PIECES + 1,)
        its moment at GRID times the limit, over its EI times limit
    slope : ndarray, shape (PIECES + 1,)
        slope of that moment over the curvature, over its EI
    aspect : float
        the part's EI2 over its EI1, -: its law depends on k1^2 + aspect k2^2, exact about both axes of a rectangle

    Raises
    ------
    ValueError
        where a share is not within 0 and 1, a limit not positive and finite, or the moment does not rise throughout
    """

    share: Array
    limit: Array
    moment: Array
    slope: Array
    aspect: float = 1.0

    def __post_init__(self) -> None:
        if np.shape(self.share) != np.shape(self.limit) or np.ndim(self.limit) != 1:
            raise ValueError("share and limit of a law need one value for each station")
        if not np.all((self.share >= 0.0) & (self.share <= 1.0 + STRAIGHT)):
            raise ValueError("the share of a law must be at least 0 and at most 1")
        if not (np.all(np.isfinite(self.limit)) and np.all(self.limit > 0.0)):
            raise ValueError("the limit of a law must be finite and greater than 0")
        if not (np.isfinite(self.aspect) and self.aspect > 0.0):
            raise ValueError("the aspect of a law must be finite and greater than 0")
        _check_table(np.atleast_2d(self.moment), np.atleast_2d(self.slope))

    def resampled(self, old: Array, new: Array) -> "PartLaw":
        """The law at other stations, linear between them."""
        share, limit = np.interp(new, old, self.share), np.interp(new, old, self.limit)
        return PartLaw(share, limit, self.moment, self.slope, self.aspect)


@dataclass(frozen=True, eq=False)
class MomentLaw:
    """Moment over curvature of R sections (rows); equal to itself only, so that it can be the key of a cache.

    Parameters
    ----------
    limit : ndarray, shape (R,)
        curvature at which a row leaves the line, 1/m; inf: never
    moment : ndarray, shape (R, PIECES + 1)
        moment at GRID times the limit, over EI times limit
    slope : ndarray, shape (R, PIECES + 1)
        slope of that moment over the curvature, over EI
    aspect : ndarray, shape (R,)
        EI2 over EI1 of the parts that leave the line, -: about any axis the curvature is sqrt(k1^2 + aspect k2^2)
    share : ndarray, shape (R,)
        EI1 of those parts over EI1 of the row, -

    Raises
    ------
    ValueError
        where the moment does not rise throughout
    """

    limit: Array
    moment: Array
    slope: Array
    aspect: Array
    share: Array

    def __post_init__(self) -> None:
        if self.moment.shape != (len(self.limit), PIECES + 1) or not np.all(self.limit > 0.0):
            raise ValueError("a law needs a limit greater than 0 and a table for each row")
        _check_table(self.moment, self.slope)

    @property
    def stored(self) -> Array:
        """Energy from the limit to each curvature of the table, over EI limit^2: exact for the cubics, as `moment`."""
        step = np.diff(GRID)
        piece = step * 0.5 * (self.moment[:, 1:] + self.moment[:, :-1])
        piece -= step**2 / 12.0 * np.diff(self.slope, axis=1)
        return np.concatenate([np.zeros((len(self.limit), 1)), np.cumsum(piece, axis=1)], axis=1)

    def rows(self, index: NDArray[np.int64]) -> "MomentLaw":
        """The law of some rows."""
        return MomentLaw(*(getattr(self, field.name)[index] for field in fields(self)))

    def at(self, curvature: Array) -> tuple[Array, Array]:
        """Moment over EI (1/m) and slope over EI (-) at curvatures of at least 0, shape (R, m), 1/m."""
        x = curvature / self.limit[:, None]
        value, slope = _hermite(self.moment, self.slope, np.maximum(x, 1.0))
        bent = x > 1.0
        with np.errstate(invalid="ignore"):
            moment = np.where(bent, self.limit[:, None] * value, curvature)
        return moment, np.where(bent, slope, 1.0)

    def curvature(self, moment: Array) -> Array:
        """Curvature of each row under a moment over EI of at least 0, shape (R,), 1/m: `at` the other way round."""
        out = np.array(moment, dtype=float)
        for _ in range(SPLIT_STEPS):  # the moment is concave beyond the limit but for a plateau's end: Newton, held up
            value, slope = self.at(out[:, None])
            step = (moment - value[:, 0]) / slope[:, 0]
            out = np.maximum(out + step, moment)
            if np.all(np.abs(step) <= SPLIT * np.maximum(out, SPLIT)):
                break
        return out

    def energy(self, curvature: Array) -> Array:
        """Energy per length over EI at curvatures of at least 0, shape (R, m), 1/m2: the integral of the moment."""
        usable = np.where(np.isfinite(self.limit), self.limit, 1.0)[:, None]
        x = np.maximum(curvature / self.limit[:, None], 1.0)
        j = np.minimum(np.searchsorted(GRID, x, side="right") - 1, PIECES - 1)
        row = np.arange(len(x))[:, None]
        h = GRID[j + 1] - GRID[j]
        t, past = np.minimum((x - GRID[j]) / h, 1.0), np.maximum(x - GRID[-1], 0.0)
        a, b, ra, rb = (part[row, j + k] for part in (self.moment, self.slope) for k in (0, 1))
        secant = (b - a) / h
        bow, twist = 3.0 * secant - 2.0 * ra - rb, ra + rb - 2.0 * secant
        stored = self.stored[row, j] + h * t * (a + h * t * (0.5 * ra + t * (bow / 3.0 + t * 0.25 * twist)))
        stored += past * (b + 0.5 * past * rb)
        bent = curvature > self.limit[:, None]
        return np.where(bent, usable**2 * (0.5 + stored), 0.5 * curvature**2)


def turned_to(law: MomentLaw, ratio: Array, across: Array) -> MomentLaw:
    """Law of sections bent about one of their directions, or about all of several alike (their mean energy).

    Parameters
    ----------
    law : MomentLaw
        R rows
    ratio : ndarray, shape (R,)
        EI2 over EI1 of the whole section, -
    across : ndarray, shape (R, m)
        squared sines of the angles between the directions and the section's axis 1

    Returns
    -------
    MomentLaw
        over the mean rigidity of these directions, of aspect 1
    """
    side = np.minimum(law.aspect, ratio / np.maximum(law.share, np.finfo(float).tiny))  # as the rod takes it
    flat = (np.abs(side - 1.0) > STRAIGHT) | (np.abs(ratio - 1.0) > STRAIGHT)
    if not np.all(flat):  # what is round bends alike in all directions
        out = {field.name: getattr(law, field.name).copy() for field in fields(law)}
        if np.any(flat):
            bent = turned_to(law.rows(np.flatnonzero(flat)), ratio[flat], across[flat])
            for name, column in out.items():
                column[flat] = getattr(bent, name)
        out["aspect"] = np.ones(len(flat))
        return MomentLaw(**out)
    lever = np.sqrt(1.0 + (side[:, None] - 1.0) * across)
    base = np.mean(1.0 + (ratio[:, None] - 1.0) * across, axis=1)[:, None]
    limit = law.limit / np.max(lever, axis=1)
    usable = np.where(np.isfinite(limit), limit, 1.0)[:, None]
    moment, slope = np.tile(GRID, (len(limit), 1)), np.ones((len(limit), PIECES + 1))
    for k in range(across.shape[1]):
        way = lever[:, k, None]
        felt = usable * GRID * way
        value, rise = law.at(felt)
        moment -= way * (felt - value) / (usable * base * across.shape[1])
        slope -= way**2 * (1.0 - rise) / (base * across.shape[1])
    moment[:, 0], slope[:, 0] = 1.0, 1.0
    one = np.ones(len(limit))
    return MomentLaw(limit, moment, rising(moment, slope), one, np.minimum(law.share * side / base[:, 0], 1.0))


def straight_rows(count: int) -> MomentLaw:
    """Rows that never leave the line."""
    one = np.ones(count)
    return MomentLaw(one * np.inf, np.tile(GRID, (count, 1)), np.ones((count, PIECES + 1)), one, 0.0 * one)


def section_law(limit: float, moment: Array, slope: Array, aspect: float = 1.0) -> MomentLaw:
    """Law of one section all of which leaves the line: its limit (1/m) and tables as those of a `PartLaw`."""
    one = np.ones(1)
    return MomentLaw(limit * one, np.atleast_2d(moment), np.atleast_2d(slope), aspect * one, one)


def composed(parts: tuple[PartLaw, ...]) -> MomentLaw:
    """Law of wires whose parts have the same curvature: EI kappa less what each part falls behind its own line.

    Parameters
    ----------
    parts : tuple of PartLaw
        with R stations; parts that stay on the line have the rest of the shares

    Raises
    ------
    ValueError
        where the shares come to so much more than 1 that the moment would fall
    """
    limits = np.stack([np.where(p.share > 0.0, p.limit, np.inf) for p in parts])
    limit = np.min(limits, axis=0)
    usable = np.where(np.isfinite(limit), limit, 1.0)
    curvature = usable[:, None] * GRID
    moment, slope = np.tile(GRID, (len(limit), 1)), np.ones((len(limit), PIECES + 1))
    for part in parts:
        one = np.ones((len(limit), 1))
        own = MomentLaw(part.limit, one * part.moment, one * part.slope, one[:, 0], one[:, 0])
        value, rise = own.at(curvature)
        share = part.share[:, None]
        moment -= share * (curvature - value) / usable[:, None]
        slope -= share * (1.0 - rise)
    moment[:, 0], slope[:, 0] = 1.0, 1.0
    shares = sum((part.share for part in parts), np.zeros(len(limit)))
    across = sum((part.share * part.aspect for part in parts), np.zeros(len(limit)))
    aspect = np.where(shares > 0.0, across / np.where(shares > 0.0, shares, 1.0), 1.0)
    return MomentLaw(limit, moment, rising(moment, slope), aspect, shares)


def in_series(one: MomentLaw, two: MomentLaw, lengths: tuple[Array, Array], turns: tuple[Array, Array]) -> MomentLaw:
    """Law of two pieces, one behind the other, under the same moment: their angles add.

    Parameters
    ----------
    one, two : MomentLaw
        R rows each
    lengths : tuple of ndarray, shape (R,)
        of the pieces, m
    turns : tuple of ndarray, shape (R,)
        angle for each unit of moment on the line, length/EI, rad/(N m)

    Returns
    -------
    MomentLaw
        of the whole, over its mean curvature
    """
    (ha, hb), (ca, cb) = lengths, turns
    whole, turn = ha + hb, ca + cb
    weakest = np.minimum(one.limit * ha / ca, two.limit * hb / cb)  # moment at which the first piece leaves the line
    limit = weakest * turn / whole
    angle = np.where(np.isfinite(limit), limit, 1.0)[:, None] * GRID * whole[:, None]
    a = angle * (ca / turn)[:, None]
    low, high = np.zeros_like(angle), angle.copy()
    for _ in range(SPLIT_STEPS):
        (ma, ra), (mb, rb) = one.at(a / ha[:, None]), two.at((angle - a) / hb[:, None])
        away = ma * (ha / ca)[:, None] - mb * (hb / cb)[:, None]
        low, high = np.where(away > 0.0, low, a), np.where(away > 0.0, a, high)
        new = a - away / (ra / ca[:, None] + rb / cb[:, None])
        new = np.where((new >= low) & (new <= high), new, 0.5 * (low + high))
        if np.max(np.abs(new - a) / angle) < SPLIT:
            break
        a = new
    (ma, ra), (_, rb) = one.at(a / ha[:, None]), two.at((angle - a) / hb[:, None])
    moment = ma * (ha / ca)[:, None] * turn[:, None] / angle * GRID
    slope = turn[:, None] / (ca[:, None] / ra + cb[:, None] / rb)
    moment[:, 0], slope[:, 0] = 1.0, 1.0
    weights = ca * one.share, cb * two.share
    either = weights[0] + weights[1] > 0.0
    aspect = (weights[0] * one.aspect + weights[1] * two.aspect) / np.where(either, weights[0] + weights[1], 1.0)
    share = np.maximum(one.share, two.share)
    return MomentLaw(limit, moment, rising(moment, slope), np.where(either, aspect, 1.0), share)


def rising(moment: Array, slope: Array) -> Array:
    """Slopes at GRID, shape (R, PIECES + 1), cut to MONOTONE times the secants beside them: the cubics then rise.

    Only a curve that stiffens again within one piece of the table is cut, by some per cent of that slope.
    """
    most = MONOTONE * np.diff(moment, axis=1) / np.diff(GRID)
    out = slope.copy()
    out[:, 1:] = np.minimum(out[:, 1:], most)
    out[:, :-1] = np.minimum(out[:, :-1], most)
    return out


def _hermite(moment: Array, slope: Array, x: Array) -> tuple[Array, Array]:
    """Cubics of tables (R, PIECES + 1) and their slopes at x (R, m) of at least 1; beyond the table its last slope."""
    j = np.clip((np.log(x) * PER_LOG).astype(np.int64), 0, PIECES - 1)
    row = np.arange(len(x))[:, None]
    h = GRID[j + 1] - GRID[j]
    t = np.minimum((x - GRID[j]) / h, 1.0)
    past = np.maximum(x - GRID[-1], 0.0)
    a, b, ra, rb = moment[row, j], moment[row, j + 1], slope[row, j], slope[row, j + 1]
    secant = (b - a) / h
    bow, twist = 3.0 * secant - 2.0 * ra - rb, ra + rb - 2.0 * secant
    value = a + h * t * (ra + t * (bow + t * twist)) + past * rb
    return value, ra + t * (2.0 * bow + t * 3.0 * twist)


def _check_table(moment: Array, slope: Array) -> None:
    """Check that tables (R, PIECES + 1) start on the line and rise throughout."""
    if moment.shape != slope.shape or moment.shape[1] != PIECES + 1:
        raise ValueError(f"a law needs {PIECES + 1} moments and slopes")
    if not (np.all(np.isfinite(moment)) and np.all(np.isfinite(slope))):
        raise ValueError("the moments and slopes of a law must be finite")
    if np.any(np.abs(moment[:, 0] - 1.0) > STRAIGHT) or np.any(np.abs(slope[:, 0] - 1.0) > STRAIGHT):
        raise ValueError("a law must leave the line M = EI kappa at its limit without a corner")
    secant = np.diff(moment, axis=1) / np.diff(GRID)
    steep = np.maximum(slope[:, 1:], slope[:, :-1])
    if np.any(slope <= 0.0) or np.any(secant <= 0.0) or np.any(steep > MONOTONE * (1.0 + STRAIGHT) * secant):
        raise ValueError("the bending moment of a law must rise with the curvature throughout")
