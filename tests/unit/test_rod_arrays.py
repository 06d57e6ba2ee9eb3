"""The rod of a profile, and a rod as the arrays of the dynamics."""

import numpy as np
import pytest

from tipmech.profile import Profile, uniform
from tipmech.rod.band import WIDTH
from tipmech.rod.build import Section, node_distances, profile_rod, rod_along, straight
from tipmech.rod.errors import GeometryError
from tipmech.rod.loads import Force
from tipmech.rod.solve import solve
from tipmech.rod.static_terms import assemble_static, fix, rod_arrays
from tipmech.rod.structure import Structure
from tipmech.rod.supports import Support, clamp


def tapered() -> Profile:
    d = np.array([0.0, 10e-3, 40e-3])
    one = np.ones(3)
    bend = np.array([1.0, 2.0, 8.0]) * 1e-8
    return Profile(d, bend, 3.0 * bend, bend / 1.3, 1e3 * one, 4e2 * one, 1e-4 * one, 1e-4 * one, 1e-4, 0.1, "taper")


def test_the_tip_is_the_last_node() -> None:
    lengths = np.array([4e-3, 3e-3, 2e-3, 1e-3])
    rod = profile_rod(tapered(), lengths)
    np.testing.assert_allclose(node_distances(lengths), [10e-3, 6e-3, 3e-3, 1e-3, 0.0], atol=1e-15)
    middle = 1e-8 * (1.0 + np.array([8.0, 4.5, 2.0, 0.5]) / 10.0)  # EI1 at the elements' middles
    np.testing.assert_allclose(0.5 * lengths / rod.half[:, 0, 0], middle, rtol=1e-12)
    np.testing.assert_allclose(rod.half[:, :, 0], 3.0 * rod.half[:, :, 1], rtol=1e-12)
    np.testing.assert_allclose(rod.stretch, np.tile([4e2, 4e2, 1e3], (4, 1)), rtol=1e-12)
    np.testing.assert_allclose(rod.points[-1], [0.0, 0.0, 10e-3], atol=1e-15)


def test_elements_without_length_are_refused() -> None:
    with pytest.raises(GeometryError, match="element 1 has no length"):
        profile_rod(uniform(5e-8, 20e-3), np.array([1e-3, 0.0]))


def test_both_ends_can_be_clamped_or_free() -> None:
    rod, _, _ = rod_arrays(profile_rod(uniform(5e-8, 20e-3), np.full(5, 2e-3)), clamped=(False, True))
    np.testing.assert_allclose(rod.bend[0], 0.0)
    np.testing.assert_allclose(rod.bend[1:, 0], 5e-8)
    np.testing.assert_allclose(rod.span, [1e-3, 2e-3, 2e-3, 2e-3, 2e-3, 1e-3])


def test_a_structures_equilibrium_is_one_of_the_arrays() -> None:
    """A curved rod of two sections between a clamp and a guided end."""
    t = np.linspace(0.0, 1.2, 13) ** 1.1
    points = np.stack([1.0 - np.cos(t), 0.3 * t, np.sin(t)], axis=1)
    built = rod_along(
        points, [Section(1.0, 2.0, 0.8, 40.0, 50.0, 60.0), Section(0.5, 0.7, 0.4, 30.0, 35.0, 40.0)], breaks=[0.5]
    )
    force = np.array([0.7, -0.4, 0.3])
    state = solve(Structure(built, [clamp(0), Support(-1, "")], loads=[Force(-1, force.tolist())]))
    assert state.converged and np.max(np.abs(state.displacement)) > 0.05
    rod, x, q = rod_arrays(built, (True, True))
    load = np.zeros_like(x)
    load[-1] = force
    grad, band = np.empty(75), np.empty((75, WIDTH))
    rest, _ = assemble_static(rod, x, q, None, None, grad, band)
    assert rest < 1e-24
    np.testing.assert_allclose(grad, 0.0, atol=1e-12)
    energy, _ = assemble_static(rod, state.x, state.q, None, load, grad, band)
    assert energy == pytest.approx(state.strain_energy, rel=1e-12)
    held = fix(12, x=0, y=0, z=0)
    np.testing.assert_allclose(grad[~held], 0.0, atol=1e-8)
    np.testing.assert_allclose(grad[held], state.reactions[0][0], atol=1e-8)


def test_a_rod_with_corners_is_refused() -> None:
    points = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 1.0]])
    built = rod_along(points, Section(1.0, 1.0, 1.0, 1.0, 1.0, 1.0), corners=[1])
    with pytest.raises(GeometryError, match="corner at node 1"):
        rod_arrays(built)


def test_arrays_do_not_share_what_changes() -> None:
    built = straight(1.0, 4, Section(1.0, 1.0, 1.0, 1.0, 1.0, 1.0))
    rod, x, q = rod_arrays(built)
    for array in (rod.natural, rod.bend, x, q):
        array += 1.0
    assert built.points[0, 0] == 0.0 and np.max(built.frames) == 1.0 and np.all(built.natural == 0.0)
