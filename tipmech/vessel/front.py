"""The delamination front: one shared variable, irreversible, pushed by whichever part of the wire leads.

E = min over a >= a_prev of sum_i k_i/2 <p_i - a>^2 + F (a - a_prev): the total force never exceeds F at any mesh.
theory (24).
"""

import numpy as np
from numpy.typing import NDArray

from ..kernel import kernel
from ..smooth import ramp

Array = NDArray[np.float64]

STEPS = 60  # safeguarded Newton steps for the front's position; 3 to 6 are needed


@kernel
def notch(offset: float, depth: float, radius: float) -> tuple[float, float, float]:
    """How far the front stands nearer beside its notch's bottom, and two derivatives. theory (25).

    offset: lateral distance from the bottom, m; depth of the notch, m (0: flat); radius of the wire, m.
    """
    if depth <= 0.0:
        return 0.0, 0.0, 0.0
    w2 = radius * radius
    y2 = offset * offset
    d = y2 + w2
    return depth * y2 / d, 2.0 * depth * w2 * offset / (d * d), 2.0 * depth * w2 * (w2 - 3.0 * y2) / (d * d * d)


@kernel
def front_force(lead: Array, stiff: Array, count: int, position: float, eps: float) -> tuple[float, float]:
    """Total axial force on a front at `position` from leading surfaces `lead` (m), and its stiffness."""
    force, slope = 0.0, 0.0
    for i in range(count):
        _, f, k = ramp(lead[i] - position, eps)
        force += stiff[i] * f
        slope += stiff[i] * k
    return force, slope


@kernel
def front_position(lead: Array, stiff: Array, count: int, previous: float, strength: float, eps: float) -> float:
    """Position of the front for which the total force is at most `strength`: a >= previous, m."""
    force, slope = front_force(lead, stiff, count, previous, eps)
    if force <= strength:
        return previous
    low, high = previous, previous
    for i in range(count):
        high = max(high, lead[i] + eps)
    a = previous
    for _ in range(STEPS):
        if force > strength:
            low = a
        else:
            high = a
        move = (force - strength) / slope if slope > 0.0 else 0.0
        if abs(force - strength) <= 1e-13 * strength or high - low < 1e-15:
            break
        a += move
        if not (low < a < high):
            a = 0.5 * (low + high)
        force, slope = front_force(lead, stiff, count, a, eps)
    return a
