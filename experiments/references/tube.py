"""A straight wire laid in a bent tube: the force of the wall on it, as a beam of small slope between two walls.

Plane, without friction. Lengths across over the clearance c, along over sqrt(c R), forces over EI/(R sqrt(c R)), v
toward the centre: the curvature over 1/R is b + v'' + e b v with b = 1 in the bend of radius R, 0 beside it, e = c/R; a
length of the axis is one of the wire times 1 + e b v. To first order in e the energy is the integral of
(b + v'')^2/2 + e b v/2; it is least with |v| <= 1. Slopes of the wire against the axis, e v'^2, are neglected.
"""

from math import sqrt

import numpy as np
from scipy.linalg import solveh_banded

from .path import Array

STEP = 0.04  # of sqrt(c R)
STIFFNESS = (1.0, 1e1, 1e2, 1e3, 1e4, 1e5)  # of the walls per length, raised as the beam settles: 1e-5 of c at the end
NEWTON = 400  # iterations at most
REST = 1e-10  # of the clearance, change from iteration to iteration


def wall_force(slim: float, angle: float, before: float, behind: float) -> float:
    """Sum of the wall's forces on a wire, over EI/(R sqrt(c R)).

    slim = c/R, angle of the bend, rad; `before`, `behind`: straights beside it over R, the wire clamped in the axis at
    the beginning, free at the end.
    """
    long = sqrt(1.0 / slim)
    first, bent, last = before * long, angle * long, behind * long
    count = round((first + bent + last) / STEP)
    h = (first + bent + last) / count
    at = h * np.arange(count + 1) - first
    edge = np.clip(np.minimum(at, bent - at) / h + 0.5, 0.0, 1.0)  # the part of a node's share inside the bend
    # bending at nodes 0 .. count - 1 (0: clamped, v = v' = 0 there); unknowns v_1 .. v_count
    rows = np.zeros((5, count))  # upper band of A^T A
    weight = np.full(count, h)
    weight[0] = 0.5 * h
    low, middle, high = np.full(count, 1.0 / h**2), np.full(count, -2.0 / h**2), np.full(count, 1.0 / h**2)
    high[0] = 2.0 / h**2  # v_-1 = v_1
    pull = 0.5 * slim * h * edge[1:]
    for m in range(count):
        part = [(m - 2, low[m]), (m - 1, middle[m]), (m, high[m])]
        part = [(i, value) for i, value in part if i >= 0]
        for i, one in part:
            pull[i] += weight[m] * edge[m] * one
            for j, two in part:
                if j >= i:
                    rows[4 - (j - i), j] += weight[m] * one * two
    return float(np.sum(np.abs(_pressed(rows, pull, h))))


def _pressed(rows: Array, pull: Array, h: float) -> Array:
    """Forces of the walls at the nodes; rows: upper band of the beam's stiffness, pull: its force without walls."""
    v = np.zeros(len(pull))
    for stiff in STIFFNESS:
        k = stiff * h
        for _ in range(NEWTON):
            over = np.sign(v) * np.maximum(np.abs(v) - 1.0, 0.0)
            band = rows.copy()
            band[4] += np.where(over != 0.0, k, 1e-12)
            goal = solveh_banded(band, -pull + np.where(over != 0.0, k * np.sign(v), 0.0))
            step = goal - v
            v = v + step * min(1.0, 0.5 / float(np.max(np.abs(step)))) if np.max(np.abs(step)) > 0.5 else goal
            if np.max(np.abs(step)) < REST:
                break
        else:
            message = f"the beam does not settle between walls of stiffness {stiff:g}"
            raise RuntimeError(message)
    return np.asarray(k * np.sign(v) * np.maximum(np.abs(v) - 1.0, 0.0))
