"""A straight wire and a helical one beside it as a linear space frame of Euler beams. Nothing of the package is used.

Cubic beams (Przemieniecki, Theory of Matrix Structural Analysis, from memory). Nodes of the helical wire lie on rigid
arms of the straight one's and slide along the helix without friction; at both ends they are joined. Rigidities come
from the difference of two lengths, so that the ends drop out.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import spsolve

UNIT = 1e-3  # m: the frame works in mm, so that translations and rotations are of one size
SHORT, LONG = 3, 6  # pitches; an end is felt over less than one


@dataclass(frozen=True)
class Twin:
    """Diameters of core and strand, offset of their centres, pitch, m; Young's and shear modulus, Pa."""

    core: float
    strand: float
    offset: float
    pitch: float
    E: float
    G: float


def beam(start: np.ndarray, end: np.ndarray, diameter: float, twin: Twin) -> np.ndarray:
    """Stiffness of a round Euler beam in the space frame, (12, 12): displacement and rotation of either end."""
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    side = np.cross(along, [0.36, 0.48, 0.8])
    side /= np.linalg.norm(side)
    area, second = np.pi * diameter**2 / 4.0 / UNIT**2, np.pi * diameter**4 / 64.0 / UNIT**4
    E, G = twin.E * UNIT**2, twin.G * UNIT**2  # N/mm2
    local = np.zeros((12, 12))
    for i, k in ((0, E * area / length), (3, 2.0 * G * second / length)):
        local[np.ix_([i, i + 6], [i, i + 6])] = k * np.array([[1.0, -1.0], [-1.0, 1.0]])
    for move, turn, sign in ((1, 5, 1.0), (2, 4, -1.0)):
        a, b = 6.0 * sign * length, length**2
        rows = [[12.0, a, -12.0, a], [a, 4 * b, -a, 2 * b], [-12.0, -a, 12.0, -a], [a, 2 * b, -a, 4 * b]]
        local[np.ix_([move, turn, move + 6, turn + 6], [move, turn, move + 6, turn + 6])] = (
            E * second / length**3 * np.array(rows)
        )
    axes = np.kron(np.eye(4), np.stack([along, side, np.cross(along, side)]))
    return np.asarray(axes.T @ local @ axes)


def compliance(twin: Twin, pitches: int, steps: int, load: int, *, straight: bool, held: tuple[int, ...]) -> float:
    """Tip displacement (3 to 5: rotation) under a unit load of that kind, base clamped, N and mm.

    straight : the core's nodes do not move sideways; held : components of the tip that are held
    """
    count = pitches * steps + 1
    phi = 2.0 * np.pi * np.arange(count) / steps
    axis = np.stack([0.0 * phi, 0.0 * phi, twin.pitch * phi / (2.0 * np.pi)], axis=1) / UNIT
    arm = np.stack([np.cos(phi), np.sin(phi), 0.0 * phi], axis=1) * twin.offset / UNIT
    rise = twin.pitch / (2.0 * np.pi * twin.offset)
    tangent = np.stack([-np.sin(phi), np.cos(phi), np.full(count, rise)], axis=1) / np.hypot(1.0, rise)
    ends, blocks = (0, count - 1), []
    for nodes, diameter, first in ((axis, twin.core, 0), (axis + arm, twin.strand, count)):
        for i, (one, two) in enumerate(pairwise(nodes)):
            at = np.arange(6 * (first + i), 6 * (first + i) + 12)
            blocks.append((np.repeat(at, 12), np.tile(at, 12), beam(one, two, diameter, twin).ravel()))
    rows, columns, values = (np.concatenate(part) for part in zip(*blocks, strict=True))
    whole = sparse.csr_matrix((values, (rows, columns)), (12 * count, 12 * count))
    follow = sparse.lil_matrix((12 * count, 10 * count))  # unknowns: core's six, then slide and rotation of the strand
    for i in range(count):
        base, own = 6 * i, 6 * (count + i)
        slide = 6 * count + 4 * i
        follow[base : base + 6, base : base + 6] = np.eye(6)
        x, y, z = arm[i]
        follow[own : own + 3, base : base + 3] = np.eye(3)
        follow[own : own + 3, base + 3 : base + 6] = np.array([[0, z, -y], [-z, 0, x], [y, -x, 0]])  # theta x arm
        if i in ends:
            follow[own + 3 : own + 6, base + 3 : base + 6] = np.eye(3)
        else:
            follow[own : own + 3, slide] = tangent[i][:, None]
            follow[own + 3 : own + 6, slide + 1 : slide + 4] = np.eye(3)
    follow = follow.tocsr()
    tip = 6 * (count - 1)
    fixed = {*range(6), *(tip + k for k in held), *(6 * count + 4 * i + k for i in ends for k in range(4))}
    if straight:
        fixed |= {6 * i + k for i in range(count) for k in (0, 1)}
    free = np.setdiff1d(np.arange(10 * count), np.array(sorted(fixed)))
    pull = np.zeros(10 * count)
    pull[tip + load] = 1.0
    reduced = (follow.T @ whole @ follow)[free][:, free].tocsc()
    return float(spsolve(reduced, pull[free])[np.searchsorted(free, tip + load)])


def rigidity(twin: Twin, steps: int, load: int, *, straight: bool = False, held: tuple[int, ...] = ()) -> float:
    """EA (load 2), bending (3) or torsional rigidity (5) between the ends, N or N m2."""
    give = [compliance(twin, k, steps, load, straight=straight, held=held) for k in (SHORT, LONG)]
    return (LONG - SHORT) * twin.pitch / (give[1] - give[0]) / UNIT * (1.0 if load == 2 else UNIT**2)
