"""The push behind a mouth is the derivative of the energy by the length fed in, also beyond the line of a section."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from tipmech.bench.prolapse import complementary, prolapse
from tipmech.files.wire import read_wire
from tipmech.wire.design import profile


@pytest.mark.parametrize(("name", "gap"), [("workhorse", 5e-3), ("stiff_tapered", 5e-3), ("workhorse", 20e-3)])
def test_push_is_the_derivative_of_the_energy(name: str, gap: float) -> None:
    test = prolapse(profile(read_wire(name)), gap, states=60)
    slope = CubicSpline(test.fed[1:], test.energy[1:])(test.fed[1:], 1)
    np.testing.assert_allclose(test.push[5:-1], slope[4:-1], rtol=1e-3)


def test_complementary_energy_of_a_section() -> None:
    stock = profile(read_wire("workhorse"))
    law = stock.law_at(np.array([1e-3]))
    rigidity = float(stock.at("EI1", np.array(1e-3)))
    assert law is not None
    limit = float(law.limit[0])
    assert complementary(stock, 1e-3, 0, 0.5 * rigidity * limit) == pytest.approx(0.125 * rigidity * limit**2)
    curvature = np.linspace(0.0, 3.0 * limit, 20001)
    moment = rigidity * law.at(curvature)[0][0]
    whole = moment[-1] * curvature[-1] - np.trapezoid(moment, curvature)
    assert complementary(stock, 1e-3, 0, float(moment[-1])) == pytest.approx(whole, rel=1e-5)
