"""Bundles: named tuples of arrays that kernels read from their place in memory."""

import gc
import sys
from collections import namedtuple
from typing import Any, NamedTuple

import numpy as np
import pytest
from numba import njit
from numba.core.errors import TypingError
from numpy.typing import NDArray

from tipmech.kernel import bundle, inlined, kernel

Array = NDArray[np.float64]


class Pair(NamedTuple):
    left: Array
    right: Array


@bundle
class Spring(NamedTuple):
    stiffness: Array
    both: Pair
    scale: float
    turns: int
    wanted: bool


@bundle
class System(NamedTuple):
    spring: Spring
    out: Array
    matrix: Array


@inlined
def force(s: Spring, i: int) -> float:
    return float(s.stiffness[i] * (s.both.right[i] - s.both.left[i]) * s.scale)


@kernel
def fill(m: System) -> int:
    """Through a pointer to a bundle within, with writes between reads."""
    for i in range(m.out.shape[0]):
        m.out[i] = force(m.spring, i)
        m.spring.stiffness[i] *= 2.0
        m.out[i] += force(m.spring, i)
        for k in range(m.matrix.shape[1]):
            m.matrix[i, k] += m.out[i]
    return m.spring.turns if m.spring.wanted else -1


def _counted(m: System) -> float:
    """In code that counts references."""
    last, total = m.out, 0.0
    for i in range(m.out.shape[0]):
        last = m.spring.both.left
        total += last[i]
    return total


counted: Any = njit(_counted)


def made(n: int, wanted: bool = True) -> System:
    spring = Spring(np.arange(1.0, n + 1.0), Pair(np.zeros(n), np.linspace(0.0, 1.0, n)), 0.5, 7, wanted)
    return System(spring, np.zeros(n), np.zeros((n, 3)))


def test_kernels_read_and_write_what_a_bundle_holds() -> None:
    m = made(5)
    assert fill(m) == 7 and fill(made(5, wanted=False)) == -1
    expected = 1.5 * np.arange(1.0, 6.0) * np.linspace(0.0, 1.0, 5)
    np.testing.assert_allclose(m.out, expected)
    np.testing.assert_allclose(m.matrix, expected[:, None] * np.ones(3))
    np.testing.assert_allclose(m.spring.stiffness, 2.0 * np.arange(1.0, 6.0))


def test_the_same_as_plain_python() -> None:
    a, b = made(4), made(4)
    assert fill(a) == fill.py_func(b)  # type: ignore[attr-defined]
    np.testing.assert_array_equal(a.out, b.out)


def test_references_are_counted_where_they_are_counted_at_all() -> None:
    """Neither a kernel nor counting code keeps an array alive, or lets go of one that it does not own."""
    m = made(6)
    kept = (m.out, m.spring.stiffness, m.spring.both.left)
    before = [sys.getrefcount(a) for a in kept]
    for _ in range(50):
        fill(m)
        counted(m)
    gc.collect()
    assert [sys.getrefcount(a) for a in kept] == before


def test_a_field_of_the_wrong_type_is_another_version_not_a_misread() -> None:
    m = made(3)
    other = m._replace(out=np.zeros(3, dtype=np.float32))
    fill(other)
    assert other.out.dtype == np.float32
    np.testing.assert_allclose(other.out, 1.5 * np.arange(1.0, 4.0) * np.linspace(0.0, 1.0, 3))


def test_classes_that_differ_in_the_fields_of_a_plain_tuple_within_share_no_code() -> None:
    def outer(names: str) -> type:
        inner = namedtuple("inner", names)
        cls = namedtuple("outer", "inner scale")
        made_of = bundle(cls)
        return lambda a, b: made_of(inner(**{"a": a, "b": b}), 2.0)  # type: ignore[return-value]

    @kernel
    def difference(o: Any) -> float:
        return float(o.scale * (o.inner.a - o.inner.b))

    one, other = outer("a b"), outer("b a")
    assert difference(one(5.0, 2.0)) == difference(other(5.0, 2.0)) == 6.0


def test_what_cannot_be_in_a_kernel_is_refused() -> None:
    with pytest.raises((TypeError, TypingError)):
        fill(made(3)._replace(out="nothing"))  # type: ignore[arg-type]
