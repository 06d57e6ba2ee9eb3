"""Many bundles of one make side by side in memory: word k of lane i next to word k of lane i + 1, WARP lanes a block.

A thread reads its own lane; the threads of a warp read neighbouring words at once. A bundle's place of every field is
known when it is compiled: its lanes are handed on as one address, all lengths and strides are constants.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

WARP = 32  # lanes of a block
WORD = 8  # bytes


class Slot:
    """Place of a field in a lane.

    Attributes
    ----------
    kind : "array", "number", "tuple" or "bundle"
    start : first word
    words : number of words
    dtype : of an array or a number
    shape : of an array
    rows : words from one row of an array to the next (0: all rows in one place, the last written stays)
    inner : of a bundle or tuple: the fields in it
    """

    __slots__ = ("kind", "start", "words", "dtype", "shape", "rows", "inner", "cls")

    def __init__(self, value: Any, start: int, flat: bool = False) -> None:
        self.start, self.inner, self.shape, self.rows, self.cls = start, (), (), 0, None
        self.dtype = np.dtype(np.float64)
        if hasattr(value, "_fields"):
            self.kind, self.cls = "bundle", type(value)
            self._take(value, tuple(value))
        elif isinstance(value, tuple):
            self.kind = "tuple"
            self._take(value, value)
        elif isinstance(value, np.ndarray):
            self.kind, self.dtype, self.shape = "array", value.dtype, value.shape
            _check(self.dtype)
            row = int(np.prod(value.shape[1:]))
            self.rows = 0 if flat else row
            self.words = row if flat else int(np.prod(value.shape))
        else:
            self.kind, self.dtype, self.words = "number", np.asarray(value).dtype, 1
            _check(self.dtype)

    def _take(self, value: Any, items: tuple[Any, ...]) -> None:
        """Lay fields one after another."""
        inner, at = [], self.start
        for item in items:
            slot = Slot(item, at)
            at += slot.words
            inner.append(slot)
        self.inner, self.words = tuple(inner), at - self.start

    @property
    def key(self) -> Any:
        """All that tells one make of fields from another."""
        if self.kind in ("bundle", "tuple"):
            return (self.kind, self.cls, tuple(s.key for s in self.inner))
        return (self.kind, self.dtype.str, self.shape, self.rows)


def _check(dtype: Any) -> None:
    """Words of 8 bytes only."""
    if dtype.kind == "b" or dtype.itemsize != WORD:
        raise TypeError(f"a lane holds numbers of {WORD} bytes, not {dtype}")


def put(slot: Slot, value: Any, block: NDArray[np.float64], lane: int) -> None:
    """Write a value into lane `lane` of a block (words, WARP)."""
    if slot.inner:
        for s, v in zip(slot.inner, value, strict=True):
            put(s, v, block, lane)
    elif slot.kind == "array" and slot.rows == 0 and slot.shape and slot.words != np.prod(slot.shape):
        pass
    elif slot.words:
        flat = np.ascontiguousarray(value, dtype=slot.dtype).reshape(-1).view(np.float64)
        block[slot.start : slot.start + slot.words, lane] = flat


def get(slot: Slot, block: NDArray[np.float64], lane: int) -> Any:
    """An array or number read back from a lane."""
    flat = np.ascontiguousarray(block[slot.start : slot.start + slot.words, lane]).view(slot.dtype)
    if slot.kind == "number":
        return flat[0]
    return flat.reshape(slot.shape if slot.words == np.prod(slot.shape) else slot.shape[1:])
