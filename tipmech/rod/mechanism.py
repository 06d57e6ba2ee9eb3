"""Motions without strain: what is not held is refused, by name, before any iteration.

Between hinges the rod is rigid here. What tension alone would hold counts as free.
"""

import numpy as np

from .build import Rod
from .elastic import Array
from .errors import MechanismError
from .model import BoolArray, IntArray

LOOSE = 1e-9  # of the largest singular value: below, a motion is free


def refuse_mechanism(rod: Rod, position: BoolArray, rotation: BoolArray, released: BoolArray, springs: Array) -> None:
    """Check the linear kinematics of the stress-free shape; prescribed and released components, shape (N + 1, 3).

    Raises
    ------
    MechanismError
        naming the part and its free motion
    """
    n = rod.elements
    starts: list[int] = [0, *(np.flatnonzero(np.any(released[1:n], axis=1)) + 1).tolist()]
    body = np.searchsorted(starts, np.arange(n), side="right") - 1  # of each element
    of_node = np.concatenate([body[:1], body])  # the part before a hinge
    scale = max(rod.length, 1e-300)
    points = (rod.points - rod.points.mean(axis=0)) / scale
    axes, levers = _axes(rod), np.cross(points[:, None, :], np.eye(3))
    rows: list[Array] = []
    count = 6 * len(starts)

    def moved(b: IntArray, i: IntArray) -> Array:
        """Displacements of nodes i as points of parts b, shape (K, 3, count): rows of u + w x p."""
        block = np.zeros((len(i), 3, len(starts), 6))
        block[np.arange(len(i)), :, b, :3] = np.eye(3)
        block[np.arange(len(i)), :, b, 3:] = levers[i]
        return block.reshape(len(i), 3, count)

    def turned(b: IntArray, i: IntArray, side: int) -> Array:
        """Rotations of parts b about the section axes at nodes i, shape (K, 3, count)."""
        block = np.zeros((len(i), 3, len(starts), 6))
        block[np.arange(len(i)), :, b, 3:] = np.swapaxes(axes[i, side], 1, 2)
        return block.reshape(len(i), 3, count)

    b, i = np.arange(1, len(starts)), np.array(starts[1:], dtype=np.int64)
    rows.extend(moved(b, i) - moved(b - 1, i))
    rows.append((turned(b, i, 1) - turned(b - 1, i, 1))[~released[i]])
    i = np.flatnonzero(np.any(position, axis=1))
    rows.append(moved(of_node[i], i)[position[i]])
    kept = rotation.copy()
    kept[[0, n]] &= ~released[[0, n]]
    i = np.flatnonzero(np.any(kept, axis=1))
    rows.append(turned(of_node[i], i, 0)[kept[i]])
    i = np.flatnonzero(np.any(springs, axis=(1, 2)))
    if len(i):
        values, vectors = np.linalg.eigh(springs[i])
        stiff = np.swapaxes(vectors, 1, 2) @ moved(of_node[i], i)
        rows.append(stiff[values > 1e-12 * values[:, -1:]])
    matrix = np.concatenate([*rows, np.zeros((count, count))])
    _, singular, right = np.linalg.svd(matrix, full_matrices=False)  # it has at least as many rows as columns
    free = singular <= LOOSE * max(singular[0], 1.0)
    if np.any(free):
        raise MechanismError(_sentence(right[free], starts, points * scale, rod, scale))


def joined_ends(rod: Rod, rotation: BoolArray, released: BoolArray, acting: set[int]) -> BoolArray:
    """Released components without those of end sections that no support holds, all of shape (N + 1, 3).

    Such a section passes on no moment anyway, hinge or not; behind a hinge it would hang on nothing.

    Raises
    ------
    MechanismError
        where a load acts on such a section (`acting`, node numbers)
    """
    kept = released.copy()
    for i in (0, rod.elements):
        loose = released[i] & ~rotation[i]
        if i in acting and np.any(loose):
            axes = " and ".join(str(a + 1) for a in np.flatnonzero(loose))
            message = f"the section at node {i}, on which a load acts, hangs on nothing: its hinge frees axis {axes}"
            raise MechanismError(message)
        kept[i] &= rotation[i]
    return kept


def _axes(rod: Rod) -> Array:
    """Matrices (N + 1, 2, 3, 3) of the section frames, columns the axes."""
    w, x, y, z = np.moveaxis(rod.sections, -1, 0)
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    return np.moveaxis(np.array(rows), (0, 1), (2, 3))


def _sentence(motions: Array, starts: list[int], points: Array, rod: Rod, scale: float) -> str:
    """Words for the free motions."""
    words: list[str] = []
    ends = [*starts[1:], rod.elements]
    count = len(motions)
    whole = len(starts) == 1
    for w in _simplest(motions, starts):
        b = int(np.argmax(np.linalg.norm(w, axis=1)))
        part = "the rod" if whole else f"the part from node {starts[b]} to node {ends[b]}"
        words.append(f"{part} is free in {_motion(w[b], points[starts[b] : ends[b] + 1], scale)}")
    shown = "; ".join(dict.fromkeys(words))
    return f"{count} motion{'s' if count > 1 else ''} without strain: {shown}"


def _simplest(motions: Array, starts: list[int]) -> list[Array]:
    """A basis of the free motions in reduced form: translations apart from rotations, along x, y, z where possible."""
    basis = motions.copy()
    # Gauss-Jordan from the rotations on, so that what can be a pure translation is one
    order = np.concatenate([6 * b + np.array([3, 4, 5]) for b in range(len(starts))])
    order = np.concatenate([order, np.setdiff1d(np.arange(basis.shape[1]), order)])
    row = 0
    for col in order:
        if row == len(basis):
            break
        pivot = row + int(np.argmax(np.abs(basis[row:, col])))
        if abs(basis[pivot, col]) < 1e-6:
            continue
        basis[[row, pivot]] = basis[[pivot, row]]
        basis[row] /= basis[row, col]
        for other in range(len(basis)):
            if other != row:
                basis[other] -= basis[other, col] * basis[row]
        row += 1
    return [b.reshape(-1, 6) for b in basis]


def _motion(w: Array, points: Array, scale: float) -> str:
    u, spin = w[:3], w[3:]
    if np.linalg.norm(spin) < 1e-6 * np.linalg.norm(u):
        return f"translation along {_direction(u)}"
    axis = spin / np.linalg.norm(spin)
    still = u + np.cross(spin, points / scale)
    if np.max(np.abs(still)) < 1e-6 * np.linalg.norm(spin):
        return "spin about its own axis"
    return f"rotation about an axis along {_direction(axis)}"


def _direction(v: Array) -> str:
    e = v / np.linalg.norm(v)
    for a in range(3):
        if abs(abs(e[a]) - 1.0) < 1e-6:
            return "xyz"[a]
    return "(" + ", ".join(f"{c:.3g}" for c in e) + ")"
