"""All bench tests of one wire, as the page of `tipmech wire` shows them."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from ..profile import Profile
from ..wire.design import Design, profile
from .bend import BendTest, bend
from .column import ColumnTest, column
from .flexure import FlexureTest, flexure
from .lateral import FREE_LENGTHS as LATERAL_LENGTHS
from .lateral import LateralTest, lateral
from .prolapse import Prolapse, prolapse
from .tip_load import FREE_LENGTH, FREE_LENGTHS, LONG_TRAVEL, TipLoad, tip_load
from .torque import Torque, torque_response
from .track import Track, trackability


@dataclass(frozen=True)
class Suite:
    """Results of every bench test of a wire.

    stock : Profile, the wire as simulated
    tip_load : tests at FREE_LENGTHS up to LONG_TRAVEL; main : the one at FREE_LENGTH
    shaped_load : largest force at FREE_LENGTH with the preshape, N (that of the straight wire where it has none)
    free, pinned : largest forces at FREE_LENGTH with a free and a pinned tip, N
    lateral : tests at LATERAL_LENGTHS
    flexure, column, prolapse, bend, track : one of each
    torque : straight; torque_shaped : with the design's first bend (the same where it has none)
    """

    stock: Profile
    tip_load: tuple[TipLoad, ...]
    shaped_load: float
    free: float
    pinned: float
    lateral: tuple[LateralTest, ...]
    flexure: FlexureTest
    column: ColumnTest
    prolapse: Prolapse
    bend: BendTest
    torque: Torque
    torque_shaped: Torque
    track: Track

    @property
    def main(self) -> TipLoad:
        """The tip-load test at FREE_LENGTH."""
        return self.tip_load[FREE_LENGTHS.index(FREE_LENGTH)]


def run_suite(design: Design, on_progress: Callable[[float], None] | None = None) -> Suite:
    """All bench tests of a design under its stated coupling; `on_progress` is called with the share done."""
    stock, bent = profile(design), design.bend
    report = on_progress or (lambda share: None)
    report(0.0)
    loads = tuple(tip_load(stock, length, travel=LONG_TRAVEL) for length in FREE_LENGTHS)
    free, pinned = (tip_load(stock, friction=friction).force for friction in (0.0, inf))
    bends = bent.angle > 0.0 or design.second_bend is not None
    shaped_load = tip_load(stock, shape=design.natural_curvature).force if bends else tip_load(stock).force
    report(0.1)
    sideways, bending = tuple(lateral(stock, length) for length in LATERAL_LENGTHS), flexure(stock)
    report(0.2)
    straight, gap, curved = column(stock), prolapse(stock), bend(design)
    report(0.4)
    turned = torque_response(stock)
    shaped = torque_response(stock, bend_angle=bent.angle, bend_length=bent.length) if bent.angle > 0.0 else turned
    report(0.7)
    pushed = trackability(stock)
    report(1.0)
    return Suite(
        stock, loads, shaped_load, free, pinned, sideways, bending, straight, gap, curved, turned, shaped, pushed
    )
