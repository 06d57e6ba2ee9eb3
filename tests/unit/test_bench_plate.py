import numpy as np
import pytest

from tipmech.bench.plate import Plate


def plate(friction: float, traction: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Plate:
    normal = np.array([0.6, 0.0, -0.8])
    flat = np.array(traction) - (np.array(traction) @ normal) * normal
    return Plate(np.zeros(3), normal, 50.0, 20.0, friction, flat, np.array([0.1, 0.2, -0.1]))


@pytest.mark.parametrize("friction", [0.0, 0.1, 10.0, float("inf")])
def test_potential_is_smooth_and_its_gradient_exact(friction: float) -> None:
    rng = np.random.default_rng(1)
    contact = plate(friction, (0.3, -0.2, 0.1)).potential(0.7)
    for _ in range(20):
        x = rng.normal(size=(3, 3)) * 0.3
        value, g, h = contact(x)
        assert np.isfinite(value)
        np.testing.assert_allclose(g[:-1], 0.0)
        step = 1e-6
        for a in range(3):
            up, down = x.copy(), x.copy()
            up[-1, a] += step
            down[-1, a] -= step
            slope = (contact(up)[0] - contact(down)[0]) / (2.0 * step)
            assert g[-1, a] == pytest.approx(slope, abs=1e-6)
            curve = (contact(up)[1][-1] - contact(down)[1][-1]) / (2.0 * step)
            np.testing.assert_allclose(h[-1, a], curve, atol=2e-4)


def test_friction_is_bounded_and_opposes_the_slip() -> None:
    p = plate(0.3)
    tip = p.anchor + np.array([0.0, 1.0, 0.0])
    force, slips = p.friction_force(tip, 2.0)
    assert slips
    np.testing.assert_allclose(force, [0.0, -0.6, 0.0], atol=1e-14)
    after = p.advanced(tip, 2.0)
    np.testing.assert_allclose(after.traction, force)
    small, slips = after.friction_force(tip + np.array([0.0, -1e-3, 0.0]), 2.0)
    assert not slips and small[1] == pytest.approx(-0.6 + 20.0 * 1e-3)
