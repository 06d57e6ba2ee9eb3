"""Chains of circular arcs in space through points with tangents, and as few of them as follow a curve. SI units.

A biarc joins two points with given tangents by two arcs that share their tangent at the joint. An arc touches the
tangents at its ends at equal distances from where these meet. With that distance d at both ends (p0, t0) and (p1, t1),
the tangents meet at q0 = p0 + d t0 and q1 = p1 - d t1; the joint is their middle and |q1 - q0| = 2 d, that is

    2 (1 - t0.t1) d^2 + 2 d v.(t0 + t1) - v.v = 0,   v = p1 - p0                                   (theory, 13a)

whose positive root always exists. Derived here; equal distances are the usual choice (Sharrock 1987, "Biarcs in three
dimensions", in The Mathematics of Surfaces II, from memory). It keeps a circle a circle, and a chain through a helix
at equal steps consists of congruent arcs.
"""

from dataclasses import dataclass
from math import atan2, ceil, cos, hypot, pi, sin

import numpy as np
from numpy.typing import NDArray

from .scene import Centreline

Array = NDArray[np.float64]

STRAIGHT = 1e-5  # 1/m, an arc of less curvature counts as straight: over 0.1 m it turns by 1e-6 and rises by 12 nm
MOST_TURN = pi / 2.0  # rad, of one arc: well below the half turn at which its foot points become ambiguous
EVEN = 0.02  # -, the arcs are spread evenly until their largest deviation is within this share of the least possible


@dataclass(frozen=True)
class Arcs:
    """Arcs in space, one row each, every one starting where the last one ends and in its direction.

    start, tangent, normal : ndarray, shape (n, 3)
        start point (m), direction there, direction from there to the centre of curvature (zero where straight)
    curvature, length : ndarray, shape (n,)
        1/m, m
    """

    start: Array
    tangent: Array
    normal: Array
    curvature: Array
    length: Array

    def distance(self, points: Array) -> Array:
        """Distance (m) of points, shape (m, 3), from the nearest of the arcs, shape (m,); exact, ends included."""
        u = points[:, None, :] - self.start[None]
        along, eta = np.einsum("mij,ij->mi", u, self.tangent), np.einsum("mij,ij->mi", u, self.normal)
        rest = u - along[:, :, None] * self.tangent - eta[:, :, None] * self.normal
        zeta = np.linalg.norm(rest, axis=2)
        bent = self.curvature > 0.0
        radius = 1.0 / np.where(bent, self.curvature, 1.0)
        out = np.hypot(radius - eta, along)
        foot = np.where(bent, np.arctan2(along, radius - eta) * radius, along)
        away = np.where(bent, np.hypot(radius - out, zeta), np.hypot(eta, zeta))
        away = np.where((foot >= 0.0) & (foot <= self.length), away, np.inf)
        ends = np.concatenate([self.start, self._end()[None]])
        nearest_end = np.linalg.norm(points[:, None, :] - ends[None], axis=2).min(axis=1)
        return np.asarray(np.minimum(away.min(axis=1), nearest_end))

    def _end(self) -> Array:
        """Point where the last arc ends."""
        k, length = self.curvature[-1], self.length[-1]
        if k == 0.0:
            return np.asarray(self.start[-1] + length * self.tangent[-1])
        side = sin(k * length) * self.tangent[-1] + (1.0 - cos(k * length)) * self.normal[-1]
        return np.asarray(self.start[-1] + side / k)

    def centreline(self) -> Centreline:
        """The same arcs as a centreline: up to a rigid motion, with azimuth 0 on the outer side of the first bend.

        The plane of each arc is taken in the rotation-minimising frame, which an arc turns with itself: the component
        along its normal follows the normal, the one along its binormal stays.
        """
        bent = np.flatnonzero(self.curvature > 0.0)
        t = self.tangent[0]
        if len(bent):
            e1 = -self.normal[bent[0]]
        else:
            e1 = np.eye(3)[int(np.argmin(np.abs(t)))]
            e1 = np.cross(t, e1) / np.linalg.norm(np.cross(t, e1))
        e2 = np.cross(t, e1)
        planes, plane = [], pi
        for n, kappa, length in zip(self.normal, self.curvature, self.length, strict=True):
            if kappa > 0.0:
                plane = atan2(float(n @ e2), float(n @ e1))
                a, b = kappa * length, np.cross(t, n)
                t, n = cos(a) * t + sin(a) * n, cos(a) * n - sin(a) * t
                e1 = cos(plane) * n - sin(plane) * b
                e2 = sin(plane) * n + cos(plane) * b
            planes.append(plane)
        return Centreline(tuple(self.length.tolist()), tuple(self.curvature.tolist()), tuple(planes))


def biarcs(points: Array, tangents: Array) -> Arcs:
    """Two arcs between each point and the next, with the given directions at the points. theory (13a).

    Parameters
    ----------
    points, tangents : ndarray, shape (n, 3)
        points, m, no two neighbours alike; unit tangents

    Returns
    -------
    Arcs
        2 (n - 1) arcs
    """
    p0, p1, t0, t1 = points[:-1], points[1:], tangents[:-1], tangents[1:]
    v = p1 - p0
    square, forward = _dot(v, v), _dot(v, t0 + t1)
    d = square / (forward + np.sqrt(forward**2 + _dot(t1 - t0, t1 - t0) * square))  # 2 (1 - t0.t1) = |t1 - t0|^2
    q0, q1 = p0 + d[:, None] * t0, p1 - d[:, None] * t1
    joint, middle = 0.5 * (q0 + q1), (q1 - q0) / (2.0 * d)[:, None]
    start, along = np.empty((2 * len(d), 3)), np.empty((2 * len(d), 3))
    start[0::2], start[1::2], along[0::2], along[1::2] = p0, joint, t0, middle
    after = np.empty_like(along)
    after[0::2], after[1::2] = middle, t1
    half = np.arctan2(np.linalg.norm(after - along, axis=1), np.linalg.norm(after + along, axis=1))
    reach = np.repeat(d, 2)
    curvature = np.tan(half) / reach
    curvature = np.where(curvature < STRAIGHT, 0.0, curvature)
    bent = curvature > 0.0
    length = np.where(bent, 2.0 * half / np.where(bent, curvature, 1.0), 2.0 * reach)
    toward = after - _dot(after, along)[:, None] * along
    normal = np.where(bent[:, None], toward / np.maximum(np.linalg.norm(toward, axis=1), 1e-300)[:, None], 0.0)
    return Arcs(start, along, normal, curvature, length)


def fewest(points: Array, tangents: Array, deviation: float) -> tuple[Arcs, float]:
    """As few biarcs as stay within `deviation` (m) of a curve, then spread so that the largest deviation is least.

    Each biarc reaches as far along the curve as it may. A biarc that meets the tolerance over a stretch is taken to do
    so over every shorter one, which holds for smooth curves; if not, a few arcs more are used, never a worse line.

    Parameters
    ----------
    points, tangents : ndarray, shape (n, 3)
        dense samples of the curve, m, and unit tangents there; the arcs' ends lie on samples

    Returns
    -------
    arcs, deviation
        the chain and the largest distance of a sample from it, m
    """
    nodes = _nodes(points, tangents, deviation)
    low, high = 0.0, deviation
    while high - low > EVEN * high:
        middle = 0.5 * (low + high)
        other = _nodes(points, tangents, middle)
        if len(other) <= len(nodes):
            nodes, high = other, middle
        else:
            low = middle
        if high < 1e-3 * deviation:  # exact arcs: nothing left to spread
            break
    arcs = biarcs(points[nodes], tangents[nodes])
    reached = max(_off(points[i : j + 1], tangents[[i, j]]) for i, j in zip(nodes, nodes[1:], strict=False))
    return arcs, reached


def _nodes(points: Array, tangents: Array, deviation: float) -> list[int]:
    """Samples at which biarcs meet, each as far from the last as the deviation allows."""
    nodes, last = [0], len(points) - 1
    reach = 1
    while nodes[-1] < last:
        i = nodes[-1]

        def good(step: int, i: int = i) -> bool:
            j = i + step
            return j <= last and _off(points[i : j + 1], tangents[[i, j]]) <= deviation

        low = max(1, reach // 2)  # the last biarc's length is the first guess
        while low > 1 and not good(low):
            low //= 2
        high = 2 * low
        while good(high):
            low, high = high, 2 * high
        high = min(high, last - i + 1)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if good(middle) else (low, middle)
        reach = low
        nodes.append(i + low)
    return nodes


def _off(points: Array, ends: Array) -> float:
    """Largest distance of samples from the biarc between the first and the last; inf where an arc turns too far."""
    arcs = biarcs(points[[0, -1]], ends)
    if np.any(arcs.curvature * arcs.length > MOST_TURN * (1.0 + 1e-9)):
        return float("inf")
    if len(points) == 2:
        return 0.0
    return float(arcs.distance(points[1:-1]).max())


def helix(
    radius: float, pitch: float, turns: float, deviation: float, lead: float = 0.0, tail: float = 0.0
) -> tuple[Centreline, float]:
    """Helix of equal arcs between straight stretches, and its deviation from the exact helix.

    Points and tangents are exact: x = (R cos u, R sin u, c u), c = pitch/2 pi, curvature R/(R^2 + c^2).

    Parameters
    ----------
    radius, pitch : float
        of the helix's cylinder; rise a turn, negative: left-handed; m
    turns : float
        number of turns, > 0
    deviation : float
        largest distance of the exact helix from the arcs, m: the fewest arcs that meet it
    lead, tail : float
        straight stretches before and behind, m

    Returns
    -------
    centreline, deviation
        azimuth 0 is the outer side, away from the axis, where the helix begins
    """
    c, angle = abs(pitch) / (2.0 * pi), 2.0 * pi * turns
    speed, hand = hypot(radius, c), 1.0 if pitch >= 0.0 else -1.0

    def place(u: Array) -> tuple[Array, Array]:
        x = np.stack([radius * np.cos(u), hand * radius * np.sin(u), c * u], axis=1)
        t = np.stack([-radius * np.sin(u), hand * radius * np.cos(u), np.full_like(u, c)], axis=1)
        return x, t / speed

    count, reached = ceil(angle * radius / speed / (2.0 * MOST_TURN)), float("inf")
    while reached > deviation:
        x, t = place(np.linspace(0.0, angle / count, 101))
        reached = _off(x, t[[0, -1]])  # one biarc tells: all are congruent
        count += 1
    line = biarcs(*place(np.linspace(0.0, angle, count))).centreline()  # count: one more node than biarcs
    lengths, curvatures, planes = list(line.lengths), list(line.curvatures), list(line.planes)
    if lead > 0.0:
        lengths, curvatures, planes = [lead, *lengths], [0.0, *curvatures], [planes[0], *planes]
    if tail > 0.0:
        lengths, curvatures, planes = [*lengths, tail], [*curvatures, 0.0], [*planes, planes[-1]]
    return Centreline(tuple(lengths), tuple(curvatures), tuple(planes)), reached


def _dot(a: Array, b: Array) -> Array:
    """Scalar products of rows."""
    return np.asarray(np.einsum("ij,ij->i", a, b))
