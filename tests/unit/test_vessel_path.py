"""Arcs through curves and points in space, against circles, helices in closed form and frames integrated otherwise."""

from math import cos, hypot, pi, radians, sin

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from tipmech.vessel.biarc import MOST_TURN, biarcs, fewest, helix
from tipmech.vessel.path import closest_approach, facing, through_points, tightest_bend
from tipmech.vessel.place import foot
from tipmech.vessel.scene import Centreline

RADIUS, PITCH, TURNS = 8e-3, 12e-3, 1.7  # of the helix; m, m, -
C = PITCH / (2.0 * pi)
SPEED = hypot(RADIUS, C)
CURVATURE, TORSION, LENGTH = RADIUS / SPEED**2, C / SPEED**2, 2.0 * pi * TURNS * SPEED


def on_helix(u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    x = np.stack([RADIUS * np.cos(u), RADIUS * np.sin(u), C * u], axis=1)
    return x, np.stack([-RADIUS * np.sin(u), RADIUS * np.cos(u), np.full_like(u, C)], axis=1) / SPEED


def joints(line: Centreline) -> np.ndarray:
    return line.frame(np.concatenate([[0.0], np.cumsum(line.lengths)]))[0]


def onto(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Points x moved rigidly onto y."""
    turn, _ = Rotation.align_vectors(y - y.mean(axis=0), x - x.mean(axis=0))
    return turn.apply(x - x.mean(axis=0)) + y.mean(axis=0)


def random_curve(seed: int, count: int = 9) -> tuple[np.ndarray, np.ndarray]:
    """Points 6 mm apart on a line that turns by up to 60 degrees between them, with the mean directions there."""
    rng = np.random.default_rng(seed)
    way, x = np.array([0.0, 0.0, 1.0]), [np.zeros(3)]
    for _ in range(count):
        way = Rotation.from_rotvec(rng.uniform(-1.0, 1.0, 3) * radians(35.0)).apply(way)
        x.append(x[-1] + 6e-3 * way)
    points = np.array(x)
    t = np.gradient(points, axis=0)
    return points, t / np.linalg.norm(t, axis=1)[:, None]


@pytest.mark.parametrize("angle", [20.0, 90.0, 179.0])
def test_a_circle_stays_that_circle(angle):
    a = np.linspace(0.0, radians(angle), 2)
    points = RADIUS * np.stack([np.sin(a), np.zeros(2), 1.0 - np.cos(a)], axis=1)
    arcs = biarcs(points, np.stack([np.cos(a), np.zeros(2), np.sin(a)], axis=1))
    np.testing.assert_allclose(arcs.curvature, 1.0 / RADIUS, rtol=1e-12)
    assert arcs.length.sum() == pytest.approx(RADIUS * radians(angle), rel=1e-12)
    line = arcs.centreline()
    np.testing.assert_allclose(line.planes, pi)  # azimuth 0 is the outer side


def test_a_circle_takes_as_few_arcs_as_their_largest_turn_allows():
    a = np.linspace(0.0, 1.5 * pi, 901)
    points = RADIUS * np.stack([np.sin(a), np.zeros(901), 1.0 - np.cos(a)], axis=1)
    arcs, off = fewest(points, np.stack([np.cos(a), np.zeros(901), np.sin(a)], axis=1), 1e-5)
    assert len(arcs.length) == 4 and off < 1e-12  # two biarcs of up to 180 degrees
    np.testing.assert_allclose(arcs.curvature * RADIUS, 1.0, rtol=1e-9)
    assert np.all(arcs.curvature * arcs.length <= MOST_TURN * (1.0 + 1e-8))


def test_a_straight_line_is_straight():
    points = np.linspace(0.0, 30e-3, 30)[:, None] * np.array([0.6, 0.0, 0.8])
    fit = through_points(points, 0.0)
    assert not any(fit.line.curvatures) and fit.line.length == pytest.approx(30e-3, rel=1e-12)
    assert tightest_bend(fit.line)[0] == np.inf
    assert facing(fit.line, 10e-3) == fit.line


@pytest.mark.parametrize("seed", range(5))
def test_arcs_meet_with_one_tangent_and_pass_through_the_points(seed):
    points, tangents = random_curve(seed)
    arcs = biarcs(points, tangents)
    line = arcs.centreline()
    assert len(line.lengths) == 2 * (len(points) - 1)
    np.testing.assert_allclose(onto(joints(line)[::2], points), points, atol=1e-12)
    s = np.concatenate([[0.0], np.cumsum(line.lengths)[1::2]])
    moved = onto(np.concatenate([joints(line)[::2], joints(line)[::2] + 1e-3 * line.frame(s)[1]]),
                 np.concatenate([points, points + 1e-3 * tangents]))  # fmt: skip
    np.testing.assert_allclose(moved[len(points) :] - moved[: len(points)], 1e-3 * tangents, atol=1e-12)
    assert np.abs(arcs.distance(points)).max() < 1e-15


def test_distance_is_that_of_dense_points():
    points, tangents = random_curve(7)
    arcs = biarcs(points, tangents)
    line = arcs.centreline()
    dense = line.frame(np.linspace(0.0, line.length, 20001))[0]
    place = np.random.default_rng(1).normal(scale=8e-3, size=(40, 3)) + joints(line).mean(axis=0)
    own = biarcs(joints(line)[::2], line.frame(np.concatenate([[0.0], np.cumsum(line.lengths)[1::2]]))[1])
    brute = np.linalg.norm(place[:, None] - dense[None], axis=2).min(axis=1)
    np.testing.assert_allclose(own.distance(place), brute, atol=1e-6)  # 3 um between dense points


@pytest.mark.parametrize("hand", [1.0, -1.0])
def test_a_helix_converges_to_its_closed_form(hand):
    """Length to fourth order in the arcs' length, curvature and turning of the plane (the torsion) to second."""
    errors = []
    for deviation in (200e-6, 20e-6, 2e-6, 0.2e-6):
        line, reached = helix(RADIUS, hand * PITCH, TURNS, deviation)
        assert reached <= deviation
        turned = np.unwrap(line.planes)
        torsion = (turned[-2] - turned[0]) / (line.length - 2.0 * line.lengths[0])  # whole biarcs
        errors.append(
            (
                line.lengths[0],
                abs(line.length / LENGTH - 1.0),
                np.abs(np.array(line.curvatures) / CURVATURE - 1.0).max(),
                abs(torsion / (hand * TORSION) - 1.0),
            )
        )
    step, length, curvature, torsion = np.array(errors).T
    assert curvature[0] < 0.01 and length[0] < 0.005 and torsion[0] < 0.03  # eight arcs for 1.7 turns
    assert max(curvature[-1], length[-1], torsion[-1]) < 2e-4
    order = np.diff(np.log([length, curvature, torsion]), axis=1) / np.diff(np.log(step))
    assert order[0].min() > 3.5 and order[1].min() > 1.8 and order[2].min() > 1.8
    assert np.ptp(line.curvatures) < 1e-9 * CURVATURE  # congruent arcs


def test_a_helix_begins_with_azimuth_0_away_from_its_axis_and_between_its_straights():
    line, _ = helix(RADIUS, PITCH, TURNS, 20e-6, 10e-3, 5e-3)
    assert line.curvatures[0] == line.curvatures[-1] == 0.0
    assert (line.lengths[0], line.lengths[-1]) == (10e-3, 5e-3)
    assert abs(line.planes[1]) == pytest.approx(pi)
    assert line.length == pytest.approx(15e-3 + LENGTH, rel=1e-3)


def double_reflection(x: np.ndarray, t: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Rotation-minimising axis along sampled points (Wang, Juettler, Zheng, Liu 2008, ACM Trans Graph 27:2)."""
    out = [first]
    for i in range(len(x) - 1):
        v = x[i + 1] - x[i]
        r, s = (a - 2.0 * v * (v @ a) / (v @ v) for a in (out[-1], t[i]))
        w = t[i + 1] - s
        out.append(r - 2.0 * w * (w @ r) / (w @ w))
    return np.array(out)


@pytest.mark.parametrize(
    "make", [lambda: helix(RADIUS, PITCH, TURNS, 20e-6)[0], lambda: biarcs(*random_curve(3)).centreline()]
)
def test_the_frame_of_the_chain_is_rotation_minimising(make):
    line = make()
    s = np.linspace(0.0, line.length, 4001)
    x, t, e1, e2 = line.frame(s)
    np.testing.assert_allclose(double_reflection(x, t, e1[0]), e1, atol=1e-6)

    axis = e1[0]
    arcs = line.pieces()[1:-1]  # without the straight ends added to a line that begins and ends bent
    for row, kappa, length in zip(arcs, line.curvatures, line.lengths, strict=True):

        def rate(at: float, e: np.ndarray, row: np.ndarray = row, kappa: float = kappa) -> np.ndarray:
            """Rate of an axis of the frame by its definition, e' = -(e.t') t."""
            a = kappa * at
            bend = kappa * (cos(a) * row[8:11] - sin(a) * row[5:8])
            return -(e @ bend) * (cos(a) * row[5:8] + sin(a) * row[8:11])

        axis = solve_ivp(rate, (0.0, length), axis, rtol=1e-10, atol=1e-12).y[:, -1]
    np.testing.assert_allclose(axis, e1[-1], atol=1e-8)
    np.testing.assert_allclose(np.cross(e1, e2), t, atol=1e-9)


def test_the_chain_turns_as_the_exact_helix_does():
    """The rotation from the frame at one end to that at the other, which does not depend on where the line lies."""

    def turned(t: np.ndarray, e: np.ndarray) -> Rotation:
        one, other = (np.stack([a, np.cross(b, a), b], axis=1) for a, b in ((e[0], t[0]), (e[-1], t[-1])))
        return Rotation.from_matrix(one.T @ other)

    errors = []
    x, t = on_helix(np.linspace(0.0, 2.0 * pi * TURNS, 6001))
    for count in (8, 16, 32):
        arcs = biarcs(*on_helix(np.linspace(0.0, 2.0 * pi * TURNS, count + 1)))
        line = arcs.centreline()
        own = line.frame(np.array([0.0, line.length]))
        exact = double_reflection(x, t, -arcs.normal[0])
        errors.append((turned(own[1], own[2]).inv() * turned(t, exact)).magnitude())
    assert errors[0] < radians(2.0)
    assert errors[0] > 3.5 * errors[1] > 3.5**2 * errors[2]  # second order or better


def noisy(noise: float, seed: int) -> np.ndarray:
    x, _ = on_helix(np.linspace(0.0, 2.0 * pi * TURNS, 100))
    return x + np.random.default_rng(seed).normal(scale=noise / np.sqrt(3.0), size=x.shape)


def test_where_the_points_lie_does_not_matter():
    x = noisy(0.05e-3, 2)
    move = Rotation.random(rng=np.random.default_rng(3))
    one, other = through_points(x, 0.05e-3), through_points(move.apply(x) + [0.3, -0.1, 0.2], 0.05e-3)
    assert len(one.line.lengths) == len(other.line.lengths)
    np.testing.assert_allclose(other.line.lengths, one.line.lengths, rtol=1e-6)
    np.testing.assert_allclose(other.line.curvatures, one.line.curvatures, rtol=1e-5)
    apart = np.array(other.line.planes) - np.array(one.line.planes)
    np.testing.assert_allclose(np.remainder(apart + pi, 2.0 * pi) - pi, 0.0, atol=1e-5)
    assert (other.rms, other.farthest) == pytest.approx((one.rms, one.farthest), rel=1e-4)


def test_a_mirrored_line_has_mirrored_planes():
    x = noisy(0.05e-3, 2)
    one, other = through_points(x, 0.05e-3).line, through_points(x * [1.0, -1.0, 1.0], 0.05e-3).line
    np.testing.assert_allclose(other.curvatures, one.curvatures, rtol=1e-6)
    np.testing.assert_allclose(np.exp(1j * np.array(other.planes)), np.exp(-1j * np.array(one.planes)), atol=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_smoothing_recovers_the_curve_under_noise(seed):
    """With the noise's own size as smoothing; through every noisy point the bends come out far too tight."""
    noise = 0.1e-3
    x = noisy(noise, seed)
    fit, rough = through_points(x, noise), through_points(x, 0.0, 0.01e-3)
    exact, _ = on_helix(np.linspace(0.0, 2.0 * pi * TURNS, 400))
    assert fit.arcs.distance(exact)[20:-20].max() < 1.5 * noise
    inside = np.array(fit.line.curvatures)[2:-2] / CURVATURE
    weights = np.array(fit.line.lengths)[2:-2]
    assert np.average(inside, weights=weights) == pytest.approx(1.0, abs=0.03)
    assert np.abs(inside - 1.0).max() < 0.25
    assert fit.line.length == pytest.approx(LENGTH, rel=0.01)
    assert max(rough.line.curvatures) > 2.0 * CURVATURE


@pytest.mark.parametrize("deviation", [0.2e-3, 0.05e-3, 0.01e-3])
def test_the_stated_deviation_is_kept_and_one_biarc_less_would_not(deviation):
    x, _ = on_helix(np.linspace(0.0, 2.0 * pi * TURNS, 200))
    fit = through_points(x, 0.0, deviation)
    assert fit.deviation <= deviation and fit.farthest <= deviation * (1.0 + 1e-6)
    exact, reached = helix(RADIUS, PITCH, TURNS, deviation)
    assert len(fit.line.lengths) == len(exact.lengths)  # on a helix equal biarcs are the fewest
    assert fit.deviation == pytest.approx(reached, rel=0.1)  # and are spread evenly


def test_azimuth_0_is_the_outer_side_at_the_place_asked_for():
    line = Centreline((10e-3, 6e-3, 10e-3, 8e-3, 10e-3), (0.0, 100.0, 0.0, 150.0, 0.0), (0.3, 0.3, 1.0, 1.8, 0.0))
    assert facing(line, 13e-3).planes[1] == pytest.approx(pi)
    assert facing(line, 30e-3).planes[3] == pytest.approx(pi)
    assert facing(line, 2e-3).planes[1] == pytest.approx(pi)  # straight there: the first bend
    turned = np.array(facing(line, 30e-3).planes) - np.array(line.planes)
    np.testing.assert_allclose(np.exp(1j * turned), np.exp(1j * turned[0]), atol=1e-12)


def test_the_closest_approach_of_a_hairpin_and_of_a_helix():
    hairpin = Centreline.arc(20e-3, 5e-3, pi, 20e-3)
    distance, first, second = closest_approach(hairpin, 10.5e-3)
    assert distance == pytest.approx(10e-3, rel=1e-6)
    assert second - first >= 0.5 * pi * 10.5e-3
    close, _ = helix(10e-3, 3e-3, 2.0, 1e-6)
    assert closest_approach(close, 4e-3)[0] == pytest.approx(3e-3, rel=0.02)  # turns lie almost a pitch apart
    assert closest_approach(Centreline.straight(50e-3), 4e-3)[0] == pytest.approx(2e-3 * pi, rel=0.04)
    assert closest_approach(Centreline.straight(5e-3), 4e-3)[0] == np.inf


@pytest.mark.parametrize("seed", range(3))
def test_a_point_in_the_vessel_is_found_where_it_was_put(seed):
    """As far from the axis as the outer wall, in a line that keeps the distances the files ask for."""
    lines = [through_points(noisy(0.1e-3, seed), 0.1e-3).line, helix(6e-3, 6e-3, 2.0, 0.05e-3, 20e-3, 20e-3)[0]]
    for line in lines:
        assert closest_approach(line, 4.35e-3)[0] > 4.35e-3 and tightest_bend(line)[0] > 1.85e-3
        rng = np.random.default_rng(seed)
        s, phi = rng.uniform(1e-3, line.length - 1e-3, 200), rng.uniform(-3.1, 3.1, 200)
        point, tangent, e1, e2 = line.frame(s)
        x = point + 1.85e-3 * (np.cos(phi)[:, None] * e1 + np.sin(phi)[:, None] * e2)
        found = [foot(line.pieces(), *p) for p in x]
        np.testing.assert_allclose([p.s for p in found], s, atol=1e-8)
        np.testing.assert_allclose(np.sin(0.5 * (np.array([p.phi for p in found]) - phi)), 0.0, atol=1e-5)
        np.testing.assert_allclose([p.t for p in found], tangent, atol=1e-7)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (np.zeros((3, 3)), r"shape \(3, 3\); allowed: \(n, 3\) with n of at least 4"),
        (np.zeros((8, 2)), r"shape \(8, 2\)"),
        (np.full((5, 3), np.nan), "not finite"),
        (np.repeat(np.eye(3), 2, axis=0), "repeats a point at row 1"),
    ],
)
def test_bad_points_are_refused(points, words):
    with pytest.raises(ValueError, match=words):
        through_points(points, 0.0)
