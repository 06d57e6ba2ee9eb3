"""Many bundles of one make one after another in memory, a lane each.

A bundle's place of every field is known when it is compiled: a lane is handed on as one address, all lengths are
constants.
"""

import hashlib
from collections.abc import Mapping
from math import prod
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import as_strided
from numpy.typing import NDArray

WORD = 8  # bytes
TEAM = 32  # threads that carry out one lane together: a warp


LAST, RAGGED = "last", "ragged"
Mark = str | Mapping[str, Any]


class Slot:
    """Place of a field in a lane, made from a value of it.

    mark : of an array: LAST, all its rows lie in one place, so that the last written stays; RAGGED, its number of rows
        is the lane's own (its first word), at most as many as `value` has. Of a bundle: marks of its fields, by name

    Attributes
    ----------
    kind : "array", "number", "tuple" or "bundle"
    start : first word
    words : number of words
    dtype : of an array or a number
    shape : of an array
    mark : LAST, RAGGED or ""
    inner : of a bundle or tuple: the fields in it
    cls : of a bundle
    """

    def __init__(self, value: Any, start: int = 0, mark: Mark = "") -> None:
        self.start, self.mark = start, mark
        self.inner: tuple[Slot, ...] = ()
        self.shape: tuple[int, ...] = ()
        self.cls: Any = None
        self.dtype: Any = np.dtype(np.float64)
        if isinstance(value, tuple):
            self.mark = ""
            self.cls = type(value) if hasattr(value, "_fields") else None
            self.kind = "bundle" if self.cls else "tuple"
            self.inner = _laid(value, start, mark or {})
            self.words: int = sum(slot.words for slot in self.inner)
            return
        self.kind = "array" if isinstance(value, np.ndarray) else "number"
        self.dtype, self.shape = np.asarray(value).dtype, np.shape(value)
        if self.dtype.kind not in "if" or self.dtype.itemsize != WORD:
            raise TypeError(f"a lane holds numbers of {WORD} bytes, not {self.dtype}")
        rows = self.shape[1:] if mark == LAST else self.shape
        self.words = prod(rows) + (mark == RAGGED)

    @property
    def first(self) -> int:
        """First word of the numbers."""
        return self.start + (self.mark == RAGGED)


def _laid(value: tuple[Any, ...], start: int, marks: Any) -> tuple[Slot, ...]:
    """Fields of a tuple laid one after another."""
    names = getattr(value, "_fields", [""] * len(value))
    slots: list[Slot] = []
    for name, item in zip(names, value, strict=True):
        slots.append(Slot(item, start, marks.get(name, "")))
        start += slots[-1].words
    return tuple(slots)


def put(slot: Slot, value: Any, lane: NDArray[np.float64]) -> None:
    """Write a value into the words (words,) of a lane; of a LAST array nothing."""
    if slot.inner:
        for inner, item in zip(slot.inner, value, strict=True):
            put(inner, item, lane)
    elif slot.mark != LAST:
        words = np.ascontiguousarray(value, dtype=slot.dtype).reshape(-1).view(np.float64)
        lane[slot.first : slot.first + len(words)] = words
        if slot.mark == RAGGED:
            lane.view(np.int64)[slot.start] = len(value)


def get(slot: Slot, lane: NDArray[np.float64]) -> Any:
    """A value read back from the words (words,) of a lane: views of it."""
    if slot.kind == "bundle":
        return slot.cls._make(get(inner, lane) for inner in slot.inner)
    if slot.kind == "tuple":
        return tuple(get(inner, lane) for inner in slot.inner)
    words = lane[slot.first : slot.start + slot.words].view(slot.dtype)
    if slot.kind == "number":
        return words[0]
    if slot.mark == RAGGED:
        return words.reshape(slot.shape)[: lane.view(np.int64)[slot.start]]
    if slot.mark == LAST:
        row = words.reshape(slot.shape[1:])
        return as_strided(row, slot.shape, (0, *row.strides))
    return words.reshape(slot.shape)


def make_of(slot: Slot) -> str:
    """All that tells one make of fields from another, as one word."""
    return hashlib.sha256(_told(slot).encode()).hexdigest()[:24]


def _told(slot: Slot) -> str:
    if slot.inner:
        return f"{slot.cls.__name__ if slot.cls else ''}({', '.join(map(_told, slot.inner))})"
    return f"{slot.start} {slot.dtype.str} {slot.shape} {slot.mark}"
