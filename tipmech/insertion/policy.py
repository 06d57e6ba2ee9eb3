"""What an operator does about a sign: rules, each from a sign to actions in order, and what ends it all. SI units.

The signs an operator has: the image (insertion/glance), the push at the hand, the hand's own feed. Signs of the true
state, which nobody at the table knows, are there for comparison and must be declared.
"""

from dataclasses import dataclass
from math import inf, isfinite
from typing import Literal

from ..checks import FieldError, check_positive, check_range

Sign = Literal[
    "curl_seen",
    "buckled_seen",
    "push_above",
    "advance_past_tear",
    "curl_true",
    "entered_true",
    "true_lumen_past_tear",
]
IMAGE: tuple[Sign, ...] = ("curl_seen", "buckled_seen")
TRUE_STATE: tuple[Sign, ...] = ("curl_true", "entered_true", "true_lumen_past_tear")
LEVELS: tuple[Sign, ...] = ("buckled_seen", "push_above", "advance_past_tear", "true_lumen_past_tear")
"""Signs with a level: beyond the natural bend, rad; N; m; m."""

ActionKind = Literal[
    "advance",
    "withdraw",
    "turn",
    "strokes",
    "withdraw_until_straight",
    "withdraw_until_no_curl_seen",
    "withdraw_before_tear",
]
UNTIL: tuple[ActionKind, ...] = ("withdraw_until_straight", "withdraw_until_no_curl_seen", "withdraw_before_tear")


@dataclass(frozen=True)
class Action:
    """One thing the hand does.

    Parameters
    ----------
    kind : str
        "turn": turn in place; "strokes": to and fro; "withdraw_until_..." and
        "withdraw_before_tear": in steps of the policy's looks, each followed by a look
    amount : float
        m (turn: rad); of strokes the advance of one; of withdrawals "until" the most that is drawn back (inf: to the
        start); of "withdraw_before_tear" how far before the tear the tip's end shall stand
    turn : float
        rad, turned over an advance or a withdrawal
    back : float
        m, drawn back after each stroke
    count : int
        strokes
    """

    kind: ActionKind
    amount: float
    turn: float = 0.0
    back: float = 0.0
    count: int = 1

    def __post_init__(self) -> None:
        if self.kind == "turn":
            check_range(self.amount, name="turn")
        elif self.kind not in UNTIL or isfinite(self.amount):
            check_positive(self.amount, name=self.kind)
        check_range(self.back, name="back", low=0.0)
        if self.count < 1:
            raise FieldError("count", self.count, "at least 1")

    @property
    def surely_feeds(self) -> bool:
        """Whether it moves the wire along, whatever is seen."""
        return self.kind in ("advance", "withdraw", "strokes")


@dataclass(frozen=True)
class Rule:
    """`when` the sign is there (at or above `level`, where it has one), the attempt is over, and `then` is done."""

    when: Sign
    then: tuple[Action, ...]
    level: float = 0.0
    true_state: bool = False

    def __post_init__(self) -> None:
        if not self.then:
            raise FieldError("then", [], "at least one action")
        if self.when in LEVELS:
            check_positive(self.level, name="level")
        if self.when in TRUE_STATE and not self.true_state:
            allowed = f"true with when = {self.when!r}, which no operator sees: such a rule is for comparison only"
            raise FieldError("true_state", False, allowed)


@dataclass(frozen=True)
class Policy:
    """An operator: advances, looks, and answers the first sign in the order of the rules.

    Parameters
    ----------
    rules : tuple of Rule
        asked in this order after each look; without a sign the hand goes on advancing
    look_every : float
        feed between two looks, m
    attempts : int or None
        largest number; a rule that would begin one more ends the procedure
    feed : float
        largest travel of the hand, advances and withdrawals together, m
    true_lumen : float
        the procedure has succeeded when the tip leads in the true lumen this far beyond the tear, m
    drill : float
        turned per feed while advancing, rad/m

    Raises
    ------
    FieldError
        where the policy would have no end
    """

    rules: tuple[Rule, ...]
    look_every: float
    feed: float
    true_lumen: float
    attempts: int | None = None
    drill: float = 0.0

    def __post_init__(self) -> None:
        for name in ("look_every", "true_lumen"):
            check_positive(getattr(self, name), name=name)
        check_range(self.drill, name="drill")
        if self.feed == inf:
            raise FieldError("stop.feed", "unbounded", "a largest total feed, so that the policy ends")
        check_range(self.feed, name="stop.feed", low=self.look_every)
        self._check_all_can_be_asked()
        if self.attempts is not None:
            if self.attempts < 1:
                raise FieldError("stop.attempts", self.attempts, "at least 1")
            return
        for number, rule in enumerate(self.rules, start=1):
            if not any(action.surely_feeds for action in rule.then):
                allowed = (
                    "an action that surely advances or withdraws in every rule, or a largest number of attempts in "
                    "stop.attempts: this policy never ends"
                )
                raise FieldError(f"rules[{number}].then", ", ".join(a.kind for a in rule.then), allowed)

    def _check_all_can_be_asked(self) -> None:
        """Check that no rule stands behind one that answers its sign first, or behind the success."""
        for number, rule in enumerate(self.rules, start=1):
            for earlier, other in enumerate(self.rules[: number - 1], start=1):
                if other.when == rule.when and other.level <= rule.level:
                    lower = " at a lower level" if rule.when in LEVELS else ""
                    allowed = f"another sign: rules[{earlier}] answers this one{lower} first, so this rule never acts"
                    raise FieldError(f"rules[{number}].when", rule.when, allowed)
            if rule.when == "true_lumen_past_tear" and rule.level >= self.true_lumen:
                allowed = f"less than true_lumen, {self.true_lumen:g}, at which the procedure has succeeded"
                raise FieldError(f"rules[{number}].level", rule.level, allowed)

    @property
    def looks(self) -> bool:
        """Whether a rule asks for the image."""
        return any(rule.when in IMAGE for rule in self.rules)
