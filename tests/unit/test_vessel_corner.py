"""The rounded corner of a solid: penetration without jumps, and its derivatives, also for a disc that has passed it."""

import numpy as np
import pytest

from tipmech.vessel.laws import corner

RHO, RADIUS = 0.12e-3, 0.178e-3


@pytest.mark.parametrize("locked", [False, True])
def test_penetration_has_no_jump(locked: bool) -> None:
    for y in np.linspace(-2.0, 4.0, 41) * RHO:
        x = np.linspace(-1.0, 3.0, 20001) * RHO
        pen = np.array([corner(a, y, RHO, RADIUS, locked)[0] for a in x])
        assert np.abs(np.diff(pen)).max() < 8.0 * (x[1] - x[0])
    for a in np.linspace(-0.9, 2.9, 40) * RHO:
        y = np.linspace(-2.0, 4.0, 20001) * RHO
        pen = np.array([corner(a, b, RHO, RADIUS, locked)[0] for b in y])
        assert np.abs(np.diff(pen)).max() < 8.0 * (y[1] - y[0])


@pytest.mark.parametrize("locked", [False, True])
def test_derivatives(locked: bool) -> None:
    rng = np.random.default_rng(4)
    for x, y in rng.uniform(-1.0, 3.0, (200, 2)) * RHO:
        h = 1e-4 * RHO
        if min(abs(x - RHO), abs(y - RHO), abs(x), abs(y - x)) < 3.0 * h:
            continue
        p, px, py, pxx, pxy, pyy = corner(x, y, RHO, RADIUS, locked)
        right, left = corner(x + h, y, RHO, RADIUS, locked), corner(x - h, y, RHO, RADIUS, locked)
        up, down = corner(x, y + h, RHO, RADIUS, locked), corner(x, y - h, RHO, RADIUS, locked)
        assert (right[0] - left[0]) / (2 * h) == pytest.approx(px, abs=1e-5)
        assert (up[0] - down[0]) / (2 * h) == pytest.approx(py, abs=1e-5)
        assert (right[1] - left[1]) / (2 * h) == pytest.approx(pxx, rel=1e-4, abs=1e-4 / RHO)
        assert (right[2] - left[2]) / (2 * h) == pytest.approx(pxy, rel=1e-4, abs=1e-4 / RHO)
        assert (up[2] - down[2]) / (2 * h) == pytest.approx(pyy, rel=1e-4, abs=1e-4 / RHO)
        assert p > 0.0 or min(x, y) < 0.0


def test_its_direction_has_no_jump_for_a_disc_that_has_passed_it() -> None:
    """A jump would hold a wire wedged across the lip as a kink of its energy."""
    fine = np.linspace(-1.0, 2.0, 3001) * RHO
    for at in np.linspace(-0.95, 1.95, 30) * RHO:
        for slopes in (
            np.array([corner(x, at, RHO, RADIUS, True)[1:3] for x in fine]),
            np.array([corner(at, y, RHO, RADIUS, True)[1:3] for y in fine]),
        ):
            assert np.abs(np.diff(slopes, axis=0)).max() < 20.0 * (fine[1] - fine[0]) / RHO
