"""The table [policy]: an operator's rules in users' units, from signs to actions, and the ends of a procedure.

Basis of the defaults: docs/parameters.md, "Attempts".
"""

from math import radians
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from ..checks import Said
from ..insertion.policy import Action, Policy, Rule, Sign
from .common import FieldError, Model

MM = 1e-3
LEVEL_OF = {
    "buckled_seen": "beyond_deg",
    "push_above": "push_mn",
    "advance_past_tear": "past_mm",
    "true_lumen_past_tear": "past_mm",
}
KINDS = ("advance_mm", "withdraw_mm", "withdraw_until", "withdraw_before_tear_mm", "redirect_deg", "strokes")
ALONE = "turn_deg"  # with advance_mm or withdraw_mm: turned meanwhile; alone: in place

Feed = Annotated[float, Field(gt=0, le=400)]
Turn = Annotated[float, Field(ge=-7200, le=7200)]


class ActionTable(Model):
    """One entry of `then`: exactly one thing the hand does, a turn also while it feeds."""

    advance_mm: Feed | None = None
    withdraw_mm: Feed | None = None
    turn_deg: Turn | None = None
    withdraw_until: Literal["straight", "no_curl_seen"] | None = None
    withdraw_before_tear_mm: Annotated[float, Field(gt=0, le=100)] | None = None
    redirect_deg: Turn | None = None
    most_mm: Feed | None = None
    strokes: Annotated[int, Field(ge=1, le=100)] | None = None
    stroke_mm: Annotated[float, Field(gt=0, le=20)] | None = None
    back_mm: Annotated[float, Field(ge=0, le=20)] | None = None

    @model_validator(mode="after")
    def _one_thing(self) -> Self:
        given = [k for k in KINDS if getattr(self, k) is not None]
        turns = self.turn_deg is not None
        if len(given) + (turns and given not in (["advance_mm"], ["withdraw_mm"])) != 1:
            what = Said(f"a table with {' and '.join(given + [ALONE] * turns) or 'nothing'}")
            allowed = f"exactly one of {', '.join((*KINDS, ALONE))} in each action (turn_deg also beside advance_mm or "
            raise FieldError("", what, allowed + "withdraw_mm)")
        kind = (given or [ALONE])[0]
        for name, owners in (
            ("most_mm", ("withdraw_until", "redirect_deg")),
            ("stroke_mm", ("strokes",)),
            ("back_mm", ("strokes",)),
        ):
            if getattr(self, name) is not None and kind not in owners:
                raise FieldError(name, getattr(self, name), f"nothing here, only beside {' or '.join(owners)}")
        if kind == "strokes":
            if self.stroke_mm is None:
                raise FieldError("stroke_mm", None, "the advance of one stroke, mm, because strokes is given")
            if self.back_mm is not None and self.back_mm > self.stroke_mm:
                raise FieldError("back_mm", self.back_mm, f"at most stroke_mm, {self.stroke_mm:g}")
        return self

    def actions(self) -> tuple[Action, ...]:
        """The action in SI; a redirection is two."""
        most = (400.0 if self.most_mm is None else self.most_mm) * MM
        turn = radians(self.turn_deg or 0.0)
        if self.advance_mm is not None:
            return (Action("advance", self.advance_mm * MM, turn=turn),)
        if self.withdraw_mm is not None:
            return (Action("withdraw", self.withdraw_mm * MM, turn=turn),)
        if self.withdraw_before_tear_mm is not None:
            return (Action("withdraw_before_tear", self.withdraw_before_tear_mm * MM),)
        if self.withdraw_until is not None:
            straight = self.withdraw_until == "straight"
            return (Action("withdraw_until_straight" if straight else "withdraw_until_no_curl_seen", most),)
        if self.redirect_deg is not None:
            return (Action("withdraw_until_straight", most), Action("turn", radians(self.redirect_deg)))
        if self.strokes is not None and self.stroke_mm is not None:
            return (Action("strokes", self.stroke_mm * MM, back=(self.back_mm or 0.0) * MM, count=self.strokes),)
        return (Action("turn", turn),)


class RuleTable(Model):
    """[[policy.rules]]: `when` a sign is there, `then` these actions in order."""

    when: Sign
    then: Annotated[tuple[ActionTable, ...], Field(min_length=1, max_length=20)]
    beyond_deg: Annotated[float, Field(ge=5, le=180)] | None = None
    push_mn: Annotated[float, Field(gt=0, le=10000)] | None = None
    past_mm: Annotated[float, Field(gt=0, le=100)] | None = None
    true_state: bool = False

    @model_validator(mode="after")
    def _level(self) -> Self:
        wanted = LEVEL_OF.get(self.when)
        for name in dict.fromkeys(LEVEL_OF.values()):
            value: Any = getattr(self, name)
            if name == wanted and value is None:
                raise FieldError(name, None, f'a number, because when = "{self.when}"')
            if name != wanted and value is not None:
                raise FieldError(name, value, f'nothing here with when = "{self.when}"')
        return self

    def rule(self) -> Rule:
        """The rule in SI."""
        level = 0.0
        if self.beyond_deg is not None:
            level = radians(self.beyond_deg)
        elif self.push_mn is not None:
            level = self.push_mn * 1e-3
        elif self.past_mm is not None:
            level = self.past_mm * MM
        then = tuple(action for table in self.then for action in table.actions())
        return Rule(self.when, then, level, self.true_state)


class PolicyStopTable(Model):
    """[policy.stop]: what ends a procedure without success. At least the total feed is bounded."""

    attempts: Annotated[int, Field(ge=1, le=1000)] | None = None
    feed_mm: Annotated[float, Field(gt=0, le=100000)] | None = None


class PolicyTable(Model):
    """[policy]: when the operator looks, what counts as through, rules and ends."""

    look_every_mm: float = Field(default=1.0, ge=0.1, le=10)
    true_lumen_mm: float = Field(default=5.0, gt=0, le=100)
    drill_deg_per_mm: float = Field(default=0.0, ge=-720, le=720)
    rules: Annotated[tuple[RuleTable, ...], Field(min_length=1, max_length=20)]
    stop: PolicyStopTable = PolicyStopTable()

    @model_validator(mode="after")
    def _ends(self) -> Self:
        if self.stop.feed_mm is None:
            allowed = "a largest total feed in mm, advances and withdrawals together: without it the policy never ends"
            raise FieldError("stop.feed_mm", None, allowed)
        self.policy()
        return self

    def check_pushes(self, cap: float, field: str) -> None:
        """Check that every push asked for lies below the hand's cap (N), the value of `field`."""
        for number, rule in enumerate(self.rules, start=1):
            if rule.push_mn is not None and rule.push_mn * 1e-3 >= cap:
                allowed = f"less than the hand's largest push, {field}, {cap * 1e3:g} mN"
                raise FieldError(f"policy.rules[{number}].push_mn", rule.push_mn, allowed)

    def check_feed(self, way: float) -> None:
        """Check that the largest total feed brings the wire to the tear, `way` (m) from where it starts."""
        if (self.stop.feed_mm or 0.0) * MM < way - 1e-9:
            allowed = f"at least {way / MM:.4g}, the way to the tear: the wire would never get there"
            raise FieldError("policy.stop.feed_mm", self.stop.feed_mm, allowed)

    def check_reach(self, beyond: float, what: str) -> None:
        """Check that every advance past the tear asked for lies within the wire there is `beyond` it (m; `what`)."""
        for number, rule in enumerate(self.rules, start=1):
            if rule.when == "advance_past_tear" and (rule.past_mm or 0.0) * MM > beyond:
                allowed = f"at most {what}, {beyond / MM:g}, the wire there is beyond the tear"
                raise FieldError(f"policy.rules[{number}].past_mm", rule.past_mm, allowed)

    def policy(self) -> Policy:
        """The policy in SI; `FieldError` where it has no end, or a rule asks for the true state undeclared."""
        rules = []
        for number, table in enumerate(self.rules, start=1):
            try:
                rules.append(table.rule())
            except FieldError as error:
                raise FieldError(f"rules[{number}].{error.field}", error.value, error.allowed) from None
        return Policy(
            rules=tuple(rules),
            look_every=self.look_every_mm * MM,
            feed=(self.stop.feed_mm or 0.0) * MM,
            true_lumen=self.true_lumen_mm * MM,
            attempts=self.stop.attempts,
            drill=radians(self.drill_deg_per_mm) / MM,
        )
