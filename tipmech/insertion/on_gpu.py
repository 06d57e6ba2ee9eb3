"""Insertions as a program of a GPU: a block of 32 threads, a team, for each. Needs the extra `gpu`, but no GPU."""

from typing import Any, NamedTuple

import numpy as np
from numba import cuda

from ..gpu.device import Gpu
from ..gpu.kinds import lane_reader, program
from ..gpu.lanes import TEAM, WORD, Slot
from ..gpu.store import kept
from ..gpu.team import CALLED
from ..kernel import bundle
from ..rod import on_gpu as band_on_gpu  # noqa: F401  (what stands there for the band's kernels)
from .lane import carry_lane
from .piece import pressed_walls
from .points import Array, IntArray, point

REGISTERS = 128  # of a thread: as fast from 128 to 255 (docs/gpu.md)
ENTRY = "insertions"

CALLED.update((pressed_walls, point))


@bundle
class Words(NamedTuple):
    """Words of a lane."""

    of: Array


@bundle
class Places(NamedTuple):
    """Whole numbers."""

    of: IntArray


def insertions_program(slot: Slot) -> str:
    """Program (PTX) whose entry carries out insertions, a block each.

    Its arguments are addresses: of the lanes' memory, one lane after another and all zero; of the places and the
    values of words that all lanes begin with, and how many these are; of where, in the two that follow, each lane's own
    words begin (one more than there are lanes); of their places and values.
    """
    read = lane_reader(slot)
    words, places = lane_reader(Slot(Words(np.zeros(1)))), lane_reader(Slot(Places(np.zeros(1, dtype=np.int64))))
    size = slot.words

    def lanes(address: int, common_at: int, common: int, count: int, starts: int, own_at: int, own: int) -> None:
        k: Any = cuda.blockIdx.x
        lane, image, start = read(address, k), words(address + k * size * WORD, 0).of, places(starts, 0).of
        at, value = places(common_at, 0).of, words(common, 0).of
        for i in range(cuda.threadIdx.x, count, TEAM):
            image[at[i]] = value[i]
        cuda.syncwarp()
        at, value = places(own_at, 0).of, words(own, 0).of
        for i in range(start[k] + cuda.threadIdx.x, start[k + 1], TEAM):
            image[at[i]] = value[i]
        cuda.syncwarp()
        carry_lane(lane)

    return program(lanes, 7, ENTRY)


def load(gpu: Gpu, slot: Slot) -> Any:
    """The program for lanes of a make, ready on a GPU: from the disk where it is kept there, else made (minutes)."""
    code = kept(slot, carry_lane.digest.value, gpu, REGISTERS, lambda: insertions_program(slot))
    return gpu.program(code, ENTRY)
