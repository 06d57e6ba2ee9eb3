"""Element lengths: uniform and fine near the tip, growing towards the base."""

import numpy as np
from scipy.optimize import brentq

from .elastic import Array

FINE_LENGTH = 16.18e-3  # m, distal length with uniform elements: what enters a tear and folds; not commensurate with an
# increment of 0.1 mm at 120 elements, so that works sampled once an increment do not alias with the mesh
FINE_SHARE = 0.75  # share of the elements spent on it
GROWTH = 1.2  # from one element to the next where their length is bounded


def graded_lengths(length: float, elements: int, longest: float | None = None) -> Array:
    """Element lengths from base to tip, m, shape (elements,).

    A share FINE_SHARE of them divides the distal FINE_LENGTH evenly; the others grow geometrically towards the base.
    Where none may be longer than `longest` (m), as few as can be are spent on the rest, growing by GROWTH at most.

    Raises
    ------
    ValueError
        where so many elements cannot reach so far
    """
    if longest is not None:
        return _bounded_lengths(length, elements, longest)
    if length <= FINE_LENGTH or elements < 16:
        return np.full(elements, length / elements)
    fine = round(FINE_SHARE * elements)
    size, rest, count = FINE_LENGTH / fine, length - FINE_LENGTH, elements - fine
    if count * size >= rest:
        return np.full(elements, length / elements)
    powers = np.arange(1, count + 1)
    ratio = brentq(lambda q: size * float(np.sum(q**powers)) - rest, 1.0, 2.0, xtol=1e-14)
    return np.concatenate([size * ratio ** powers[::-1], np.full(fine, size)])


def _bounded_lengths(length: float, elements: int, longest: float) -> Array:
    """Element lengths none of which is longer than `longest`, m."""
    rest = length - FINE_LENGTH
    for count in range(0 if rest <= 0.0 else 1, elements - 1):
        size = min(FINE_LENGTH, length) / (elements - count)
        coarse = np.minimum(size * GROWTH ** np.arange(1, count + 1), longest)
        if size <= longest and float(np.sum(coarse)) >= rest:
            return np.concatenate(
                [coarse[::-1] * (rest / np.sum(coarse) if count else 1.0), np.full(elements - count, size)]
            )
    raise ValueError(f"{elements} elements of at most {longest} m do not make {length} m")
