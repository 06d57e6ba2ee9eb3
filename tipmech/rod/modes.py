"""Natural frequencies and modes about an equilibrium. theory (46), (47).

Tangent and diagonal mass make one symmetric banded matrix; LAPACK finds its lowest eigenvalues. Bending is softer than
the elements' rocking in shear by the fourth power of the slenderness and drowns in that matrix's round-off (at 120
elements, length 2000 radii: 0.1 %; 10 000 radii: 45 %). Inverse iteration on the band's own factors restores what the
tangent itself knows.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import eig_banded, eigh

from .band import HALF, WIDTH, factor, solve
from .elastic import Array, RodArrays
from .errors import ShapeError
from .inertia import Inertia, diagonal
from .loads import Potential
from .model import BoolArray
from .static_terms import tangent

GUARD = 6  # further vectors iterated: a pair or the six of a rigid body may straddle the last one wanted
ROUNDS = 4  # of inverse iteration on a subspace that is already near the wanted one: 2 were enough where tried
SHIFT = 0.1  # of the range of the wanted eigenvalues, below the lowest
ROUND_OFF = 16 * np.finfo(float).eps  # of the tangent's diagonal: below it an eigenvalue is zero


@dataclass(frozen=True)
class Modes:
    """Modes about an equilibrium, softest first.

    squares : ndarray, shape (k,), omega^2, rad2/s2; negative: unstable; exactly 0: a rigid-body mode
    shapes : ndarray, shape (k, 6 N + 3), in the order of the unknowns, kinetic energy 1/2 omega^2 at amplitude 1
    noise : ndarray, shape (k,), size below which round-off hides an omega^2, rad2/s2
    """

    squares: Array
    shapes: Array
    noise: Array

    @property
    def rates(self) -> Array:
        """Angular frequencies of the stable modes, rad/s, softest first."""
        return np.sqrt(self.squares[self.squares > 0.0])

    @property
    def growth(self) -> Array:
        """Growth rates of the unstable modes, 1/s, fastest first."""
        return np.sqrt(-self.squares[self.squares < 0.0])

    @property
    def rigid(self) -> int:
        """Number of rigid-body modes."""
        return int(np.sum(self.squares == 0.0))


def natural_modes(
    rod: RodArrays,
    inertia: Inertia,
    x: Array,
    q: Array,
    *,
    fixed: BoolArray,
    count: int,
    potential: Potential | None = None,
) -> Modes:
    """The `count` softest modes of small motions about the equilibrium (x, q).

    Parameters
    ----------
    rod, x, q, fixed, potential
        as in `time_step.Problem`; whether (x, q) is an equilibrium under dead loads is not checked
    inertia : Inertia
        masses and moments of inertia
    count : int
        number of modes, at most that of free unknowns

    Raises
    ------
    ShapeError
        for arrays that do not belong to the rod
    ValueError
        for a count that is not between 1 and the number of free unknowns
    ArithmeticError
        when the tangent is not finite
    """
    n = len(rod.length)
    for array, shape, what in ((x, (n + 1, 3), "x"), (q, (n, 4), "q"), (fixed, (6 * n + 3,), "fixed")):
        if np.shape(array) != shape:
            message = f"{what} has shape {np.shape(array)}; allowed: {shape}"
            raise ShapeError(message)
    if inertia.mass.shape != (n + 1,) or inertia.spin.shape != (n, 3):
        message = f"inertia has shapes {inertia.mass.shape} and {inertia.spin.shape}; allowed: ({n + 1},) and ({n}, 3)"
        raise ShapeError(message)
    free = ~fixed
    most = int(np.sum(free))
    if not 1 <= count <= most:
        message = f"count is {count}; the rod has {most} free unknowns"
        raise ValueError(message)
    band = tangent(rod, x, q, fixed, potential)
    if not np.all(np.isfinite(band)):
        message = "the tangent is not finite: the state has diverged"
        raise ArithmeticError(message)
    mass = diagonal(inertia)
    wanted = min(count + GUARD, most)
    vectors = _first_vectors(band, mass, fixed, wanted)
    squares, vectors = _refined(band, mass, fixed, vectors)
    vectors[fixed] = 0.0  # round-off of the factors
    noise = ROUND_OFF * (np.abs(band[:, HALF]) @ vectors**2)
    squares = np.where(np.abs(squares) <= noise, 0.0, squares)
    return Modes(squares[:count], vectors.T[:count].copy(), noise[:count])


def _first_vectors(band: Array, mass: Array, fixed: BoolArray, wanted: int) -> Array:
    """Eigenvectors of the lowest eigenvalues of the scaled matrix, shape (6 N + 3, wanted)."""
    size = len(mass)
    root = 1.0 / np.sqrt(mass)
    lower = np.zeros((WIDTH, size))  # LAPACK's storage
    for k in range(WIDTH):
        lower[k, : size - k] = band[k:, HALF - k] * root[k:] * root[: size - k]
    lower[0, fixed] = 2.0 * float(np.max(np.abs(lower)))  # out of the way
    _, vectors = eig_banded(lower, lower=True, select="i", select_range=(0, wanted - 1))
    return np.asarray(np.where(fixed[:, None], 0.0, vectors * root[:, None]))


def _refined(band: Array, mass: Array, fixed: BoolArray, vectors: Array) -> tuple[Array, Array]:
    """Eigenvalues and M-normal eigenvectors by inverse iteration on the subspace, with Ritz values in it."""
    squares, vectors = _ritz(band, mass, vectors)
    fac = np.empty_like(band)
    for _ in range(ROUNDS):
        shift = squares[0] - SHIFT * max(squares[-1] - squares[0], abs(squares[0]))
        shifted = band.copy()
        shifted[:, HALF] -= np.where(fixed, 0.0, shift * mass)
        if factor(shifted, fac, 0.0) < 0:
            message = "the shifted tangent has a zero pivot"
            raise ArithmeticError(message)
        b = np.ascontiguousarray(np.where(fixed[:, None], 0.0, mass[:, None] * vectors).T)
        solve(fac, b)
        squares, vectors = _ritz(band, mass, b.T)
    return squares, vectors


def _ritz(band: Array, mass: Array, vectors: Array) -> tuple[Array, Array]:
    """Ritz values, and vectors of kinetic norm 1, in the span of `vectors`."""
    basis, _ = np.linalg.qr(np.sqrt(mass)[:, None] * vectors)
    basis /= np.sqrt(mass)[:, None]
    values, turn = eigh(basis.T @ _product(band, basis))
    return np.asarray(values), np.asarray(basis @ turn)


def _product(band: Array, vectors: Array) -> Array:
    """Symmetric band matrix times vectors (6 N + 3, k)."""
    out = band[:, HALF, None] * vectors
    for k in range(1, WIDTH):
        out[k:] += band[k:, HALF - k, None] * vectors[:-k]
        out[:-k] += band[k:, HALF - k, None] * vectors[k:]
    return np.asarray(out)
