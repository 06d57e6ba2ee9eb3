"""What stands on a GPU for the functions of `kernel/team.py` and what is better done by a warp: see there."""

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import cuda

from ..kernel import Kernel, inlined, team
from .lanes import TEAM

ALL = 0xFFFFFFFF  # lanes of a warp

STANDS_FOR: dict[Kernel, Callable[..., Any]] = {}
"""Function compiled for a GPU in place of a kernel."""

CALLED: set[Any] = set()
"""Kernels that callers take in whole on the CPU and call on a GPU, whose store of instructions is small."""


def stands_for(kernel: Any) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Compile the decorated function in place of a kernel, whose callers know nothing of it."""

    def register(function: Callable[..., Any]) -> Callable[..., Any]:
        STANDS_FOR[kernel] = function
        return function

    return register


@inlined
def lane() -> int:
    """Number of a thread in its team."""
    return 0


@stands_for(lane)
def _():  # type: ignore[no-untyped-def]
    return np.int64(cuda.laneid)


@stands_for(team.dealt)
def _(count):  # type: ignore[no-untyped-def]
    return range(lane(), count, TEAM)


@stands_for(team.stretch)
def _(count):  # type: ignore[no-untyped-def]
    size = (count + TEAM - 1) // TEAM
    return min(lane() * size, count), min(lane() * size + size, count)


@stands_for(team.turns)
def _():  # type: ignore[no-untyped-def]
    return range(2)


@stands_for(team.in_turn)
def _(turn, count):  # type: ignore[no-untyped-def]
    return range(2 * lane() + turn, count, 2 * TEAM)


@stands_for(team.rounds)
def _(count):  # type: ignore[no-untyped-def]
    return range(lane(), (count + TEAM - 1) // TEAM * TEAM, TEAM)


@stands_for(team.apart)
def _(parts):  # type: ignore[no-untyped-def]
    return parts > 1


@stands_for(team.together)
def _():  # type: ignore[no-untyped-def]
    cuda.syncwarp()


@stands_for(team.once)
def _(value):  # type: ignore[no-untyped-def]
    return value if lane() == 0 else 0.0


@stands_for(team.total)
def _(value):  # type: ignore[no-untyped-def]
    for k in (16, 8, 4, 2, 1):
        value += cuda.shfl_xor_sync(ALL, value, k)
    return value


@stands_for(team.greatest)
def _(value):  # type: ignore[no-untyped-def]
    for k in (16, 8, 4, 2, 1):
        other = cuda.shfl_xor_sync(ALL, value, k)
        if other > value or other != other:
            value = other
    return value


@stands_for(team.anyone)
def _(value):  # type: ignore[no-untyped-def]
    return cuda.any_sync(ALL, value) != 0
