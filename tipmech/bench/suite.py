"""All bench tests of one wire, as the page of `tipmech wire` shows them."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import TypeVar

from ..checks import FieldError
from ..profile import Profile
from ..rod.errors import NotConvergedError
from ..wire.design import Design, profile
from .bend import BendTest, bend
from .column import ColumnTest, column
from .flexure import FlexureTest, flexure
from .lateral import FREE_LENGTHS as LATERAL_LENGTHS
from .lateral import LateralTest, lateral
from .prolapse import Prolapse, prolapse
from .tip_load import FREE_LENGTH, FREE_LENGTHS, LONG_TRAVEL, TipLoad, tip_load
from .tip_shape import STANDARD_TIP, Shape
from .torque import Torque, torque_response
from .track import Track, trackability

R = TypeVar("R")


@dataclass(frozen=True)
class Suite:
    """Results of every bench test of a wire.

    stock : Profile, the wire as simulated
    tip_load : tests at FREE_LENGTHS up to LONG_TRAVEL; main : the one at FREE_LENGTH
    shaped_load : largest force at FREE_LENGTH with the preshape, N (that of the straight wire where it has none)
    free, pinned : largest forces with a free and a pinned tip at FREE_LENGTHS, N
    lateral : tests at LATERAL_LENGTHS
    flexure, column, prolapse, bend, torque, track : one of each; torque with a straight tip
    torque_shaped : with the design's bends, STANDARD_TIP where it has none
    not_made : test -> why it could not be made with this wire; its result is None then
    """

    stock: Profile
    tip_load: tuple[TipLoad, ...]
    shaped_load: float | None
    free: tuple[float, ...]
    pinned: tuple[float, ...]
    lateral: tuple[LateralTest, ...]
    flexure: FlexureTest | None
    column: ColumnTest | None
    prolapse: Prolapse | None
    bend: BendTest
    torque: Torque | None
    torque_shaped: Torque | None
    track: Track | None
    not_made: dict[str, str]

    @property
    def main(self) -> TipLoad:
        """The tip-load test at FREE_LENGTH."""
        return self.tip_load[FREE_LENGTHS.index(FREE_LENGTH)]


def run_suite(design: Design, on_progress: Callable[[float], None] | None = None) -> Suite:
    """All bench tests of a design under its stated coupling; `on_progress` is called with the share done.

    A test that this wire does not allow (too short for the tube, too thick for its bore) or that finds no equilibrium
    is left out and named in `not_made`; tip load, lateral stiffness and bends every wire has.
    """
    stock, shape = profile(design), Shape.of(design)
    report = on_progress or (lambda share: None)
    not_made: dict[str, str] = {}

    def made(name: str, test: Callable[[], R]) -> R | None:
        try:
            return test()
        except (FieldError, NotConvergedError) as error:
            not_made[name] = str(error)
            return None

    report(0.0)
    loads = tuple(tip_load(stock, length, travel=LONG_TRAVEL) for length in FREE_LENGTHS)
    free, pinned = (
        tuple(tip_load(stock, length, friction=friction).force for length in FREE_LENGTHS) for friction in (0.0, inf)
    )
    shaped_load = None
    if shape.arcs:
        shaped_load = made("tip load with its preshape", lambda: tip_load(stock, shape=shape).force)
    report(0.1)
    sideways, bending = tuple(lateral(stock, length) for length in LATERAL_LENGTHS), bend(design)
    flexed = made("three-point flexure", lambda: flexure(stock))
    report(0.2)
    straight, gap = made("column", lambda: column(stock)), made("prolapse", lambda: prolapse(stock))
    report(0.4)
    turned = made("torque response", lambda: torque_response(stock))
    shaped = None
    if turned is not None:
        bent = shape if shape.arcs else STANDARD_TIP
        shaped = made("torque response with a shaped tip", lambda: torque_response(stock, shape=bent))
    report(0.7)
    pushed = made("tracking", lambda: trackability(stock))
    report(1.0)
    return Suite(
        stock, loads, shaped_load, free, pinned, sideways, flexed, straight, gap, bending, turned, shaped, pushed,
        not_made,
    )  # fmt: skip
