"""Work that a team of threads shares. On the CPU a team is one thread, on a GPU the 32 threads of a warp.

All threads of a team run the same kernel on the same insertion and hold the same numbers, but in loops over what is
`dealt` out: there each thread has its own share of the steps, in ascending order, writes only what no other one of them
reads or writes, and its sums and extremes are put together behind the loop. `together` stands between such a loop and
what reads or changes the same entries. On the CPU all of this is nothing: loops run in order, sums are as they stand.
What stands for these functions on a GPU: `gpu/team.py`.
"""

from typing import TypeVar

from . import inlined

N = TypeVar("N", int, float)


@inlined
def dealt(count: int) -> range:
    """Steps of 0 .. count - 1 that are this thread's."""
    return range(count)


@inlined
def stretch(count: int) -> tuple[int, int]:
    """Steps of 0 .. count - 1 that are this thread's, as one stretch: the first one and the one behind the last."""
    return 0, count


@inlined
def turns() -> range:
    """Turns of a loop whose neighbouring steps add to the same numbers, see `in_turn`."""
    return range(1)


@inlined
def in_turn(turn: int, count: int) -> range:
    """Steps of 0 .. count - 1 that come in this turn and are this thread's: no two neighbours in one turn."""
    return range(count)


@inlined
def rounds(count: int) -> range:
    """Steps of 0 .. count - 1 that are this thread's, as many for every thread: numbers from `count` on stand for
    nothing, but the thread takes part in sums."""
    return range(count)


@inlined
def apart(parts: int) -> bool:
    """Whether a step of so many parts is too long for one thread: its parts are dealt out, behind the others."""
    return False


@inlined
def together() -> None:
    """Wait for the team."""


@inlined
def once(value: N) -> N:
    """What a sum starts from, for one thread; nothing for the others."""
    return value


@inlined
def total(value: N) -> N:
    """Sum of the threads' values."""
    return value


@inlined
def greatest(value: N) -> N:
    """The largest of the threads' values; nan where one of them is."""
    return value


@inlined
def anyone(value: bool) -> bool:
    """Whether the value is true for any thread."""
    return value
