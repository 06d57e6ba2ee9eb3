"""What bent a wire that did not go on: the advance that counts, how its push fell, what it has come to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..insertion.record import Array, Record
from ..outcome import Shape
from .rates import NO_FORCE, rate

MM, MN = 1e3, 1e3
FELL = 2.0 / 3.0  # of the largest push: what is left of it at the end, at most, where a wire has folded
FOLLOWS = 0.5  # of the hand's advance: less of it reaches the tip where a wire folds
STILL = 1e-9  # m: less is no movement


class Form(Enum):
    """What a wire behind the flap has come to: its shape, and whether it folded."""

    CURLED = "curled"
    BIGHT = "a bight leads"
    FOLDED = "folded"
    BUCKLED = "buckled"
    NONE = ""


@dataclass(frozen=True)
class Fall:
    """How the push fell: from and to (N), and the advance of hand and tip meanwhile (m)."""

    largest: float
    last: float
    hand: float
    tip: float

    @property
    def words(self) -> str:
        """The fall as the end of a sentence."""
        hand, tip = (round(MM * way, 1) + 0.0 for way in (self.hand, self.tip))
        fell = f"{MN * self.largest:.1f} to {MN * self.last:.1f} mN"
        return f"; the push fell from {fell} over {hand:.1f} mm of the hand, {tip:.1f} mm of the tip"


def last_advance(record: Record) -> int:
    """First row of the last advance: 0 where the wire was never drawn back, or ends so."""
    return _last_advance(record.feed, _diameter(record))


def fall(record: Record) -> Fall | None:
    """How the push fell as the wire of a record folded (`fall_of`); None where it did not."""
    return fall_of(record.feed, record.push, record.tip_s, _diameter(record))


def fall_of(feed: Array, push: Array, tip_s: Array, diameter: float) -> Fall | None:
    """How the push fell as a wire folded: at least to `FELL` while the hand went on, of which less than `FOLLOWS`
    reached the tip; None where it did not, or nothing was to be felt.

    Parameters
    ----------
    feed, push, tip_s : ndarray, shape (n,)
        of each row: feed of the hand, m; push, N; axial position of the tip, m
    diameter : float
        of the wire at its tip, m
    """
    since = _last_advance(feed, diameter)
    row = since + int(np.argmax(push[since:]))
    largest, last = float(push[row]), float(push[-1])
    hand, tip = float(feed[-1] - feed[row]), float(tip_s[-1] - tip_s[row])
    went_on = hand >= diameter and tip < FOLLOWS * hand
    return Fall(largest, last, hand, tip) if largest > NO_FORCE and last <= FELL * largest and went_on else None


def form(shape: Shape, *, fell: bool) -> Form:
    """What a wire behind the flap has come to; fell : whether its push fell as that of one that folds does."""
    if shape == Shape.CURLED:
        return Form.CURLED
    if shape == Shape.BIGHT_LEADING:
        return Form.BIGHT
    if fell:
        return Form.FOLDED
    return Form.BUCKLED if shape == Shape.BUCKLED else Form.NONE


def largest_share(record: Record, until: int) -> str:
    """What took most of the largest push of the last advance up to a row: fold, friction or walls; or that the lips
    bore more along the vessel."""
    since = last_advance(record)
    row = since + int(np.argmax(record.push[since : max(until, since) + 1]))
    push, lip = float(record.push[row]), float(record.force_lip_along[row])
    taken = {
        "fold": rate(record, record.energy_elastic),
        "friction": rate(record, record.diss_friction),
        "walls": rate(record, record.energy_contact),
    }
    name, most = max(((name, float(values[row])) for name, values in taken.items()), key=lambda one: one[1])
    if max(lip, most) <= NO_FORCE:
        return f"nothing held it, the largest push was {MN * push:.2g} mN"
    bore = f"the lips bore {MN * lip:.1f} mN along the vessel"
    if lip > most:
        return f"{bore} at the largest push, {MN * push:.1f} mN"
    return f"{name} took {MN * most:.1f} of the largest push, {MN * push:.1f} mN{f'; {bore}' if lip > NO_FORCE else ''}"


def _last_advance(feed: Array, diameter: float) -> int:
    back = np.flatnonzero(np.diff(feed) < -STILL)
    if len(back) == 0:
        return 0
    start = int(back[-1]) + 1
    return start if feed[-1] - feed[start] >= diameter else 0


def _diameter(record: Record) -> float:
    """The wire's diameter at its tip, m."""
    return 2.0 * float(record.case.profile.radius[0])
