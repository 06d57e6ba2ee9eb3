"""The buckling column: the elastica's path, and that a taper leaves it."""

from dataclasses import replace

import numpy as np
import pytest

from tipmech.bench.buckling import LARGEST_TURN, buckling
from tipmech.bench.column import column
from tipmech.checks import FieldError
from tipmech.closed_forms import euler_load, free_elastica
from tipmech.profile import uniform

EI, LENGTH = 4e-8, 10e-3


def test_a_uniform_wire_follows_the_elastica():
    test = buckling(uniform(EI, 0.1), LENGTH)
    assert test.critical == pytest.approx(euler_load(EI, LENGTH, "clamped-free"), rel=1e-3)
    assert test.turned[-1] > LARGEST_TURN and np.all(np.diff(test.turned[1:]) > 0.0)
    for load, aside, shortening, turned in zip(test.load, test.aside, test.shortening, test.turned, strict=True):
        if turned < 0.1:
            continue
        force, tip = free_elastica(turned)
        assert load * LENGTH**2 / EI == pytest.approx(force, rel=2e-3)
        assert aside / LENGTH == pytest.approx(tip.y, rel=2e-3)
        assert shortening / LENGTH == pytest.approx(1.0 - tip.x, abs=2e-3)


def test_its_critical_load_is_that_of_the_column_test():
    wire = uniform(EI, 0.1)
    soft = replace(wire, EI1=wire.EI1 * np.linspace(0.5, 1.0, len(wire.distance)), EI2=wire.EI2)
    for one in (wire, soft):
        assert buckling(one, LENGTH).critical == pytest.approx(column(one, LENGTH).loads["clamped-free"], rel=1e-4)


def test_states_are_straight_first_and_shapes_end_at_the_deflection():
    test = buckling(uniform(EI, 0.1), LENGTH)
    assert test.load[0] == test.aside[0] == test.aside[1] == 0.0
    np.testing.assert_allclose(test.shapes[:, -1, 1], test.aside, atol=1e-12)
    np.testing.assert_allclose(test.shapes[:, -1, 0], LENGTH - test.shortening, atol=1e-9)


def test_a_length_beyond_the_wire_is_refused():
    with pytest.raises(FieldError, match="free_length"):
        buckling(uniform(EI, 0.1), 0.2)
