"""Random rods and states with large rotations, and their assembled gradient and Hessian, for tests of derivatives."""

import numpy as np

from tipmech.rod.band import HALF, WIDTH
from tipmech.rod.elastic import RodArrays, apply_step, assemble_elastic

N = 6
SIZE = 6 * N + 3


def random_rod(rng: np.random.Generator, *, clamped: bool = True) -> RodArrays:
    length = rng.uniform(0.5, 1.0, N)
    span = np.concatenate([[length[0] / 2], (length[1:] + length[:-1]) / 2, [length[-1] / 2]])
    bend = rng.uniform(1.0, 3.0, (N + 1, 3))
    if not clamped:
        bend[N] = 0.0
    clamps = rng.normal(size=(2, 4))
    clamps /= np.linalg.norm(clamps, axis=1)[:, None]
    return RodArrays(length, span, rng.uniform(1.0, 3.0, (N, 3)), bend, rng.normal(size=(N + 1, 3)) * 0.5, clamps)


def random_state(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    q = rng.normal(size=(N, 4))
    return rng.normal(size=(N + 1, 3)), q / np.linalg.norm(q, axis=1)[:, None]


def dense(band: np.ndarray) -> np.ndarray:
    n = band.shape[0]
    full = np.zeros((n, n))
    for i in range(n):
        for k in range(max(0, HALF - i), WIDTH):
            full[i, i + k - HALF] = full[i + k - HALF, i] = band[i, k]
    return full


def assembled(rod: RodArrays, x: np.ndarray, q: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    grad, band = np.zeros(SIZE), np.zeros((SIZE, WIDTH))
    energy = assemble_elastic(rod, x, q, grad, band)
    return energy, grad, dense(band)


def moved(x: np.ndarray, q: np.ndarray, step: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    x_new, q_new = np.empty_like(x), np.empty_like(q)
    apply_step(x, q, step, 1.0, x_new, q_new)
    return x_new, q_new


def skew(v: np.ndarray) -> np.ndarray:
    return np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])


def turned(p: np.ndarray, q: np.ndarray) -> np.ndarray:
    """Quaternions p q."""
    w = p[0] * q[:, 0] - q[:, 1:] @ p[1:]
    v = p[0] * q[:, 1:] + q[:, :1] * p[1:] + np.cross(p[1:], q[:, 1:])
    return np.concatenate([w[:, None], v], axis=1)
