"""Inertia of the rod: masses lumped at the nodes, rotational inertia on the elements. theory (37)-(39)."""

from typing import NamedTuple

import numpy as np

from ..kernel import kernel
from ..profile import Profile
from .band import HALF, add_diagonal
from .build import node_distances
from .elastic import Array
from .model import BoolArray
from .small import (
    add,
    cross,
    inverse_right_jacobian,
    log_coefficients,
    matmul,
    rotation,
    scale_columns,
    skew,
    symmetric,
)


class Inertia(NamedTuple):
    """Inertia as arrays.

    mass : shape (N + 1,), masses of the nodes, kg
    spin : shape (N, 3), principal moments of inertia of the elements about their frames' axes, kg m2
    """

    mass: Array
    spin: Array


def lumped_inertia(lengths: Array, mass: Array, spin: Array) -> Inertia:
    """Inertia from values per length: each node takes half of its elements' masses. theory (37).

    Parameters
    ----------
    lengths : ndarray, shape (N,)
        element lengths, m
    mass : ndarray, shape (N,)
        mass per length of the elements, kg/m
    spin : ndarray, shape (N, 3)
        rotational inertia per length, density times I1, I2 and I1 + I2, kg m

    Raises
    ------
    ValueError
        when a value is not positive and finite: an unknown without inertia has no acceleration
    """
    for name, values in (("mass", mass), ("spin", spin)):
        if not (np.all(np.isfinite(values)) and np.all(values > 0.0)):
            message = f"{name} per length must be positive and finite; the smallest is {np.min(values)}"
            raise ValueError(message)
    half = 0.5 * lengths * mass
    nodes = np.zeros(len(lengths) + 1)
    nodes[:-1] += half
    nodes[1:] += half
    return Inertia(nodes, np.ascontiguousarray(lengths[:, None] * spin))


def inertia_from_profile(profile: Profile, lengths: Array) -> Inertia:
    """Inertia of the rod of `profile_rod`, sampled at the elements' middles.

    The profile knows mass and radius, not where in the section the mass is: the rotational inertia is that of a solid
    round section of the same mass and radius, m r^2/4 across and m r^2/2 along.
    """
    from_tip = node_distances(lengths)
    middle = 0.5 * (from_tip[1:] + from_tip[:-1])
    mass = profile.at("mass", middle)
    across = 0.25 * mass * profile.at("radius", middle) ** 2
    return lumped_inertia(lengths, mass, np.stack([across, across, 2.0 * across], axis=1))


def line_drag(lengths: Array, along: float, turning: float = 0.0) -> Array:
    """Viscous coefficients of all unknowns from values per length, shape (6 N + 3,). theory (39).

    Parameters
    ----------
    lengths : ndarray, shape (N,)
        element lengths, m
    along : float
        drag force per length and velocity of the nodes, N s/m2 (the same in all directions)
    turning : float
        drag moment per length and angular velocity of the elements, N s

    Returns
    -------
    ndarray, shape (6 N + 3,)
        N s/m at positions, N m s at rotations
    """
    if along < 0.0 or turning < 0.0:
        message = f"drag is {along} N s/m2 and {turning} N s; both must be at least 0"
        raise ValueError(message)
    n = len(lengths)
    out = np.zeros(6 * n + 3)
    own = np.zeros(n + 1)
    own[:-1] += 0.5 * lengths
    own[1:] += 0.5 * lengths
    for a in range(3):
        out[a::6] = along * own
        out[a + 3 :: 6] = turning * lengths
    return out


def diagonal(inertia: Inertia) -> Array:
    """Diagonal of the mass matrix in the order of the unknowns, shape (6 N + 3,), kg and kg m2."""
    out = np.empty(6 * len(inertia.spin) + 3)
    for a in range(3):
        out[a::6] = inertia.mass
        out[a + 3 :: 6] = inertia.spin[:, a]
    return out


def momentum(inertia: Inertia, velocity: Array) -> Array:
    """Linear momentum of node velocities (N + 1, 3), kg m/s, shape (3,)."""
    return np.asarray(inertia.mass @ velocity)


def angular_momentum(inertia: Inertia, x: Array, q: Array, velocity: Array, spin: Array) -> Array:
    """Angular momentum about the origin, kg m2/s, shape (3,); `spin` (N, 3) in the frames, rad/s."""
    total = inertia.mass @ np.cross(x, velocity)
    for j in range(len(q)):
        frame = np.array(rotation((q[j, 0], q[j, 1], q[j, 2], q[j, 3]))).reshape(3, 3)
        total = total + frame @ (inertia.spin[j] * spin[j])
    return np.asarray(total)


@kernel
def add_inertia(
    inertia: Inertia,
    damping: Array,
    fixed: BoolArray,
    by_acceleration: float,
    by_velocity: float,
    turn: Array,
    v: Array,
    w: Array,
    rest: Array,
    band: Array,
) -> None:
    """Add inertia forces and drag to the residual `rest`, and their tangent to `band`. theory (38), (39), (43).

    Parameters
    ----------
    by_acceleration, by_velocity : float
        derivatives of accelerations (1/s2) and velocities (1/s) by the increments since the start of the step
    turn : ndarray, shape (6 N + 3,)
        those increments; the rotation vectors among them enter the tangent
    v, w : ndarray, shape (6 N + 3,)
        velocities and accelerations of the unknowns

    The tangent is the symmetric part: what is left out is skew and sits in the 3x3 blocks of the rotations.
    """
    n = inertia.spin.shape[0]
    for i in range(n + 1):
        for a in range(3):
            k = 6 * i + a
            if not fixed[k]:
                rest[k] += inertia.mass[i] * w[k] + damping[k] * v[k]
                band[k, HALF] += by_acceleration * inertia.mass[i] + by_velocity * damping[k]
    for j in range(n):
        k = 6 * j + 3
        ja, jb, jc = inertia.spin[j, 0], inertia.spin[j, 1], inertia.spin[j, 2]
        spin = (v[k], v[k + 1], v[k + 2])
        own = (ja * spin[0], jb * spin[1], jc * spin[2])
        gyro = cross(spin, own)
        rest[k] += ja * w[k] + gyro[0] + damping[k] * spin[0]
        rest[k + 1] += jb * w[k + 1] + gyro[1] + damping[k + 1] * spin[1]
        rest[k + 2] += jc * w[k + 2] + gyro[2] + damping[k + 2] * spin[2]
        # d(spin x J spin) = ([spin] J - [J spin]) d spin
        by_spin = add(scale_columns(skew(spin), (ja, jb, jc)), skew(own), -1.0)
        da = by_acceleration * ja + by_velocity * damping[k]
        db = by_acceleration * jb + by_velocity * damping[k + 1]
        dc = by_acceleration * jc + by_velocity * damping[k + 2]
        whole = add((da, 0.0, 0.0, 0.0, db, 0.0, 0.0, 0.0, dc), by_spin, by_velocity)
        theta = (turn[k], turn[k + 1], turn[k + 2])
        jac = inverse_right_jacobian(theta, log_coefficients(theta)[0])
        add_diagonal(band, k, symmetric(matmul(whole, jac)))
