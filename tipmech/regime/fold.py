"""The force at which a tip folds in a pocket, by pushing the plane elastica of the reduced model against the front."""

from dataclasses import dataclass, replace
from enum import IntEnum
from math import inf, nan, sqrt

import numpy as np
from numpy.typing import NDArray

from .chain import CURLED, DRIVEN, HELD, STUCK, push
from .groove import STATION, Chain, Groove
from .pocket import Pocket

Array = NDArray[np.float64]

LINK = 0.15e-3  # m: two thirds of it and half the feed's step move F_fold by up to 8 %, most where the sides yield
STEP = 0.1e-3  # m of feed, that of an insertion
START = 0.2e-3  # m of feed at the first step
MORE = 8e-3  # m of feed beyond the way to the front: curls in insertions begin 2 to 4 mm after touching it
BORE = 25.0  # of EI/r^4: line stiffness of the bore, that of an insertion's support
FLAW = (
    0.1  # 1/m, natural curvature that a straight wire has to one side, so that it does not stay on an unstable branch
)
LOWEST = 1.0 / 16.0  # of the largest force met before a front that stands: F_fold is looked for from there
TOLERANCE = 0.03  # relative width of the bracket of F_fold


class Way(IntEnum):
    """What the wire does against the front."""

    DRIVES_ON = 0
    CURLS = 1
    BOWS = 2
    NOT_SOLVED = 3


@dataclass(frozen=True)
class Push:
    """One push. way: `Way`; feed, force, angle, lead, across, moved : ndarray, shape (k,), m, N, rad, m, m, m: feed,
    force on the front, the tip's angle, leading point ahead of the tip, the tip's place across, the front's way."""

    way: Way
    feed: Array
    force: Array
    angle: Array
    lead: Array
    across: Array
    moved: Array

    @property
    def peak(self) -> float:
        """Largest force on the front, N."""
        return float(np.max(self.force, initial=0.0))


@dataclass(frozen=True)
class Fold:
    """Force between driving the front on (at low) and not (at high), N; nan: not solved.

    above: what the wire does at `high`: it curls, or bows aside so that neither happens within the feed.
    peak, standing: the largest force that a front takes which nothing drives on (N), and what the wire does there
    """

    low: float
    high: float
    above: Way
    peak: float
    standing: Way

    @property
    def force(self) -> float:
        """Geometric middle, N."""
        return sqrt(self.low * self.high)


def push_wire(p: Pocket, link: float = LINK, step: float = STEP) -> Push:
    """Feed the wire of a pocket against its front until the tip has curled, the front has gone 0.5 mm, or the end.

    link, step: length of a link and of a step of feed, m.
    """
    most = p.reach + MORE
    c, g = _chain(p, most, link), _groove(p)
    feed = np.arange(START, most, step)
    out = np.zeros((len(feed), 5))
    steps, ended = push(c, g, feed, out)
    way = {CURLED: Way.CURLS, DRIVEN: Way.DRIVES_ON, STUCK: Way.NOT_SOLVED}.get(ended, Way.BOWS)
    return Push(way, feed[:steps], *out[:steps].T)


def fold_force(p: Pocket, link: float = LINK, step: float = STEP, tolerance: float = TOLERANCE) -> Fold:
    """Largest front force that the wire drives on before it curls or bows aside. theory (94).

    Bisection between a fraction of the largest force that a standing front takes and that force: beyond it the front
    does not move. It is taken that there is one crossing.
    """
    rigid = push_wire(replace(p, front_force=inf), link, step)
    if rigid.way is Way.NOT_SOLVED or rigid.peak <= 0.0:
        return Fold(nan, nan, Way.NOT_SOLVED, nan, rigid.way)
    low, high, above = LOWEST * rigid.peak, rigid.peak * (1.0 + tolerance), rigid.way
    while high / low > 1.0 + tolerance:
        middle = sqrt(low * high)
        way = push_wire(replace(p, front_force=middle), link, step).way
        if way is Way.NOT_SOLVED:
            return Fold(nan, nan, way, rigid.peak, rigid.way)
        if way is Way.DRIVES_ON:
            low = middle
        else:
            high, above = middle, way
    return Fold(low, high, above, rigid.peak, rigid.way)


def _groove(p: Pocket) -> Groove:
    """Groove of a pocket."""
    radius = 0.5 * p.diameter
    return Groove(
        clear=p.clear,
        bore=BORE * float(np.max(p.EI)) / radius**4,
        half=0.5 * p.width,
        wall=p.wall,
        limit=p.limit,
        front=p.reach,
        front_force=p.front_force,
        front_stiffness=p.front_stiffness,
        notch=p.notch,
        radius=radius,
        tip_radius=p.tip_radius,
        friction=p.friction,
        front_friction=p.front_friction,
        curved=p.curved,
    )


def _chain(p: Pocket, most: float, link: float) -> Chain:
    """Chain of a wire, long enough to be fed by `most` (m)."""
    n = int((most + HELD) / link) + 1
    joint = (np.arange(n) + 1.0) * link  # from the tip
    share = np.clip(p.bend_length - (joint - 0.5 * link), 0.0, link)
    bend = p.bend * share / np.sum(share) + FLAW * link
    stations = int(most / STATION) + 2

    def zeros(*shape: int) -> Array:
        return np.zeros(shape)

    pinch = np.zeros(stations)
    held = min(stations, len(p.pinch))
    pinch[:held] = p.pinch[:held]
    return Chain(
        step=link,
        stiff=np.interp(joint, p.distance, p.EI) / link,
        bend=bend,
        theta=zeros(n),
        trial=zeros(n),
        x=zeros(n),
        y=zeros(n),
        inside=zeros(n),
        edge=zeros(stations, 2),
        out=zeros(n, 2),
        pinch=pinch,
        anchor=zeros(n, 4),
        normal=zeros(n, 3),
        grad=zeros(n),
        move=zeros(n),
        lead=zeros(n),
        lead1=zeros(n),
        lead2=zeros(n),
        share=zeros(n),
        sums=zeros(n, 7),
        hess=zeros(n, n),
        factor=zeros(n, n),
    )
