"""Numbers as the text of SVG paths, and what a drawing is made of."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Paint = dict[str, dict[str, Any]]
"""Name of a shape -> attributes that change (`d` of a path, `text` of a text)."""


class Shape(NamedTuple):
    """A shape of a drawing: its name, the SVG element, what does not change of its attributes."""

    name: str
    tag: str
    look: dict[str, Any]


def line(x: Array, y: Array, digits: int = 3) -> str:
    """Path through points; empty with fewer than two. nan breaks it."""
    here = np.isfinite(x) & np.isfinite(y)
    if here.sum() < 2:
        return ""
    text, start = [], True
    for a, b, there in zip(x.round(digits).tolist(), y.round(digits).tolist(), here.tolist(), strict=True):
        if there:
            text.append(f"{'M' if start else 'L'}{a:g} {b:g}")
        start = not there
    return "".join(text)


def region(x: Array, low: Array, high: Array) -> str:
    """Closed path between two curves over x; empty with fewer than two points."""
    if len(x) < 2:
        return ""
    return line(np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]])) + "Z"


def box(x: tuple[float, float], y: tuple[float, float]) -> str:
    """Closed path round a rectangle."""
    return line(np.array([x[0], x[1], x[1], x[0]]), np.array([y[0], y[0], y[1], y[1]])) + "Z"


def segments(x: Array, y: Array, chosen: NDArray[np.bool_]) -> str:
    """Path of the chosen ones of the segments i -> i + 1, joined where they follow each other."""
    text, joined = [], -1
    xs, ys = x.round(3).tolist(), y.round(3).tolist()
    for i in np.flatnonzero(chosen).tolist():
        if joined != i:
            text.append(f"M{xs[i]:g} {ys[i]:g}")
        text.append(f"L{xs[i + 1]:g} {ys[i + 1]:g}")
        joined = i + 1
    return "".join(text)


def changed(now: Paint, before: Paint) -> Paint:
    """What of `now` differs from `before`, shape by shape."""
    return {name: values for name, values in now.items() if before.get(name) != values}
