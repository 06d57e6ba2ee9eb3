"""The projection onto the centreline is the inverse of the centreline's frame, for every vessel the files allow."""

from math import radians

import numpy as np
import pytest

from tipmech.vessel.place import foot
from tipmech.vessel.scene import Centreline

LEAD, TAIL, AWAY = 20e-3, 30e-3, 0.5e-3  # m


@pytest.mark.parametrize("make", [Centreline.arc, Centreline.s_curve])
@pytest.mark.parametrize("angle", [30.0, 60.0, 90.0, 120.0, 150.0, 180.0])
@pytest.mark.parametrize("radius", [5e-3, 10e-3, 25e-3])
def test_a_point_is_found_where_it_was_put(make, angle, radius):
    line = make(LEAD, radius, radians(angle), TAIL, 0.7)
    rng = np.random.default_rng(4)
    s = np.sort(rng.uniform(1e-3, line.length - 1e-3, 300))
    phi = rng.uniform(-3.1, 3.1, 300)
    point, tangent, e1, e2 = line.frame(s)
    x = point + AWAY * (np.cos(phi)[:, None] * e1 + np.sin(phi)[:, None] * e2)
    found = [foot(line.pieces(), *p) for p in x]
    np.testing.assert_allclose([p.s for p in found], s, atol=1e-9)
    np.testing.assert_allclose([p.r for p in found], AWAY, rtol=1e-6)
    np.testing.assert_allclose(np.sin([p.phi - a for p, a in zip(found, phi, strict=True)]), 0.0, atol=1e-6)
    np.testing.assert_allclose([p.t for p in found], tangent, atol=1e-9)


def test_a_point_before_or_beyond_the_vessel_belongs_to_its_end():
    line = Centreline.arc(LEAD, 10e-3, radians(150.0), TAIL)
    for s in (-5e-3, line.length + 5e-3):
        point = line.frame(np.array([s]))[0][0]
        assert foot(line.pieces(), *point).s == pytest.approx(s, abs=1e-9)


@pytest.mark.parametrize("s", [-9e-3, -1e-3, 41e-3, 49e-3])
def test_a_line_that_begins_and_ends_bent_goes_on_straight_for_the_kernels_too(s):
    line = Centreline((15e-3, 25e-3), (1 / 30e-3, 1 / 20e-3), (0.4, 2.0))
    found = foot(line.pieces(), *line.frame(np.array([s]))[0][0])
    assert found.s == pytest.approx(s, abs=1e-9) and found.r < 1e-9
