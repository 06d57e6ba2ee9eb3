"""Element lengths: uniform and fine near the tip, growing towards the base."""

import numpy as np
from scipy.optimize import brentq

from .elastic import Array

FINE_LENGTH = 16.18e-3  # m, distal length with uniform elements: what enters a tear and folds; not commensurate with an
# increment of 0.1 mm at 120 elements, so that works sampled once an increment do not alias with the mesh
FINE_SHARE = 0.75  # share of the elements spent on it


def graded_lengths(length: float, elements: int) -> Array:
    """Element lengths from base to tip, m, shape (elements,).

    A share FINE_SHARE of them divides the distal FINE_LENGTH evenly; the others grow geometrically towards the base.
    """
    if length <= FINE_LENGTH or elements < 16:
        return np.full(elements, length / elements)
    fine = round(FINE_SHARE * elements)
    size, rest, count = FINE_LENGTH / fine, length - FINE_LENGTH, elements - fine
    if count * size >= rest:
        return np.full(elements, length / elements)
    powers = np.arange(1, count + 1)
    ratio = brentq(lambda q: size * float(np.sum(q**powers)) - rest, 1.0, 2.0, xtol=1e-14)
    return np.concatenate([size * ratio ** powers[::-1], np.full(fine, size)])
