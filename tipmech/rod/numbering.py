"""Numbering of a structure's unknowns; its joints and loads as arrays of the kernels."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy.spatial.transform import Rotation

from ..bending import PIECES, MomentLaw, in_series
from .build import Rod
from .elastic import Array
from .errors import NodeError, ShapeError
from .loads import Force, LineLoad, Load, Moment
from .model import BoolArray, IntArray


def node_index(rod: Rod, node: int, what: str) -> int:
    """Node number from 0; NodeError where there is none."""
    count = rod.elements + 1
    if isinstance(node, bool) or not isinstance(node, int | np.integer) or not -count <= node < count:
        message = f"{what} at node {node!r}; allowed: {-count} to {count - 1}"
        raise NodeError(message)
    return int(node) % count


def per_element(rod: Rod, value: object, columns: tuple[int, ...], what: str) -> Array:
    """One value for the rod, or one for each element: shape (N, *columns); ShapeError otherwise."""
    array = np.asarray(value, dtype=float)
    if array.shape not in (columns, (rod.elements, *columns)):
        message = f"{what} has shape {array.shape}; allowed: {columns} or {(rod.elements, *columns)}"
        raise ShapeError(message)
    return np.broadcast_to(array, (rod.elements, *columns))


def acting_on_sections(rod: Rod, loads: Sequence[Load]) -> set[int]:
    """Nodes whose section a load acts on: moments, and forces that follow it."""
    acting = (p for p in loads if isinstance(p, Moment) or (isinstance(p, Force) and p.follower))
    return {node_index(rod, p.node, "load") for p in acting}


def numbering(n: int, nodes: tuple[int, ...]) -> tuple[IntArray, IntArray, int]:
    """First unknowns of nodes and frames: x_0, [Q_0], th_0, ...; Q_0 before x_0, which keeps the band narrow."""
    at_node, at_frame = np.zeros(n + 1, np.int64), np.zeros(n + len(nodes), np.int64)
    own = {i: n + k for k, i in enumerate(nodes)}
    size = 0
    for i in range(n + 1):
        if i == 0 and i in own:
            at_frame[own[i]], size = size, size + 3
        at_node[i], size = size, size + 3
        if i > 0 and i in own:
            at_frame[own[i]], size = size, size + 3
        if i < n:
            at_frame[i], size = size, size + 3
    return at_node, at_frame, size


def joints_of(
    rod: Rod, nodes: tuple[int, ...], released: BoolArray
) -> tuple[IntArray, tuple[Array, ...], IntArray, Array]:
    """Joints between frames: whole ones, or two halves where a node has its own frame (a hinge is in the second).

    Frames on both sides; span, bend, natural, limit, side and law of RodArrays; which are turned, and by what.
    """
    n = rod.elements
    own = {i: n + k for k, i in enumerate(nodes)}
    rows: list[tuple[int, int, float, Array, Array, Array]] = []  # sides, span, rigidity, natural, offset
    pieces: list[tuple[int, int]] = []  # halves of elements that a joint is made of: one (twice), or two
    none = np.array([1.0, 0.0, 0.0, 0.0])
    for i in range(n + 1):
        keep = np.where(released[i], 0.0, 1.0)
        before = (0.5 * rod.lengths[i - 1], rod.half[i - 1, 1], rod.natural[i, 0]) if i > 0 else None
        behind = (0.5 * rod.lengths[i], rod.half[i, 0], rod.natural[i, 1]) if i < n else None
        if i in own:
            if before:
                kept = keep if behind is None else np.ones(3)
                rows.append((i - 1, own[i], before[0], kept * before[0] / before[1], before[2], none))
                pieces.append((2 * i - 1, 2 * i - 1))
            if behind:
                corner = _between(rod.sections[i, 0], rod.sections[i, 1]) if i in rod.corners else none
                rows.append((own[i], i, behind[0], keep * behind[0] / behind[1], behind[2], corner))
                pieces.append((2 * i, 2 * i))
        elif before and behind:
            span = before[0] + behind[0]
            rows.append((i - 1, i, span, keep * span / (before[1] + behind[1]), before[2], none))
            pieces.append((2 * i - 1, 2 * i))
    sides = np.array([r[:2] for r in rows], dtype=np.int64).reshape(-1, 2)
    offset = np.array([r[5] for r in rows]).reshape(-1, 4)
    turned = np.array([r[1] in rod.corners and r[0] >= n for r in rows], dtype=np.int64)
    arrays: tuple[Array, ...] = (
        np.array([r[2] for r in rows]),
        np.array([r[3] for r in rows]).reshape(-1, 3),
        np.array([r[4] for r in rows]).reshape(-1, 3),
    )
    arrays += _laws(rod, np.array(pieces, dtype=np.int64).reshape(-1, 2), arrays[1])
    return sides, arrays, turned, offset


def _laws(rod: Rod, pieces: IntArray, bend: Array) -> tuple[Array, Array, Array]:
    """Limits, sides and laws of joints, as in RodArrays, from the halves (J, 2) of elements that they are made of."""
    if rod.law is None:
        return np.zeros(0), np.zeros(0), np.zeros((0, 3, PIECES + 1))
    limit, side, table = _joined(rod.law, rod.lengths.tobytes(), rod.half[:, :, :2].tobytes(), pieces.tobytes())
    return limit, np.where(bend[:, 1] > 0.0, side, 0.0), table  # a hinge about axis 2 takes no part


@lru_cache(maxsize=8)  # a rod in a tube is built anew for each natural curvature: its laws took half of the time
def _joined(law: MomentLaw, lengths: bytes, half: bytes, pieces: bytes) -> tuple[Array, Array, Array]:
    """`_laws` of a rod's law, lengths and halves and of the joints' pieces, arrays as bytes; not to be written to."""
    joints = np.frombuffer(pieces, dtype=np.int64).reshape(-1, 2)
    a, b = joints[:, 0] // 2, joints[:, 1] // 2
    turn = np.frombuffer(half).reshape(-1, 2)
    first, second = turn[joints[:, 0]], turn[joints[:, 1]]
    own = 0.5 * np.frombuffer(lengths)
    parts = own[a], own[b]
    joint = in_series(law.rows(a), law.rows(b), parts, (first[:, 0], second[:, 0]))
    return law_arrays((parts[0] + parts[1])[:, None] / (first + second), joint)


def law_arrays(rigidity: Array, law: MomentLaw) -> tuple[Array, Array, Array]:
    """Limits, sides and laws of joints as in RodArrays: EI1, EI2 on the line (J, 2), N m2, and laws of J rows.

    About axis 2 the parts of the law have at most all of EI2 (where two kinds of section meet in a joint their mean
    aspect may claim more): the energy is then convex.
    """
    most = rigidity[:, 1] / np.maximum(law.share, np.finfo(float).tiny)
    side = np.minimum(rigidity[:, 0] * law.aspect, most)
    return rigidity[:, 0] * law.limit**2, side, np.stack([law.stored, law.moment, law.slope], axis=1)


def _between(a: Array, b: Array) -> Array:
    """Quaternion of Ra^T Rb."""
    turn = Rotation.from_quat(np.roll(a, -1)).inv() * Rotation.from_quat(np.roll(b, -1))
    return np.roll(turn.as_quat(), 1)


def forces_of(
    rod: Rod, nodes: tuple[int, ...], loads: Sequence[Load]
) -> tuple[Array, IntArray, Array, IntArray, Array]:
    """Dead forces (2, N + 1, 3); following forces and moments with their places."""
    n = rod.elements
    dead = np.zeros((2, n + 1, 3))
    follow: list[tuple[int, int, int, Array]] = []  # node, frame, constant or proportional, vector
    turn: list[tuple[int, int, int, Array]] = []  # frame, fixed in space, constant or proportional, vector
    for load in loads:
        part = 0 if load.constant else 1
        if isinstance(load, LineLoad):
            share = 0.5 * rod.lengths[:, None] * per_element(rod, load.vector, (3,), "line load")
            if load.follower:
                follow += [(j + k, j, part, share[j]) for j in range(n) for k in (0, 1)]
            else:
                dead[part, :-1] += share
                dead[part, 1:] += share
            continue
        i, vector = node_index(rod, load.node, "load"), np.asarray(load.vector, dtype=float)
        if isinstance(load, Moment):
            turn.append((n + nodes.index(i), int(not load.follower), part, vector))
        elif load.follower:
            follow.append((i, n + nodes.index(i), part, vector))
        else:
            dead[part, i] += vector
    return dead, *_table(follow), *_table(turn)


def _table(rows: list[tuple[int, int, int, Array]]) -> tuple[IntArray, Array]:
    """Places (K, 2) and vectors (2, K, 3), constant and proportional, of loads at frames."""
    values = np.zeros((2, len(rows), 3))
    for k, row in enumerate(rows):
        values[row[2], k] = row[3]
    return np.array([r[:2] for r in rows], dtype=np.int64).reshape(-1, 2), values
