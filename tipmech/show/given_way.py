"""What bent a wire that did not go on, read off a finished record: the advance that counts, and how its push fell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..insertion.record import Record
from .rates import NO_FORCE, rate

MM, MN = 1e3, 1e3
FELL = 2.0 / 3.0  # of the largest push: what is left of it at the end, at most, where a wire has folded
FOLLOWS = 0.5  # of the hand's advance: less of it reaches the tip where a wire folds
STILL = 1e-9  # m: less is no movement


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
    back = np.flatnonzero(np.diff(record.feed) < -STILL)
    if len(back) == 0:
        return 0
    start = int(back[-1]) + 1
    return start if record.feed[-1] - record.feed[start] >= _diameter(record) else 0


def fall(record: Record) -> Fall | None:
    """How the push fell as a wire folded: at least to `FELL` while the hand went on, of which less than `FOLLOWS`
    reached the tip; None where it did not, or nothing was to be felt."""
    since = last_advance(record)
    row = since + int(np.argmax(record.push[since:]))
    largest, last = float(record.push[row]), float(record.push[-1])
    hand, tip = float(record.feed[-1] - record.feed[row]), float(record.tip_s[-1] - record.tip_s[row])
    went_on = hand >= _diameter(record) and tip < FOLLOWS * hand
    return Fall(largest, last, hand, tip) if largest > NO_FORCE and last <= FELL * largest and went_on else None


def largest_share(record: Record, until: int) -> str:
    """What took most of the largest push of the last advance up to a row: fold or friction; or that the lips bore
    more."""
    since = last_advance(record)
    row = since + int(np.argmax(record.push[since : max(until, since) + 1]))
    push, lip = float(record.push[row]), float(record.force_lip[row])
    taken = {"fold": rate(record, record.energy_elastic), "friction": rate(record, record.diss_friction)}
    name, most = max(((name, float(values[row])) for name, values in taken.items()), key=lambda one: one[1])
    if max(lip, most) <= NO_FORCE:
        return f"nothing held it, the largest push was {MN * push:.2g} mN"
    bore = f"the lips bore {MN * lip:.1f} mN"
    if lip > most:
        return f"{bore} at the largest push, {MN * push:.1f} mN"
    return f"{name} took {MN * most:.1f} of the largest push, {MN * push:.1f} mN{f'; {bore}' if lip > NO_FORCE else ''}"


def _diameter(record: Record) -> float:
    """The wire's diameter at its tip, m."""
    return 2.0 * float(record.case.profile.radius[0])
