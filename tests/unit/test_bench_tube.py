"""The tube: its axis, the energy of its wall, a wire laid in it."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tipmech.bench.threaded import Threaded, graded
from tipmech.bench.tip_shape import one_bend
from tipmech.bench.torque import tortuous_path
from tipmech.bench.tube import Piece, Route, Wall, bend
from tipmech.checks import FieldError
from tipmech.profile import uniform
from tipmech.rod.build import Section, rod_along

ROUTE = tortuous_path(straight_out=10e-3)
SECTION = Section(1.0, 1.0, 1.0, 1e6, 1e6, 1e6)


def test_the_axis_is_smooth_and_as_long_as_its_pieces() -> None:
    s = np.linspace(-5e-3, ROUTE.total + 5e-3, 4001)
    x = ROUTE.points(s)
    assert np.sum(np.linalg.norm(np.diff(x, axis=0), axis=1)) == pytest.approx(s[-1] - s[0], rel=1e-6)
    t = np.diff(x, axis=0) / np.linalg.norm(np.diff(x, axis=0), axis=1)[:, None]
    assert np.max(np.linalg.norm(np.diff(t, axis=0), axis=1)) < 1.01 * (s[1] - s[0]) / 15e-3
    assert ROUTE.total == pytest.approx(0.02 + 0.06 * np.pi / 3 + 0.01 + 2 * 0.015 * np.pi / 2 + 0.01)
    np.testing.assert_allclose(ROUTE.points(np.zeros(1)), 0.0, atol=1e-15)


def test_its_curvature_is_that_of_a_rod_along_it() -> None:
    """The rod's frames are carried along without turning, as the route's are."""
    s = np.linspace(0.0, ROUTE.total, 2001)
    rod = rod_along(ROUTE.points(s), SECTION, directors=None)
    turn = Rotation.from_quat(np.roll(rod.frames[:1], -1, axis=1)).as_matrix()[0]
    np.testing.assert_allclose(turn, np.eye(3), atol=1e-12)  # so the first frames agree
    inside = np.min(np.abs(s[:, None] - ROUTE.knots), axis=1) > 2.0 * s[1]
    np.testing.assert_allclose(rod.natural[inside, 0, :2], ROUTE.curvatures(s)[inside], atol=2e-3)
    assert np.max(np.abs(rod.natural[:, 0, 2])) < 1e-6


def test_the_walls_force_is_the_gradient_of_its_energy() -> None:
    rng = np.random.default_rng(3)
    x = ROUTE.points(np.linspace(-0.01, ROUTE.total + 0.01, 60)) + rng.normal(size=(60, 3)) * 3e-4
    wall = Wall(ROUTE, np.full(60, 1e-4), rng.uniform(500.0, 2000.0, 60))
    _, grad, hess = wall(x)
    assert np.count_nonzero(wall.pressed(x)[0]) > 40
    for a in range(3):
        step = np.zeros(3)
        step[a] = 1e-8
        ahead, back = wall(x + step), wall(x - step)
        np.testing.assert_allclose((ahead[1] - back[1]) / 2e-8, hess[:, :, a], rtol=1e-4, atol=2e-2)
    for i in range(0, 60, 7):
        for a in range(3):
            step = np.zeros_like(x)
            step[i, a] = 1e-8
            assert (wall(x + step)[0] - wall(x - step)[0]) / 2e-8 == pytest.approx(grad[i, a], rel=1e-5, abs=1e-6)


def test_a_laid_wire_is_in_balance_with_the_wall() -> None:
    profile = uniform(1e-6, 0.3)
    threaded = Threaded.along(profile, ROUTE, 0.5e-3, ROUTE.total)
    state = threaded.lay(np.zeros((len(threaded.distance), 3)))
    assert state.converged and state.stable
    pushed = np.sum(threaded.wall(state.x)[1], axis=0)
    np.testing.assert_allclose(state.reactions[0][0], pushed, atol=1e-6 * np.sum(threaded.wall.pressed(state.x)[0]))
    assert 0.0 < threaded.wall.indent(state.x) < 0.25


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Threaded.along(uniform(1e-6, 0.3), ROUTE, 0.35e-3, 0.1), "bore is 0.35 mm; allowed: greater than"),
        (lambda: Piece(0.0), "piece.length"),
        (lambda: bend(0.0, 1.0), "bend.radius"),
        (lambda: bend(0.01, 0.0), "bend.angle"),
        (lambda: Route(()), "at least one piece"),
        (lambda: tortuous_path(between=-1.0), "between"),
    ],
)
def test_wrong_input_is_named(make, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(FieldError, match=words):
        make()


def test_the_mesh_is_fine_where_wires_touch() -> None:
    arc = graded(ROUTE, ROUTE.total, 0.1e-3, one_bend(1.0, 2e-3))
    size, middle = np.diff(arc), 0.5 * (arc[1:] + arc[:-1])
    assert arc[0] == 0.0 and arc[-1] == pytest.approx(ROUTE.total) and np.all(size > 0.0)
    tight = (middle > 0.093) & (middle < 0.139)
    assert np.max(size[tight]) < 0.31 * np.sqrt(0.1e-3 * 15e-3)
    assert np.count_nonzero(arc > ROUTE.total - 2e-3 - 1e-12) >= 9
