"""Self-contact of a folded rod: derivatives, objectivity, factorisation off the band, watch, friction."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tipmech.rod.band import HALF, WIDTH
from tipmech.rod.elastic import assemble_elastic
from tipmech.rod.self_contact import (
    ANCHOR,
    FORCE,
    GRIP,
    NORMAL,
    RECORDS,
    RELEASED,
    STUCK,
    TOUCHING,
    Fold,
    anchor_slip,
    approach,
    assemble_self,
    factor_folded,
    fold_arrays,
    watch,
)
from tipmech.rod.skyline import solve_skyline
from tipmech.rod.static_terms import rod_arrays
from tipmech.validation.model import uniform_rod

Array = NDArray[np.float64]
N = 60
LENGTH = 12e-3
RADIUS = 0.18e-3
ELEMENT = np.repeat(np.arange(N), 2)
XI = np.tile([0.25, 0.75], N)
SIZE = np.full(2 * N, LENGTH / N / 2)
RADII = np.full(2 * N, RADIUS)


def hairpin(gap: float, tilt: float = 0.0, noise: float = 0.0, seed: int = 0) -> Array:
    """Nodes of a wire folded back on itself, its limbs `gap` (m) apart; the second limb tilted out of the plane."""
    bend = np.pi * gap / 2.0
    limb = (LENGTH - bend) / 2.0
    s = np.linspace(0.0, LENGTH, N + 1)
    x = np.zeros((N + 1, 3))
    for i, at in enumerate(s):
        if at <= limb:
            x[i] = (0.0, 0.0, at)
        elif at <= limb + bend:
            phi = (at - limb) / gap * 2.0
            x[i] = (gap / 2.0 * (1.0 - np.cos(phi)), 0.0, limb + gap / 2.0 * np.sin(phi))
        else:
            back = at - limb - bend
            x[i] = (gap, tilt * back, limb - back)
    return x + noise * np.random.default_rng(seed).normal(size=x.shape)


def make_fold() -> Fold:
    return fold_arrays(np.full(N, LENGTH / N), np.full(N + 1, RADIUS), 2 * N, 5e7, 5e-6, 5e-6)


def watched(x: Array) -> Fold:
    fold = make_fold()
    watch(fold, ELEMENT, XI, RADII, x)
    return fold


def energy(fold: Fold, x: Array, mode: int) -> tuple[float, Array]:
    grad = np.zeros(6 * N + 3)
    touch, rub = assemble_self(fold, ELEMENT, XI, SIZE, mode, x, grad)
    return touch + rub, grad


def with_friction(fold: Fold, x: Array, mode: int = NORMAL) -> None:
    """Anchors beside the points' feet, and friction limits from the normal forces."""
    energy(fold, x, mode)
    rng = np.random.default_rng(5)
    for i in range(2 * N):
        p = (1 - XI[i]) * x[ELEMENT[i]] + XI[i] * x[ELEMENT[i] + 1]
        for limb in range(2):
            anchor_slip(fold, i, limb, tuple(p), x)
    fold.limb[:, :, GRIP] = 0.2 * fold.limb[:, :, FORCE]
    fold.limb[:, :, ANCHOR] += rng.uniform(-0.08, 0.08, fold.limb.shape[:2])


def dense(fold: Fold) -> Array:
    """Hessian of the noted couplings, from the skyline store before factorisation."""
    band = np.zeros((6 * N + 3, WIDTH))
    return np.array([applied(fold, band, e) for e in np.eye(6 * N + 3)])


def applied(fold: Fold, band: Array, v: Array) -> Array:
    """(band + couplings) v, from the couplings' own blocks: independent of the store."""
    out = np.zeros_like(v)
    n = len(v)
    for i in range(n):
        for k in range(max(0, HALF - i), HALF + 1):
            j = i + k - HALF
            out[i] += band[i, k] * v[j]
            if j != i:
                out[j] += band[i, k] * v[i]
    for r in range(fold.counts[RECORDS]):
        j, m = fold.nodes[r]
        nodes = np.array([j, j + 1, m - 1, m, m + 1])
        w = np.zeros((6, 15))
        for a in range(5):
            w[:3, 3 * a : 3 * a + 3] = fold.weight[r, a] * np.eye(3)
            w[3:, 3 * a : 3 * a + 3] = fold.weight[r, 5 + a] * np.eye(3)
        h = np.zeros((6, 6))
        h[:3, :3][np.tril_indices(3)] = fold.hess[r, :6]
        h[3:, 3:][np.tril_indices(3)] = fold.hess[r, 15:]
        h = h + np.tril(h, -1).T
        h[:3, 3:] = fold.hess[r, 6:15].reshape(3, 3)
        h[3:, :3] = h[:3, 3:].T
        at = (6 * nodes[:, None] + np.arange(3)).ravel()
        out[at] += w.T @ h @ w @ v[at]
    return out


STATES = [hairpin(0.352e-3), hairpin(0.35e-3, tilt=0.1), hairpin(0.35e-3, noise=2e-6), hairpin(0.345e-3, 0.05, 3e-6, 1)]


@pytest.mark.parametrize("x", STATES)
@pytest.mark.parametrize("mode", [NORMAL, STUCK, RELEASED])
def test_gradient_and_hessian_are_derivatives_of_the_energy(x: Array, mode: int) -> None:
    fold = watched(x)
    with_friction(fold, x, mode)
    rng = np.random.default_rng(3)
    v = np.zeros(6 * N + 3)
    u = rng.normal(size=(N + 1, 3))
    for a in range(3):
        v[a::6] = u[:, a]
    _, g = energy(fold, x, mode)
    assert fold.counts[RECORDS] > 5
    hv = applied(fold, np.zeros((6 * N + 3, WIDTH)), v)
    scale = np.abs(fold.hess[: fold.counts[RECORDS]]).max()

    def difference(h: float) -> tuple[float, Array]:
        up, gup = energy(fold, x + h * u, mode)
        down, gdown = energy(fold, x - h * u, mode)
        return (up - down) / (2 * h), (gup - gdown) / (2 * h)

    (e1, g1), (e2, g2) = difference(2e-9), difference(1e-9)
    assert abs((4 * e2 - e1) / 3 - g @ v) < 1e-6 * np.abs(g * v).sum()
    np.testing.assert_allclose((4 * g2 - g1) / 3, hv, atol=2e-6 * scale)


def test_energy_is_objective() -> None:
    """A rigid motion changes neither contact nor friction energy."""
    x = STATES[3]
    fold = watched(x)
    with_friction(fold, x)
    before, _ = energy(fold, x, NORMAL)
    q, _ = np.linalg.qr(np.random.default_rng(2).normal(size=(3, 3)))
    q *= np.sign(np.linalg.det(q))
    after, _ = energy(fold, x @ q.T + [1e-3, 2e-3, -3e-3], NORMAL)
    assert before > 0.0
    assert abs(after / before - 1.0) < 1e-9  # of distances of 1e-8 m beside coordinates of 1e-2 m


def test_total_force_and_moment_vanish() -> None:
    x = STATES[3]
    fold = watched(x)
    with_friction(fold, x)
    _, g = energy(fold, x, NORMAL)
    f = np.stack([g[a::6] for a in range(3)], axis=1)
    size = np.abs(f).max()
    assert np.abs(f.sum(axis=0)).max() < 1e-12 * size
    assert np.abs(np.cross(x, f).sum(axis=0)).max() < 1e-12 * size * LENGTH * 10


def test_solution_and_inertia_equal_those_of_the_dense_matrix() -> None:
    x = STATES[1]
    fold = watched(x)
    with_friction(fold, x)
    energy(fold, x, NORMAL)
    rod, _, q = rod_arrays(uniform_rod(N, length=LENGTH))
    size = 6 * N + 3
    band, grad = np.zeros((size, WIDTH)), np.zeros(size)
    assemble_elastic(rod, x, q, grad, band)
    band[:, HALF] += 1e-9 * np.abs(band).max()  # no rigid motion at zero: every eigenvalue has a sign
    full = np.array([applied(fold, band, e) for e in np.eye(size)])
    np.testing.assert_allclose(full, full.T, atol=1e-10 * np.abs(full).max())
    eig = np.linalg.eigvalsh(full)
    assert np.abs(eig).min() > 1e-11 * np.abs(eig).max()
    assert factor_folded(fold, band) == int(np.sum(eig < 0.0)) > 0
    b = np.random.default_rng(1).normal(size=size)
    y = b[None, :].copy()
    solve_skyline(fold.sky, y)
    np.testing.assert_allclose(full @ y[0], b, atol=1e-6 * np.abs(full).max() * np.abs(y).max() * 1e-6)


def test_an_unfolded_wire_is_left_alone() -> None:
    rod, x, _ = rod_arrays(uniform_rod(N, length=LENGTH))
    fold = make_fold()
    assert not watch(fold, ELEMENT, XI, RADII, x)
    assert fold.counts[TOUCHING] == 0
    assert energy(fold, x, NORMAL)[0] == 0.0


def test_limbs_apart_are_watched_and_do_not_push() -> None:
    fold = watched(hairpin(0.6e-3))
    assert fold.counts[TOUCHING] > 40
    assert energy(fold, hairpin(0.6e-3), NORMAL)[0] == 0.0
    assert fold.counts[RECORDS] == 0


def test_every_limb_near_a_point_is_watched_and_pushes() -> None:
    """Four limbs side by side: a point of the last one sees three; moved into the farthest, it is pushed back."""
    gap, limb = 0.365e-3, 12
    x = np.zeros((N + 1, 3))
    for i in range(N + 1):
        turn, at = divmod(i, limb)
        x[i] = (turn * gap, 0.0, (at if turn % 2 == 0 else limb - at) * LENGTH / N)
    last = np.array([3 * limb + limb // 2])
    arrays = last, np.array([0.5]), np.array([RADIUS])
    fold = fold_arrays(np.full(N, LENGTH / N), np.full(N + 1, RADIUS), 1, 5e7, 5e-6, 5e-6)
    watch(fold, *arrays, x)
    assert fold.counts[TOUCHING] == 3
    moved = x.copy()
    moved[last[0] : last[0] + 2, 0] -= 2.0 * gap + 0.1e-3  # through two of them into the third
    grad = np.zeros(6 * N + 3)
    assert assemble_self(fold, arrays[0], arrays[1], np.array([1e-4]), NORMAL, moved, grad)[0] > 0.0
    assert approach(fold, arrays[0], arrays[1], moved) == -1.0  # and the step that did so is seen


def test_a_passage_through_the_other_limb_is_seen() -> None:
    before, after = hairpin(0.4e-3), hairpin(0.4e-3)
    after[:, 0] *= np.where(np.arange(N + 1) > N - 8, -0.5, 1.0)
    fold = watched(before)
    assert abs(approach(fold, ELEMENT, XI, before) - 0.4e-3 / (2 * RADIUS)) < 1e-3
    assert approach(fold, ELEMENT, XI, after) == -1.0


def test_a_tip_slides_along_a_straight_limb_without_ripple() -> None:
    """The smooth centreline: contact energy of a tip dragged along does not vary with the place between nodes."""
    x = hairpin(1.0e-3)
    fold = make_fold()
    element, xi, size = np.array([N - 1]), np.array([1.0]), np.array([RADIUS])
    values = []
    for at in np.linspace(1.3e-3, 2.4e-3, 57):
        y = x.copy()
        y[-1] = (2 * RADIUS - 4e-6, 0.0, at)
        watch(fold, element, xi, np.array([RADIUS]), y)
        grad = np.zeros(6 * N + 3)
        values.append(assemble_self(fold, element, xi, size, NORMAL, y, grad)[0])
    assert min(values) > 0.0
    assert np.ptp(values) < 1e-9 * max(values)
