"""Codes of what an insertion came to: where the tip is, the wire's shape, one label.

Kernels return the integers, studies count them, pictures colour them. Floor 0.
"""

from enum import IntEnum


class Where(IntEnum):
    """Channel in which the wire's leading point lies at the end of an insertion."""

    BEFORE_TEAR = 0
    TRUE_LUMEN = 1
    FALSE_LUMEN = 2
    REENTERED = 3
    OUTER_WALL = 4
    NOT_SOLVED = 5


class Shape(IntEnum):
    """Shape of the wire's distal part, judged alike in every channel."""

    STRAIGHT = 0
    BUCKLED = 1
    BIGHT_LEADING = 2
    CURLED = 3


class Label(IntEnum):
    """The single label of an insertion, in order of precedence (first that applies)."""

    NOT_SOLVED = 0
    THROUGH_OUTER_WALL = 1
    FALSE_LUMEN_EXTENDED = 2
    FALSE_LUMEN_CURLED = 3
    FALSE_LUMEN_NEITHER = 4
    REENTERED = 5
    TRUE_LUMEN_CURLED_OR_BUCKLED = 6
    TRUE_LUMEN = 7
    NEVER_REACHED_THE_TEAR = 8


class Stop(IntEnum):
    """Why an insertion ended."""

    PROTOCOL_DONE = 0
    FIRST_CURL = 1
    ADVANCE_PAST_TEAR_DONE = 2
    OUTER_WALL_PIERCED = 3
    FLAP_PIERCED = 4
    PUSH_AT_FORCE_CAP = 5
    NOT_CONVERGED = 6
    INTIMA_PIERCED = 7
    ROUND_THE_VESSEL = 8
    ADVANCE_PAST_CURL_DONE = 9
    WEAK_SPOT_PIERCED = 10
    PLANE_EXTENDED = 11


class End(IntEnum):
    """Why a procedure of several attempts ended."""

    TRUE_LUMEN = 0
    ATTEMPTS_USED_UP = 1
    FEED_USED_UP = 2
    WIRE_USED_UP = 3
    PUSH_AT_FORCE_CAP = 4
    PERFORATED = 5
    PIERCED = 6
    ROUND_THE_VESSEL = 7
    REENTERED = 8
    NOT_SOLVED = 9


LABEL_WORDS: dict[Label, str] = {
    Label.NOT_SOLVED: "not solved",
    Label.THROUGH_OUTER_WALL: "through the outer wall",
    Label.FALSE_LUMEN_EXTENDED: "false lumen, plane extended",
    Label.FALSE_LUMEN_CURLED: "false lumen, curled",
    Label.FALSE_LUMEN_NEITHER: "false lumen, neither",
    Label.REENTERED: "re-entered the true lumen",
    Label.TRUE_LUMEN_CURLED_OR_BUCKLED: "true lumen, curled or buckled",
    Label.TRUE_LUMEN: "true lumen",
    Label.NEVER_REACHED_THE_TEAR: "never reached the tear",
}

SHAPE_WORDS: dict[Shape, str] = {
    Shape.STRAIGHT: "neither curled nor buckled",
    Shape.BUCKLED: "buckled",
    Shape.BIGHT_LEADING: "bight leading",
    Shape.CURLED: "curled",
}

# two dictionaries, because codes of different enums with the same number are equal keys
STOP_WORDS: dict[Stop, str] = {
    Stop.PROTOCOL_DONE: "the protocol was carried out",
    Stop.FIRST_CURL: "the tip curled, and the run was to end there",
    Stop.ADVANCE_PAST_TEAR_DONE: "the set advance past the tear was made",
    Stop.ADVANCE_PAST_CURL_DONE: "the set advance past the first curl was made",
    Stop.OUTER_WALL_PIERCED: "the tip force reached the breach force of the outer wall",
    Stop.FLAP_PIERCED: "the tip force reached the breach force of the flap",
    Stop.INTIMA_PIERCED: "the tip force reached the breach force of the intact intima",
    Stop.WEAK_SPOT_PIERCED: "the tip force reached the breach force of the wall's weak spot",
    Stop.PUSH_AT_FORCE_CAP: "the push reached the operator's force cap",
    Stop.PLANE_EXTENDED: "the plane was extended, and the run was to end there",
    Stop.ROUND_THE_VESSEL: "the wire in the false lumen lies round to the far side of the vessel",
    Stop.NOT_CONVERGED: "no equilibrium was found (reported as not solved)",
}

END_WORDS: dict[End, str] = {
    End.TRUE_LUMEN: "through: in the true lumen beyond the tear",
    End.ATTEMPTS_USED_UP: "the largest number of attempts was made",
    End.FEED_USED_UP: "the largest total feed was made",
    End.WIRE_USED_UP: "no more wire to advance, and no sign that a rule answers",
    End.PUSH_AT_FORCE_CAP: "the push reached the operator's force cap, and no rule answers it",
    End.PERFORATED: "the outer wall was pierced",
    End.PIERCED: "the intact intima was pierced (what follows is not simulated)",
    End.ROUND_THE_VESSEL: "the wire in the false lumen lay round to the far side of the vessel",
    End.REENTERED: "in the true lumen beyond the tear, but by way of the false one, through a hole",
    End.NOT_SOLVED: "no equilibrium was found (reported as not solved)",
}
