import numpy as np
import pytest

from tipmech.profile import Profile, uniform
from tipmech.rod.from_profile import node_distances, rod_from_profile


def tapered() -> Profile:
    d = np.array([0.0, 10e-3, 40e-3])
    one = np.ones(3)
    bend = np.array([1.0, 2.0, 8.0]) * 1e-8
    return Profile(d, bend, 3.0 * bend, bend / 1.3, 1e3 * one, 4e2 * one, 1e-4 * one, 1e-4 * one, 1e-4, 0.1, "taper")


def test_the_tip_is_the_last_node() -> None:
    lengths = np.array([4e-3, 3e-3, 2e-3, 1e-3])
    rod, x, q = rod_from_profile(tapered(), lengths)
    np.testing.assert_allclose(node_distances(lengths), [10e-3, 6e-3, 3e-3, 1e-3, 0.0], atol=1e-15)
    np.testing.assert_allclose(rod.bend[1:-1, 0], 1e-8 * (1.0 + np.array([6.0, 3.0, 1.0]) / 10.0), rtol=1e-12)
    np.testing.assert_allclose(rod.bend[1:-1, 1], 3.0 * rod.bend[1:-1, 0])
    assert rod.bend[0, 0] == pytest.approx(1e-8 * 1.9, rel=1e-12)  # middle of the half element the clamp owns
    np.testing.assert_allclose(rod.bend[-1], 0.0)
    np.testing.assert_allclose(x[-1], [0.0, 0.0, 10e-3], atol=1e-15)
    assert q.shape == (4, 4)


def test_both_ends_can_be_clamped_or_free() -> None:
    lengths = np.full(5, 2e-3)
    rod, _, _ = rod_from_profile(uniform(5e-8, 20e-3), lengths, clamped=(False, True))
    np.testing.assert_allclose(rod.bend[0], 0.0)
    assert rod.bend[-1, 0] == pytest.approx(5e-8)


def test_natural_curvature_is_kept() -> None:
    natural = np.arange(18.0).reshape(6, 3)
    rod, _, _ = rod_from_profile(uniform(5e-8, 20e-3), np.full(5, 2e-3), natural)
    np.testing.assert_allclose(rod.natural, natural)


def test_non_positive_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="element lengths must be positive"):
        rod_from_profile(uniform(5e-8, 20e-3), np.array([1e-3, 0.0]))
