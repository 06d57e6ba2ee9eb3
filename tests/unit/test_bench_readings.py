"""Figures that are had without the whole test are those of the whole test; a whip number tells whether a tip whips."""

import numpy as np
import pytest

from tipmech.bench.column import column, strength
from tipmech.bench.prolapse import onset, prolapse
from tipmech.bench.tip_shape import one_bend
from tipmech.bench.torque import torque_response
from tipmech.bench.track import advance, trackability
from tipmech.files.wire import read_wire
from tipmech.wire.design import profile

WIRE = profile(read_wire("workhorse"))


def test_parts_of_a_test_are_those_of_the_whole() -> None:
    loads = column(WIRE, unsupported=(10e-3,)).loads
    alone = strength(WIRE)
    assert (alone.pinned, alone.clamped) == (loads["clamped-pinned"], loads["clamped-clamped"])
    assert onset(WIRE).critical == prolapse(WIRE, states=2).critical
    whole = trackability(WIRE, frictions=(0.1,), scales=(1.0,), ways=(2e-3,))
    part = advance(WIRE)
    assert (part.drag, part.gain) == pytest.approx((whole.drag, whole.gain), rel=1e-6)
    assert part.definition == whole.definition


def test_a_tip_whips_beyond_a_whip_number_of_one() -> None:
    """A shape in one point under a spring: the steepest torque per roll against the torque per turn; little later here,
    for the wire within the shape turns too."""
    below, above = (torque_response(WIRE, shape=one_bend(np.radians(a), 2e-3), friction=0.0) for a in (60.0, 75.0))
    assert below.whip_number < 1.0 and below.whip == 0.0
    assert above.whip_number > 1.15 and above.whip > 1.0
    assert np.isnan(torque_response(WIRE, turns=0.1).whip_number)
