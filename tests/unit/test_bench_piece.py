"""A stretch of a wire as a rod: exact rigidities, the plane of easy bending, refusals."""

import numpy as np
import pytest

from tipmech.bench.piece import PLANES, piece, planes
from tipmech.checks import FieldError
from tipmech.profile import Profile, uniform


def profile(first: list[float], second: list[float], distance: list[float]) -> Profile:
    """Profile of given bending rigidities."""
    one = np.ones(len(distance))
    return Profile(
        np.array(distance), np.array(first), np.array(second), one, one, one, 1e-4 * one, one, 1e-4, 0.1, "test"
    )


def test_compliance_of_a_linear_rigidity_is_exact() -> None:
    """The integral of 1/EI over a linear EI is a logarithm, on any mesh, knots off the nodes."""
    wire = profile([1.0, 3.0, 3.0], [2.0, 2.0, 2.0], [0.0, 0.013, 0.1])
    for elements in (3, 40):
        rod = piece(wire, 0.002, 0.020, elements)
        low = 1.0 + 2.0 * 2.0 / 13.0
        exact = np.log(3.0 / low) / (2.0 / 0.013) + 0.007 / 3.0
        assert np.sum(rod.half[:, :, 0]) == pytest.approx(exact, rel=1e-12)
        assert np.sum(rod.half[:, :, 1]) == pytest.approx(0.018 / 2.0, rel=1e-12)
    assert rod.length == pytest.approx(0.018)
    assert rod.half[0, 0, 0] < rod.half[-1, 1, 0]  # node 0 is the proximal, stiff end


def test_the_easy_plane_is_that_of_the_lower_rigidity() -> None:
    for first, second, easy in (([1.0, 1.0], [2.0, 2.0], 0), ([2.0, 2.0], [1.0, 1.0], 1), ([1.0, 1.0], [1.0, 1.0], 0)):
        rod = piece(profile(first, second, [0.0, 0.1]), 0.0, 0.01, 8)
        assert planes(rod) == (PLANES[easy], PLANES[1 - easy])


@pytest.mark.parametrize(("low", "high", "field"), [(-1e-3, 1e-2, "low"), (2e-2, 1e-2, "low"), (0.0, 6e-2, "high")])
def test_a_stretch_that_the_wire_lacks_is_refused(low: float, high: float, field: str) -> None:
    with pytest.raises(FieldError, match=field):
        piece(uniform(5e-8, 50e-3), low, high, 8)
