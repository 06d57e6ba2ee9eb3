"""A discrete rod from a stiffness profile: base at node 0, the wire's tip at node N."""

import numpy as np

from ..profile import Profile
from .elastic import Array, RodArrays
from .statics import straight_rod


def rod_from_profile(
    profile: Profile,
    lengths: Array,
    natural: Array | None = None,
    clamped: tuple[bool, bool] = (True, False),
) -> tuple[RodArrays, Array, Array]:
    """Straight rod along +z whose last node is the profile's tip.

    Bending and twisting rigidities are sampled at the joints (nodes), stretching and shearing rigidities at the
    elements' midpoints. The clamps' joints own half an element and take the value a quarter of an element
    inside the rod, the middle of the piece they stand for; this keeps second order where EI varies.

    Parameters
    ----------
    profile : Profile
        rigidities over distance from the tip
    lengths : ndarray, shape (N,)
        element lengths from the base to the tip, m
    natural : ndarray, shape (N + 1, 3), optional
        natural curvature and twist at the joints, base to tip, 1/m
    clamped : pair of bool
        whether the frame of the first (base) and of the last (tip) element is tied to a clamp

    Returns
    -------
    rod : RodArrays
        the rod
    x : ndarray, shape (N + 1, 3)
        node positions, m; node 0 at the origin, node N at (0, 0, sum(lengths))
    q : ndarray, shape (N, 4)
        element frames
    """
    from_tip = node_distances(lengths)
    joints = from_tip.copy()
    joints[0] -= 0.25 * lengths[0]
    joints[-1] += 0.25 * lengths[-1]
    middle = 0.5 * (from_tip[1:] + from_tip[:-1])
    bend = np.stack([profile.at(key, joints) for key in ("EI1", "EI2", "GJ")], axis=1)
    shear = profile.at("GA", middle)
    stretch = np.stack([shear, shear, profile.at("EA", middle)], axis=1)
    return straight_rod(lengths, bend=bend, stretch=stretch, natural=natural, clamped=clamped)


def node_distances(lengths: Array) -> Array:
    """Distance of each node from the tip, shape (N + 1,), m: decreasing from the total length to 0."""
    return np.concatenate([np.cumsum(lengths[::-1])[::-1], [0.0]])
