"""Numbers and arrays as users give them: real, of the right shape, finite, and copies of their own."""

from collections.abc import Iterable

import numpy as np

from .elastic import Array
from .errors import GeometryError, NonFiniteError, RodInputError, ShapeError

Shape = tuple[int, ...]


def real_array(value: object, what: str, shapes: Iterable[Shape] | None = None) -> Array:
    """Copy of a value as an array of floats, read only.

    Raises
    ------
    ShapeError
        for a shape that is not among `shapes`
    NonFiniteError
        for what is not a real and finite number
    """
    try:
        given = np.array(value)
    except ValueError:
        message = f"{what} is {value!r}; allowed: numbers in rows of equal length"
        raise ShapeError(message) from None
    if given.dtype.kind not in "iuf":
        message = f"{what} is {value!r}; allowed: real numbers"
        raise NonFiniteError(message)
    if shapes is not None and given.shape not in (known := list(shapes)):
        message = f"{what} has shape {given.shape}; allowed: {' or '.join(map(str, known))}"
        raise ShapeError(message)
    array = given.astype(float)
    if not np.all(np.isfinite(array)):
        at = np.argwhere(~np.isfinite(array))[0]
        place = f" at {tuple(int(i) for i in at)}" if array.ndim else ""
        message = f"{what} is {array[tuple(at)]}{place}; allowed: finite numbers"
        raise NonFiniteError(message)
    array.flags.writeable = False
    return array


def real(value: object, what: str) -> float:
    """A value as one finite number; errors as `real_array`."""
    return float(real_array(value, what, [()]))


def direction(value: object, what: str) -> Array:
    """A vector as a unit vector, shape (3,).

    Raises
    ------
    GeometryError
        where it has no length; else as `real_array`
    """
    e = real_array(value, what, [(3,)])
    size = float(np.linalg.norm(e))
    if size == 0.0:
        message = f"{what} is {tuple(e.tolist())}; allowed: a vector with a length"
        raise GeometryError(message)
    return np.asarray(e / size)


def whole(value: object, what: str, least: int, error: type[RodInputError] = ShapeError) -> int:
    """A value as a whole number of at least `least`."""
    if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < least:
        message = f"{what} is {value!r}; allowed: a whole number of at least {least}"
        raise error(message)
    return int(value)
